"""What bears on one requirement alone: the age at which its limits apply, and whether a loop area can be compared at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from rheokit.base.errors import printable
from rheokit.base.finding import Finding
from rheokit.base.run import Batch
from rheokit.characteristics import Measured
from rheokit.reading.preamble import moment
from rheokit.release.instrument_torque import torque_findings
from rheokit.release.measured import age_on, measured_at
from rheokit.release.span import Span
from rheokit.release.specification import Requirement, Specification

__all__ = ["requirement_findings"]


def requirement_findings(
    batch: Batch,
    specification: Specification,
    line: Requirement,
    loads: Sequence[Measured],
    run_findings: Mapping[str, tuple[Finding, ...]],
) -> tuple[Finding, ...]:
    """Return the findings that bear on one requirement and no other.

    A torque near the least that the instrument resolves is a caution, or invalid. An age outside the span at which the limits apply, or
    that is not known, is invalid: the limits say nothing about such a batch. A loop area whose history is not wholly stated and shown is
    a caution.
    """
    by_torque = torque_findings(batch, specification.instrument, line, loads)
    found = [*_age(batch, line, loads), *_comparable(specification, line, loads, run_findings), *by_torque]
    return tuple(finding.at(line.id) for finding in found)


def _age(batch: Batch, line: Requirement, loads: Sequence[Measured]) -> tuple[Finding, ...]:
    if line.age is None or not loads:
        return ()
    made = batch.metadata.get("made", "")
    if not made:
        return (
            _invalid("age", f"the limits apply at an age of {line.age.text}; batch.toml does not say when the batch was made: add 'made'"),
        )
    reasons = (_age_reason(made, line.age, load, _moment_of(batch, load)) for load in loads)
    return tuple(_invalid("age", reason) for reason in dict.fromkeys(reasons) if reason)


def _moment_of(batch: Batch, load: Measured) -> datetime | None:
    if load.run == "entered":
        return moment(str(load.estimate.conditions["time"].value)) if load.estimate else None
    run = next((run for run in batch.all_runs if run.name == load.run), None)
    return None if run is None else measured_at(run)


def _age_reason(made: str, wanted: Span, load: Measured, when: datetime | None) -> str:
    """Return why a load was not measured at the age asked for, or nothing."""
    applies = f"the limits apply at an age of {wanted.text}"
    if when is None:
        return f"{applies}; {printable(load.run)} does not say when it was measured (with its time zone): export 'Measured'"
    age = age_on(made, when)
    if age is None:
        return f"{applies}; {printable(made)!r} in batch.toml is no day on which the batch was made: write for example made = 2026-09-14"
    if age.in_whole_days and not wanted.in_whole_days:
        return f"{applies}; batch.toml gives only the day on which the batch was made: write made with the time and its zone"
    if age.seconds < 0.0:
        return f"{applies}; {printable(load.run)} was measured before the batch was made: mend the one or the other"
    return "" if wanted.holds(age.seconds) else f"{applies}; {printable(load.run)} was measured at {age}: measure at the right age"


def _comparable(
    specification: Specification, line: Requirement, loads: Sequence[Measured], run_findings: Mapping[str, tuple[Finding, ...]]
) -> tuple[Finding, ...]:
    """Say what keeps a loop area from being compared with another: ramp or rest not stated, or a part of the method not shown."""
    if line.characteristic.needs != "loop":
        return ()
    method = specification.methods.get(line.test)
    unstated = [name for name in ("ramp", "rest") if method is None or getattr(method, name) is None]
    seen = (finding for load in loads for finding in run_findings.get(load.run, ()) if finding.check.startswith("method_"))
    unshown = dict.fromkeys(finding.check.removeprefix("method_").replace("_", " ") for finding in seen if finding.severity != "info")
    if not unstated and not unshown:
        return ()
    why = [f"the method block states no {' and no '.join(unstated)}"] if unstated else []
    why += [f"the runs do not show that the method was followed ({', '.join(unshown)})"] if unshown else []
    reason = f"the loop area is not comparable with any other: {', and '.join(why)}; it depends on ramp, rest and all of the history"
    return (Finding(check="loop_area_comparable", severity="caution", reason=reason),)


def _invalid(check: str, reason: str) -> Finding:
    return Finding(check=check, severity="invalid", reason=reason)
