"""The check oil: whether the instrument read a known oil rightly, and lately enough, to believe anything else it says."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.run import Batch, Run
from rheokit.base.show import number
from rheokit.reading.preamble import moment
from rheokit.release.measured import judged_runs, measured_at
from rheokit.release.span import DAY
from rheokit.release.specification import CheckOilRule

__all__ = ["CHECK_OIL", "check_oil_findings"]

CHECK_OIL = "check_oil_viscosity"
"""Name under which the reading is entered in results.csv."""


def check_oil_findings(batch: Batch, rule: CheckOilRule | None) -> tuple[Finding, ...]:
    """Return an invalid finding for each way in which the check oil does not stand for the runs; an info when it stands.

    Every run of the batch is judged by the last reading at or before it: that reading must be within the tolerance, no older than
    `valid_for` when the run was made, and made with an oil whose certificate had not expired on the day of the run.
    """
    if rule is None:
        return ()
    readings = sorted((result for result in batch.entered if result.name == CHECK_OIL), key=_taken)
    if not readings:
        if any(finding.check == "unreadable_results" for finding in batch.findings):
            return (_invalid("the check-oil reading cannot be read, since results.csv cannot; mend that file"),)
        return (_invalid(f"no check-oil reading is entered; measure the oil and write a row {CHECK_OIL} in results.csv"),)
    reasons = [reason for run in judged_runs(batch) if (reason := _reason(run, readings, rule))]
    if reasons:
        return tuple(_invalid(reason) for reason in dict.fromkeys(reasons))
    latest = readings[-1].value
    reason = f"the check oil reads {number(latest)} Pa·s (certified {number(rule.certified)} Pa·s)"
    return (
        Finding(check="check_oil", severity="info", reason=reason, value=latest, limit=rule.certified, unit="Pa·s", source="results.csv"),
    )


def _invalid(reason: str) -> Finding:
    return Finding(check="check_oil", severity="invalid", reason=reason, source="results.csv")


def _taken(reading: Estimate) -> datetime:
    taken = moment(str(reading.conditions["time"].value))
    assert taken is not None  # a result is entered with its time and zone, or refused while reading
    return taken


def _reason(run: Run, readings: Sequence[Estimate], rule: CheckOilRule) -> str:
    """Return why the check oil does not stand for a run, or nothing."""
    measured = measured_at(run)
    if measured is None:
        return "an export does not say when it was measured (with its time zone), so the check oil's age is not known; export 'Measured'"
    before = [reading for reading in readings if _taken(reading) <= measured]
    if not before:
        return f"no check-oil reading was taken before the run of {measured.isoformat(timespec='minutes')}; read the oil first"
    reading = before[-1]
    if not abs(reading.value - rule.certified) <= rule.tolerance:
        return (
            f"the check oil reads {number(reading.value)} Pa·s, more than {number(rule.tolerance, 3)} Pa·s from the certified "
            f"{number(rule.certified)} Pa·s; no number of this instrument counts until it reads right"
        )
    age, allowed = (measured - _taken(reading)).total_seconds() / DAY, rule.valid_for / DAY
    if age > allowed:
        return f"the check oil was last read {number(age, 3)} days before a run; the specification allows {number(allowed, 3)}"
    if rule.expires is not None and measured.date() > rule.expires:
        return f"the check oil's certificate expired on {rule.expires.isoformat()}; use a fresh oil"
    return ""
