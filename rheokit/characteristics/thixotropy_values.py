"""Characteristics of the hysteresis loop."""

from __future__ import annotations

from rheokit.base.estimate import Estimate
from rheokit.base.run import Run, Step
from rheokit.characteristics.characteristic import At, Characteristic
from rheokit.thixotropy.loop import loop_of_run

__all__ = ["LOOP_AREA"]


def loop_area(run: Run, _step: Step | None, _at: At) -> Estimate:
    """Return the area [Pa/s] between the up and the down leg of a run."""
    return loop_of_run(run).area


LOOP_AREA = Characteristic(
    name="loop_area",
    quantity="loop_area",
    meaning="area between up and down leg; comparable only at the same ramp and rest",
    needs="loop",
    scales="area",
    measure=loop_area,
)
