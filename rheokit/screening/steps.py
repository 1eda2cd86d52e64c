"""Steps and stretches of steps as the checks look at them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.run import Run, Step, StepKind

__all__ = [
    "FLOWING", "SHEARED",
    "SWEEPS", "clock", "flowing", "held_stretches", "last_third", "line_through", "neighbour_residuals", "noise_of",
    "sheared", "steadily_held",
]  # fmt: skip

FLOWING: tuple[StepKind, ...] = ("up", "down", "hold", "shear", "recovery", "startup", "steady", "stress_ramp", "creep", "temperature_ramp")
"""Kinds of step in which the sample is sheared."""
SHEARED: tuple[StepKind, ...] = (*FLOWING, "amplitude_sweep", "frequency_sweep", "creep_recovery")
"""Kinds of step in which anything but rest is measured."""
SWEEPS: tuple[StepKind, ...] = ("up", "down", "steady")
"""Kinds of step that pass through a range of shear rates."""

SAME_RATE = 0.02
"""Relative: rates this near to each other were meant to be one rate."""


def flowing(run: Run, *kinds: StepKind) -> list[Step]:
    """Return the steps with both a rate and a stress in which the sample is sheared, of some kinds or all but the rests."""
    wanted = set(kinds or SHEARED)
    return [step for step in run.steps if step.kind in wanted and {"shear_rate", "shear_stress"} <= set(step.columns) and len(step)]


def last_third(values: FloatArray) -> float:
    """Return the median of the last third of some values."""
    return float(np.nanmedian(values[-max(1, values.size // 3) :]))


def sheared(step: Step) -> tuple[FloatArray, FloatArray]:
    """Return rates [1/s] and stresses [Pa] of the points where both are positive numbers."""
    rate, stress = step.shear_rate, step.shear_stress
    usable = np.isfinite(rate) & np.isfinite(stress) & (rate > 0.0) & (stress > 0.0)
    return rate[usable], stress[usable]


def clock(step: Step) -> FloatArray | None:
    """Return the times since the step began [s], or those of the run where that is all there is, None without any that rise."""
    for name in ("step_time", "time"):
        values = step.columns.get(name)
        if values is not None and values.size > 1 and np.all(np.diff(values) > 0.0):
            return values
    return None


def steadily_held(step: Step) -> bool:
    """Tell whether the whole step is at one shear rate."""
    rates = step.shear_rate[np.isfinite(step.shear_rate)]
    middle = float(np.median(rates)) if rates.size else 0.0
    return middle > 0.0 and bool(np.all(np.abs(rates - middle) <= SAME_RATE * middle))


def held_stretches(step: Step) -> list[slice]:
    """Return the stretches of a step at one shear rate each, in order; a single point is a stretch."""
    rate = step.shear_rate
    with np.errstate(divide="ignore", invalid="ignore"):
        jumps = np.flatnonzero(~(np.abs(np.diff(rate)) <= SAME_RATE * np.abs(rate[:-1]))) + 1
    return [slice(first, end) for first, end in pairwise([0, *(int(jump) for jump in jumps), rate.size])]


def line_through(x: FloatArray, y: FloatArray) -> tuple[float, float] | None:
    """Return the slope of the least-squares line and its standard error, None for fewer than four points or points at one place."""
    away = x - x.mean() if x.size else x
    spread = float(away @ away)
    if x.size < 4 or not spread > 0.0:
        return None
    slope = float(away @ y) / spread
    left = y - y.mean() - slope * away
    return slope, float(np.sqrt(left @ left / (x.size - 2) / spread))


def neighbour_residuals(values: FloatArray) -> FloatArray:
    """Return how far each point, but for two at either end, lies from the cubic through two neighbours on either side.

    The points are taken as even, as an export records them. Independent noise of standard deviation s leaves residuals of s √(70)/6.
    """
    if values.size < 5:
        return np.empty(0)
    return np.asarray(values[2:-2] - (4.0 * (values[1:-3] + values[3:-1]) - values[:-4] - values[4:]) / 6.0, dtype=np.float64)


_GAIN = float(np.sqrt(70.0) / 6.0)
_NORMAL_QUARTILE = 0.6744897501960817
"""Median size of a standard normal number."""


def noise_of(values: FloatArray) -> float:
    """Return the standard deviation of single points of a smooth course, from the median size of `neighbour_residuals`: 0 for few."""
    left = neighbour_residuals(values)
    return float(np.median(np.abs(left))) / (_NORMAL_QUARTILE * _GAIN) if left.size >= 3 else 0.0
