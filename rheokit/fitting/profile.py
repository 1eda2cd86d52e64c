"""Profile likelihood: an interval for one parameter from how the fit worsens when it is held elsewhere.

It follows the bend of the law where a standard error cannot: it need not be symmetric, it ends at a bound, and it may be open.
Source of the method: Bates & Watts, Nonlinear Regression Analysis and Its Applications (1988), chapter 6 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError, printable
from rheokit.base.estimate import Interval
from rheokit.base.show import number
from rheokit.fitting.engine import Solution, solve
from rheokit.fitting.fitted import Fitted
from rheokit.fitting.slope import ROUNDING

__all__ = ["profile_interval"]

# How much each step outwards is longer than the one before, and after how many an end counts as open: twelve decades of standard errors.
_LONGER, _MOST_OUTWARDS = 4.0, 20
# Steps of the search for an end, and how near to the quantile it comes, relative.
_MOST_STEPS, _NEAR = 60, 1e-9
# How a value between two is chosen, in turns, and what part of the far one is tried when the near one is zero.
_WAYS, _LESS = ("line", "line", "decades", "line", "middle"), 1e-4
# Relative distance of two values between which an end lies that is near enough: profiles of what is hardly determined are not smoother.
_CLOSE = 1e-8
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
        self.best = self.near = fitted.values

    def distance(self, value: float) -> float:
        """Return the root of the rise of what is minimised over its scale, with the parameter held at a value; 0 at the best fit.

        The others are begun at those nearest to the end that still lay inside, since where two parameters make up for one another the
        way leads from one to the next; and by the guess of the law, or else at their best values.
        """
        fitted, scale = self.fitted, self.fitted.spread.scale
        starts = (self.near, np.full(self.best.size, np.nan) if fitted.law.guess else self.best)
        held = [(self._cost(solution), solution.point) for start in starts if (solution := self._held(value, start)) is not None]
        if not held:
            return math.inf
        cost, point = min(held, key=lambda one: one[0])
        if self.lowest - cost > _LOWER * scale**2 + self.rounding:
            begin = ", ".join(f"{one!r}: {float(at)!r}" for one, at in zip(fitted.law.names, point, strict=True))
            raise FitError(f"a better fit turned up on the way; fit again with start={{{begin}}}")
        found = math.sqrt(max(cost - self.lowest, 0.0)) / scale
        if found < self.times:
            self.near = point
        return found

    def _cost(self, solution: Solution) -> float:
        """Return what is minimised, infinite where it is no number."""
        y = self.fitted.y
        cost = self.fitted.weighting.cost(y, y - solution.residual * solution.deviations, solution.residual)
        return cost if math.isfinite(cost) else math.inf

    def _held(self, value: float, begin: FloatArray) -> Solution | None:
        """Return the fit with the parameter held at a value, begun at a point (p,); None where there is none."""
        fixed, start = self.fitted.request.fixed.copy(), begin.copy()
        fixed[self.index] = value
        start[~np.isnan(fixed)] = np.nan
        try:
            with np.errstate(all="ignore"):
                return solve(replace(self.fitted.request, fixed=fixed, start=start), self.fitted.weighting)
        except FitError:  # no finite value, or a weight that cannot be formed: as far away as can be
            return None

    def end(self, side: int) -> tuple[float, str]:
        """Return the lower (-1) or upper (1) end and, where it is not a crossing, what it is."""
        parameter = self.fitted.law.parameters[self.index]
        bound = float((self.fitted.request.lower if side < 0 else self.fitted.request.upper)[self.index])
        word, unit = ("lower", "upper")[side > 0], "" if parameter.unit in {"", "1"} else f" {parameter.unit}"
        if self.centre == bound:
            return bound, f"the {word} end is the bound {number(bound)}{unit}"
        self.near = self.best
        inside, step = self.centre, self._first_step()
        for outwards in range(_MOST_OUTWARDS):
            outside = self.centre + side * step * _LONGER**outwards
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
            trial = _between(ends, heights, way=_WAYS[step % len(_WAYS)])
            height = self.distance(trial) - self.times
            if abs(height) <= _NEAR * self.times or abs(ends[1] - ends[0]) <= _CLOSE * abs(ends[1]):
                return trial
            which = 1 if height > 0.0 else 0
            ends[which], heights[which] = trial, height
        return 0.5 * (ends[0] + ends[1])


def _between(ends: list[float], heights: list[float], *, way: str) -> float:
    """Return a value between two ends: where the line through the heights is zero, by decades, or the middle."""
    near, far = sorted(ends, key=abs)
    if way == "line" and math.isfinite(heights[1]):
        return ends[0] - heights[0] * (ends[1] - ends[0]) / (heights[1] - heights[0])
    if way == "decades" and near * far >= 0.0:
        return math.copysign(math.sqrt(abs(near)) * math.sqrt(abs(far)), far) if near else _LESS * far
    return 0.5 * (ends[0] + ends[1])
