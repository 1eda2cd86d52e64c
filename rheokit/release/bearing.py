"""Which findings bear on which runs: what makes the numbers of a run no measurement."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import printable
from rheokit.base.finding import Finding
from rheokit.base.run import Batch, Run
from rheokit.reading.preamble import entry
from rheokit.release.deviations import deviations
from rheokit.release.instrument import Instrument
from rheokit.release.instrument_findings import run_instrument_findings
from rheokit.release.measured import judged_runs, measured_at
from rheokit.release.specification import Specification
from rheokit.screening import Known, gap_findings, screen

__all__ = ["findings_by_run", "product_findings", "revision_findings"]


def findings_by_run(
    batch: Batch, specification: Specification, corrections: Mapping[str, tuple[Finding, ...]] | None = None
) -> Mapping[str, tuple[Finding, ...]]:
    """Return, for each run, what screening, the method block, the instrument file and the reading of the folder say of it.

    `corrections` holds what was said of a run while its stress was corrected.
    """
    found = {}
    instrument = specification.instrument
    limits = specification.screening
    known = _known(instrument) if instrument else None
    whole = tuple(finding for finding in batch.findings if finding.check == "batch_name" and finding.severity == "invalid")
    for test, loads in batch.runs.items():
        method = specification.methods.get(test)
        copied = _copied(loads)
        gaps = gap_findings(loads, limits=limits)
        for run in loads:
            place = batch.places.get(run.name)
            said = tuple(finding for finding in batch.findings if finding.source == run.name)
            by_method = deviations(run, method, place.set_temperature if place else None) if method else ()
            by_instrument = run_instrument_findings(run, instrument) if instrument else ()
            screened = (*screen(run, limits=limits, known=known), *(finding for finding in gaps if finding.source == run.name))
            by_correction = (corrections or {}).get(run.name, ())
            found[run.name] = (*whole, *said, *copied.get(run.name, ()), *screened, *by_method, *by_instrument, *by_correction)
    return found


def _known(instrument: Instrument) -> Known:
    """Return what the screening may know of an instrument where an export does not say it."""
    return Known(geometry=instrument.geometry, least_torque=instrument.torque_floor, inertia=instrument.moment_of_inertia)


_ANSWERS = ("shear_strain", "creep_compliance", "shear_rate")
"""What a sample answers with where the stress is set: two loads on one programme hold the same stresses as they should."""


def _copied(loads: Sequence[Run]) -> dict[str, tuple[Finding, ...]]:
    """Return an invalid finding for each load that holds the measured numbers of another to the last digit: one load counted twice."""
    found: dict[str, tuple[Finding, ...]] = {}
    for index, run in enumerate(loads):
        for other in loads[:index]:
            if _same_numbers(run, other):
                reason = (
                    f"{run.name!r} and {other.name!r} hold the same measured numbers: one load counted twice; "
                    "take one away and measure another"
                )
                finding = Finding(check="copied_load", severity="invalid", reason=reason, source=run.name)
                found[run.name] = found[other.name] = (finding,)
    return found


def _same_numbers(one: Run, other: Run) -> bool:
    mine, theirs = _answers(one), _answers(other)
    return mine.size > 0 and np.array_equal(mine, theirs, equal_nan=True)


def _answers(run: Run) -> FloatArray:
    """Return what was measured and not set: the stresses, where the stress is set the first of strain, compliance and rate."""
    columns = []
    for step in run.steps:
        names = _ANSWERS if step.controlled == "stress" else ("shear_stress",)
        columns += [step.columns[name] for name in names if name in step.columns][:1]
    return np.concatenate(columns) if columns else np.empty(0)


def product_findings(batch: Batch, product: str) -> tuple[Finding, ...]:
    """Return an invalid finding when anything names another product than the specification's, a caution when nothing names one."""
    said = {"the batch": batch.metadata.get("product")} | {run.name: entry(run.metadata, "Product") for run in judged_runs(batch)}
    named = {where: words for where, words in said.items() if words}
    if not named:
        reason = f"nothing says which product the batch is; it is judged as {printable(product)!r}"
        return (Finding(check="product", severity="caution", reason=reason, source=batch.name),)
    wrong = next(((where, words) for where, words in named.items() if words.strip() != product.strip()), None)
    if wrong is None:
        return ()
    reason = (
        f"{printable(wrong[0])} is {printable(wrong[1])!r}, the specification is for {printable(product)!r}; use the right specification"
    )
    return (Finding(check="product", severity="invalid", reason=reason, source=batch.name),)


def revision_findings(batch: Batch, specification: Specification) -> tuple[Finding, ...]:
    """Return a caution when the batch was measured before the revision was in force, or nothing says when it was measured."""
    effective = specification.effective
    if effective is None:
        return ()
    moments = [moment for run in judged_runs(batch) if (moment := measured_at(run)) is not None]
    known = f"revision {printable(specification.revision)} of the specification is effective from {effective.isoformat()}"
    if not moments:
        reason = f"{known}; the exports do not say when the batch was measured: confirm by hand that it is the revision to judge by"
    elif min(moments).date() >= effective:
        return ()
    else:
        before = f"revision {printable(specification.supersedes)}" if specification.supersedes else "another revision"
        reason = (
            f"{known}, but the batch was measured on {min(moments).date().isoformat()}, when {before} was in force: choose which applies"
        )
    return (Finding(check="revision", severity="caution", reason=reason, source=batch.name),)
