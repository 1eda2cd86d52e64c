"""How far the torque of a number stood above the least that the instrument resolves: the screening looks at the points of a step alike."""

from __future__ import annotations

from collections.abc import Sequence

from rheokit.base.finding import Finding, Severity
from rheokit.base.run import Batch
from rheokit.base.show import number
from rheokit.characteristics import Measured
from rheokit.release.instrument import Instrument
from rheokit.release.instrument_findings import geometry_of_run
from rheokit.release.specification import Requirement

__all__ = ["torque_findings"]

GOOD, LEAST = 10.0, 3.0
"""Torque over the torque floor: below GOOD a caution, below LEAST no measurement (common practice, no source)."""


def torque_findings(batch: Batch, instrument: Instrument | None, line: Requirement, loads: Sequence[Measured]) -> tuple[Finding, ...]:
    """Return a finding for the load whose torque lay nearest to the torque floor, where that is too near.

    Looked at is the torque of the number itself: of a stress, or of a viscosity at its rate.
    """
    if instrument is None or not line.characteristic.scales.startswith("stress"):
        return ()
    runs = {run.name: run for run in batch.all_runs}
    ratios = {}
    for load in loads:
        if load.estimate is None or load.run not in runs:
            continue
        seen = geometry_of_run(runs[load.run])
        geometry = seen if seen is not None and seen.name == instrument.geometry.name else instrument.geometry
        ratios[load.run] = geometry.torque(_stress(line, load.estimate.value)) / instrument.torque_floor
    if not ratios:
        return ()
    run, ratio = min(ratios.items(), key=lambda one: one[1])
    if ratio >= GOOD:
        return ()
    severity: Severity = "caution" if ratio >= LEAST else "invalid"
    reason = (
        f"the torque in {run} was {number(ratio, 2)} times what {instrument.name} says the instrument resolves; from {GOOD:g} times it is "
        f"good, below {LEAST:g} times nothing is measured (common practice, no source): use a larger measuring body"
    )
    return (Finding(check="torque_of_number", severity=severity, reason=reason, value=ratio, limit=GOOD, unit="1"),)


def _stress(line: Requirement, value: float) -> float:
    """Return the stress [Pa] of a number that is one, or a viscosity at its rate."""
    rate = line.at.get("shear_rate")
    return value * rate if line.characteristic.quantity == "viscosity" and isinstance(rate, float) else value
