"""Characteristics of a hold at one shear rate: what breaks down, and how fast."""

from __future__ import annotations

from rheokit.base.estimate import Estimate
from rheokit.base.run import Run, Step
from rheokit.characteristics.characteristic import At, Characteristic
from rheokit.thixotropy.hold import hold_breakdown

__all__ = ["HOLD_RELATIVE_DROP", "WELTMANN_COEFFICIENT"]


def hold_relative_drop(_run: Run, step: Step | None, _at: At) -> Estimate:
    """Return the part of the viscosity [1] lost from the first to the last point of a hold."""
    assert step is not None
    return hold_breakdown(step).relative_drop


def weltmann_coefficient(_run: Run, step: Step | None, _at: At) -> Estimate:
    """Return the fall of the stress [Pa] for each e-fold of the time of a hold."""
    assert step is not None
    return hold_breakdown(step).weltmann_coefficient


HOLD_RELATIVE_DROP = Characteristic(
    name="hold_relative_drop",
    quantity="hold_relative_drop",
    meaning="(η1 - η2)/η1 from the first to the last point of a hold; comparable only at the same rate, time and ramp before",
    needs="step",
    scales="ratio",
    measure=hold_relative_drop,
)
WELTMANN_COEFFICIENT = Characteristic(
    name="weltmann_coefficient",
    quantity="weltmann_coefficient",
    meaning="fall of the stress of a hold for each e-fold of time; not determined where another law describes the hold better",
    needs="step",
    scales="stress at a held rate",
    measure=weltmann_coefficient,
)
