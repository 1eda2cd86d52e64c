"""What stands beside a batch in its record: its retained standard, measured in the same session, and the readings of the check oil."""

from __future__ import annotations

from typing import Any

from rheokit.base.errors import RheokitError
from rheokit.base.estimate import Estimate
from rheokit.base.run import Batch
from rheokit.characteristics import Measured, combine_measured, measure
from rheokit.release.check_oil import CHECK_OIL
from rheokit.release.instrument import Instrument
from rheokit.release.oil_reading import oil_readings
from rheokit.release.record import pure
from rheokit.release.specification import CheckOilRule, Requirement, Specification

__all__ = ["StandardMeasured", "check_oil_document", "measured_on_standard"]

StandardMeasured = tuple[Estimate | None, tuple[Measured, ...]]
"""The Estimate of the standard (None where its loads give none), and its loads."""


def measured_on_standard(batch: Batch, specification: Specification) -> dict[str, StandardMeasured]:
    """Return what each requirement's characteristic is on the retained standard, by the requirement's id; it is compared, never judged."""
    found = {}
    for line in specification.requirements:
        if line.characteristic.needs == "entered":
            continue
        loads = measure(batch, line.characteristic, test=line.test, step=line.step, at=line.at, role="reference")
        if loads:
            found[line.id] = _combined(line, loads), loads
    return found


def _combined(line: Requirement, loads: tuple[Measured, ...]) -> Estimate | None:
    try:
        return combine_measured(loads, line.repeatability, line.parts)
    except RheokitError:
        return None  # its loads are not comparable; each stands in the record with what it gave


def check_oil_document(batch: Batch, rule: CheckOilRule | None, instrument: Instrument | None) -> list[dict[str, Any]]:
    """Return the readings of the check oil over what is certified, as JSON; readings that nothing can be held against are left out."""
    if instrument is not None and instrument.check_oils:
        judged = oil_readings(batch.entered, instrument)
        return [
            _reading(one.oil, one.time.isoformat(), one.ratio, one.relative_error, one.tolerance) for one in judged if one.ratio is not None
        ]
    if rule is None:
        return []
    relative = rule.tolerance / rule.certified
    return [
        _reading(
            "",
            str(result.conditions["time"].value),
            result.value / rule.certified,
            None if result.standard_error is None else result.standard_error / rule.certified,
            relative,
        )
        for result in batch.entered
        if result.name == CHECK_OIL
    ]


def _reading(oil: str, time: str, ratio: float, error: float | None, tolerance: float | None) -> dict[str, Any]:
    return {"oil": oil, "time": time, "ratio": ratio, "relative_error": pure(error), "tolerance": pure(tolerance)}
