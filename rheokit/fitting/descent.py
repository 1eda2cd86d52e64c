"""Damped Gauss-Newton descent inside a box (Levenberg-Marquardt), with exact derivatives and columns scaled to unit length.

Source of the method: Levenberg (1944), Marquardt (1963); steps by orthogonal decomposition as in Moré (1978) (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.slope import LEAST_DAMPING, ROUNDING, STATIONARY, Slope, Values

__all__ = ["Descent", "Evaluate", "descend"]

Evaluate = Callable[[FloatArray], Values]
"""A point (p,) to its weighted residuals, their derivatives and what is minimised."""

_FIRST_DAMPING, _MOST_DAMPING = 1e-4, 1e10
# What a stalled descent may still have promised, relative to the sum of squares, and count as arrived.
_NEGLIGIBLE = 1e-12


@dataclass(frozen=True, kw_only=True, eq=False)
class Descent:
    """Where a descent ended: the slope at its point, and whether it arrived."""

    slope: Slope
    converged: bool
    steps: int

    @property
    def point(self) -> FloatArray:
        """The point, (p,)."""
        return self.slope.point

    @property
    def cost(self) -> float:
        """What was minimised."""
        return self.slope.cost


def descend(
    evaluate: Evaluate,
    start: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    *,
    size: float,
    limit: int = 200,
    stationary: float = STATIONARY,
) -> Descent:
    """Return the minimum that lies downhill of a start.

    Parameters
    ----------
    evaluate
        What holds at a point; a trial point where it is not finite is refused and a shorter step is tried.
    start, lower, upper
        Shape (p,); the start is moved into the box.
    size
        Sum of squares of the weighted data, which tells what is rounding in the residuals.
    limit
        Most steps to take.
    stationary
        Offset at which a point counts as stationary.
    """
    point = np.clip(start, lower, upper)
    slope = Slope(point, evaluate(point), lower, upper)
    damping = _FIRST_DAMPING
    for steps in range(limit):
        if slope.is_flat(size, stationary):
            return Descent(slope=slope, converged=True, steps=steps)
        while True:
            step, promised = slope.step(damping)
            trial = np.clip(slope.point + step, lower, upper)
            new = Slope(trial, evaluate(trial), lower, upper)
            if _is_better(new, slope, size):
                break
            damping = max(damping * 10.0, 1e-6)
            if damping > _MOST_DAMPING:
                return Descent(slope=slope, converged=_has_stalled_at_the_floor(slope, size), steps=steps)
        damping = max(damping * (0.02 if slope.cost - new.cost > 0.5 * promised else 0.5), LEAST_DAMPING)
        slope = new
    return Descent(slope=slope, converged=slope.is_flat(size, stationary), steps=limit)


def _is_better(new: Slope, old: Slope, size: float) -> bool:
    """Tell whether a trial is lower, or level to rounding and nearer to stationary: the last digits are won by the second."""
    if new.cost < old.cost:
        return True
    slack = 8.0 * ROUNDING * (abs(old.cost) + (old.squares * size) ** 0.5)
    return new.cost <= old.cost + slack and new.offset < 0.5 * old.offset


def _has_stalled_at_the_floor(slope: Slope, size: float) -> bool:
    """Tell whether the best step left promises nothing that matters."""
    return slope.step(LEAST_DAMPING)[1] <= _NEGLIGIBLE * slope.squares + (16.0 * ROUNDING) ** 2 * size
