"""Profile likelihood: an interval for one parameter from how the fit worsens when it is held elsewhere.

It follows the bend of the law where a standard error cannot: it need not be symmetric, it ends at a bound, and it may be open.
Source of the method: Bates & Watts, Nonlinear Regression Analysis and Its Applications (1988), chapter 6 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from rheokit.base.errors import FitError, printable
from rheokit.base.estimate import Interval
from rheokit.base.show import number
from rheokit.fitting.engine import Solution, solve
from rheokit.fitting.fitted import Fitted
from rheokit.fitting.request import Request
from rheokit.fitting.slope import ROUNDING

__all__ = ["profile_interval"]

# Doublings of the first step after which an end counts as open: twelve decades of standard errors.
_MOST_DOUBLINGS = 40
# Steps of the search for an end, and how near to the quantile it comes, relative.
_MOST_STEPS, _NEAR = 80, 1e-9
# A fall of what is minimised, relative to the scatter of one point, that shows the fit to have missed a better place.
_LOWER = 1e-6


def profile_interval(fitted: Fitted, name: str, level: float) -> Interval:
    """Return the profile likelihood interval of one parameter.

    Raises
    ------
    FitError
        When the parameter is fixed or unknown, there is no scatter to judge by, or a better fit turns up on the way.
    """
    if name not in fitted.law.names:
        raise FitError(f"{fitted.law.name} has no parameter {printable(name)!r}; it has {', '.join(fitted.law.names)}")
    index = fitted.law.names.index(name)
    if not fitted.request.free[index]:
        raise FitError(f"{name} was fixed by the caller, so it has no interval")
    if fitted.no_scatter:
        raise FitError(f"{fitted.law.name} has no intervals: {fitted.no_scatter}")
    times = fitted.quantile(level)
    ends, reasons = [], []
    for side in (-1, 1):
        end, reason = _Profile(fitted, index, times).end(side)
        ends.append(end)
        reasons.append(reason)
    return Interval(lower=ends[0], upper=ends[1], level=level, reason="; ".join(reason for reason in reasons if reason))


class _Profile:
    """How far from the best fit, in standard errors, a fit with one parameter held elsewhere lies."""

    def __init__(self, fitted: Fitted, index: int, times: float) -> None:
        self.fitted, self.index, self.times = fitted, index, times
        self.centre = float(fitted.values[index])
        weighted = fitted.residuals / fitted.deviations
        self.lowest = fitted.weighting.cost(fitted.y, fitted.value(fitted.x), weighted)
        size = fitted.y / fitted.deviations
        self.rounding = 64.0 * ROUNDING * float(np.sqrt((weighted @ weighted) * (size @ size)))
        self.near = fitted.values

    def distance(self, value: float) -> float:
        """Return the root of the rise of what is minimised over its scale, with the parameter held at a value; 0 at the best fit."""
        solution = self._held(value)
        if solution is None:
            return math.inf
        fitted = self.fitted
        cost = fitted.weighting.cost(fitted.y, fitted.y - solution.residual * solution.deviations, solution.residual)
        scale = fitted.spread.scale
        if self.lowest - cost > _LOWER * scale**2 + self.rounding:
            begin = ", ".join(f"{one!r}: {float(at)!r}" for one, at in zip(fitted.law.names, solution.point, strict=True))
            raise FitError(f"a better fit turned up on the way; fit again with start={{{begin}}}")
        self.near = solution.point
        return math.sqrt(max(cost - self.lowest, 0.0)) / scale

    def _held(self, value: float) -> Solution | None:
        """Return the fit with the parameter held at a value, begun from the one before; None where there is none."""
        fixed, start = self.fitted.request.fixed.copy(), self.near.copy()
        fixed[self.index] = value
        start[~np.isnan(fixed)] = np.nan
        request: Request = replace(self.fitted.request, fixed=fixed, start=start)
        try:
            with np.errstate(all="ignore"):
                return solve(request, self.fitted.weighting)
        except FitError:  # no finite value, or a weight that cannot be formed: as far away as can be
            return None

    def end(self, side: int) -> tuple[float, str]:
        """Return the lower (-1) or upper (1) end and, where it is not a crossing, what it is."""
        parameter = self.fitted.law.parameters[self.index]
        bound = float((self.fitted.request.lower if side < 0 else self.fitted.request.upper)[self.index])
        word, unit = ("lower", "upper")[side > 0], "" if parameter.unit in {"", "1"} else f" {parameter.unit}"
        if self.centre == bound:
            return bound, f"the {word} end is the bound {number(bound)}{unit}"
        self.near = self.fitted.values
        inside, step = self.centre, self._first_step()
        for doubling in range(_MOST_DOUBLINGS):
            outside = self.centre + side * step * 2.0**doubling
            at_bound = side * (outside - bound) >= 0.0
            outside = bound if at_bound else outside
            if self.distance(outside) >= self.times:
                return self._crossing(inside, outside), ""
            if at_bound:
                return bound, f"the {word} end is the bound {number(bound)}{unit}"
            inside = outside
        return side * math.inf, f"the {word} end is open: the data fit about as well however {('low', 'high')[side > 0]} it is"

    def _first_step(self) -> float:
        """Return the half width of the symmetric interval, or the one that the parameter would have alone."""
        variance = float(self.fitted.spread.seen[self.index, self.index])
        if variance > 0.0:
            return self.times * math.sqrt(variance)
        column = self.fitted.law.jacobian(self.fitted.x, *self.fitted.values)[:, self.index] / self.fitted.deviations
        norm = math.sqrt(float(column @ column))
        return self.times * self.fitted.spread.scale / norm if norm > 0.0 else abs(self.centre) or 1.0

    def _crossing(self, inside: float, outside: float) -> float:
        """Return where the distance is the quantile: by the secant, exact where the law is linear, and by halving where that crawls."""
        ends = [inside, outside]
        heights = [-self.times if inside == self.centre else self.distance(inside) - self.times, self.distance(outside) - self.times]
        for step in range(_MOST_STEPS):
            if abs(heights[1]) <= _NEAR * self.times:
                return ends[1]
            trial = _between(ends, heights, halve=step % 3 == 2)
            height = self.distance(trial) - self.times
            if abs(height) <= _NEAR * self.times or abs(ends[1] - ends[0]) <= 4.0 * ROUNDING * abs(ends[1]):
                return trial
            which = 1 if height > 0.0 else 0
            ends[which], heights[which] = trial, height
        return 0.5 * (ends[0] + ends[1])


def _between(ends: list[float], heights: list[float], *, halve: bool) -> float:
    """Return a value between two ends: where the line through the heights is zero, or the middle, by decades where they lie far apart."""
    if not halve and math.isfinite(heights[1]):
        return ends[0] - heights[0] * (ends[1] - ends[0]) / (heights[1] - heights[0])
    if ends[0] * ends[1] > 0.0 and not 0.01 < ends[0] / ends[1] < 100.0:
        return math.copysign(math.sqrt(ends[0] * ends[1]), ends[0])
    return 0.5 * (ends[0] + ends[1])
