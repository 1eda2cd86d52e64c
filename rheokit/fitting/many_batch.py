"""The way of many curves: start, search, weights that follow the fit, and the last steps; from Points to where the curves ended."""

from __future__ import annotations

import math

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import inner
from rheokit.fitting.many_finish import STATIONARY_FOLLOWING, STATIONARY_MANY, Finished, finish
from rheokit.fitting.many_plan import Plan
from rheokit.fitting.many_points import Points
from rheokit.fitting.many_search import Found, search
from rheokit.fitting.many_smooth import first_weights
from rheokit.fitting.many_start import start_of
from rheokit.fitting.many_view import IndexArray, Kernel, View

__all__ = ["Batch"]

# Offsets at which a search lets a curve go: with one coordinate, with more (the last step then leaves more to do), and with weights that
# will move anyway.
_NEAR_ALONE, _NEAR, _COARSE = 3e-4, 1e-4, 1e-3
_MOST_STEPS = 60
# The same for curves that did not arrive so: where residuals are large, undamped steps in all parameters do not.
_CLOSE, _MANY_STEPS = 1e-8, 250
# Deviations that moved by more than this factor were a bad start for the search.
_MOVED = 2.0
# Rounds of search under weights from the fit before they move with every step.
_ROUNDS = 3
# Logarithm of how far beyond the rates measured a coordinate without a bound is followed: 25 decades, where nothing is seen any more.
_REACH = 25.0 * math.log(10.0)


class Batch:
    """The curves of a chunk under a law that has a kernel."""

    def __init__(self, plan: Plan, points: Points, kernel: Kernel) -> None:
        self.plan, self.points, self.kernel = plan, points, kernel
        scale = np.where(np.array(kernel.scaled)[:, None], 1.0 / points.y_scale, 1.0)
        held = np.where(plan.free, np.nan, plan.fixed)[:, None] * scale
        # What is held has no room between its bounds, and the searches need no other word for it.
        self.lower = np.where(np.isnan(held), plan.lower[:, None] * scale, held)
        self.upper = np.where(np.isnan(held), plan.upper[:, None] * scale, held)
        self.floor = plan.floor / points.y_scale
        self.centre = self._centre()

    def _centre(self) -> FloatArray:
        """Return the logarithm by which rates are shifted, (B,): none where bounds of coefficients would shift with it."""
        linear = list(self.kernel.linear)
        ends = np.concatenate([self.lower[linear].ravel(), self.upper[linear].ravel()])
        if not ((ends == 0.0) | np.isinf(ends)).all():
            return np.zeros(self.points.count.size)
        log_x = self.points.log_x
        if self.points.shared:
            return np.full(self.points.count.size, log_x.mean() if log_x.size else 0.0)
        return np.asarray(log_x.sum(axis=0) / np.maximum(self.points.count, 1))

    def solve(self, start: FloatArray | None = None, *, few: int = 0) -> Finished:
        """Return where the curves end.

        Parameters
        ----------
        start
            Where each curve starts, (p, B), over the scale of the stress; None for a grid, or the start of the plan.
        few
            Number of curves for which it is not worth going on; they are left on their way, not stationary.
        """
        if self.points.weight is not None:
            view = self._view(self.points.weight)
            begun = self._start(view, start)
            if start is None:
                near = _NEAR if len(view.searched) > 1 else _NEAR_ALONE
                found = search(view, begun, tolerance=near, limit=_MOST_STEPS, few=few)
            else:
                found = search(view, begun, tolerance=_CLOSE, limit=_MANY_STEPS)
        else:
            found = self._following(start, few)
            view = self._view(self.points.masked(np.ones(self.points.y.shape)), self.floor)
        place = np.concatenate([found.values, found.theta])
        close = np.flatnonzero(found.settled) if start is None else np.arange(view.size)
        return finish(view, place, close, stationary=STATIONARY_MANY if view.floor is None else STATIONARY_FOLLOWING)

    def _start(self, view: View, start: FloatArray | None = None) -> FloatArray:
        """Return coordinates to start from, (s, B): those of a point given, else from a grid.

        With one coordinate, on rates that all curves share, a grid costs less than the steps that a start saves, and sees every valley.
        """
        cheap = view.shared and len(view.searched) == 1
        point = self._planned(view.size) if start is None and not cheap else start
        if point is None or not np.isfinite(point[list(self.kernel.nonlinear)]).all():
            return start_of(view)
        return np.clip(self.kernel.coordinates(point, self.centre), view.theta_lower, view.theta_upper)

    def _planned(self, curves: int) -> FloatArray | None:
        """Return the start of the plan for every curve, (p, B), if it says enough; coefficients are solved for whatever it says of them."""
        begun = np.where(self.plan.free, self.plan.start, self.plan.fixed)
        if np.isnan(begun[list(self.kernel.nonlinear)]).any():
            return None
        return np.repeat(np.where(np.isnan(begun), 1.0, begun)[:, None], curves, axis=1)

    def _following(self, start: FloatArray | None, few: int) -> Found:
        """Return coordinates and coefficients under weights that have nearly settled."""
        weight = first_weights(self.points, self.floor)
        view = self._view(weight)
        found = search(view, self._start(view, start), tolerance=_COARSE, limit=_MOST_STEPS, few=few)
        for round_number in range(_ROUNDS):
            before, weight = weight, self._weight_of(view, found)
            view = self._view(weight)
            begun = found.theta
            if round_number == 0:
                moved = np.flatnonzero(_ratio(weight, before) > _MOVED)
                if moved.size:
                    begun = begun.copy()
                    begun[:, moved] = self._part(moved)._start(view.take(moved))
            found = search(view, begun, tolerance=_COARSE, limit=_MOST_STEPS, few=few)
        return found

    def _weight_of(self, view: View, found: Found) -> FloatArray:
        """Return the weights that go with a fit; those of the view where a fitted value is none."""
        weight = np.empty(view.weight.shape)
        for part in view.parts:
            columns = view.kernel.evaluate(part, found.theta[:, part.where])[0]
            fitted = inner(columns, found.values[:, part.where]) / part.weight
            weight[:, part.where] = 1.0 / np.hypot(fitted, self.floor[part.where])
        weight = self.points.masked(weight)
        return np.where(np.isfinite(weight).all(axis=0), weight, view.weight)

    def _part(self, kept: IndexArray) -> Batch:
        return Batch(self.plan, self.points.take(kept), self.kernel)

    def _view(self, weight: FloatArray, floor: FloatArray | None = None) -> View:
        points, kernel = self.points, self.kernel
        shift = self.centre[:1] if points.shared else self.centre
        log_x = points.log_x - shift
        x = np.exp(log_x) if shift.any() else points.x
        lower, upper = kernel.ranges(self.lower, self.upper, self.centre)
        reach = _REACH + (np.abs(log_x).max() if log_x.size else 0.0)
        linear = list(kernel.linear)
        return View(
            kernel=kernel,
            x=x,
            log_x=log_x,
            weight=weight,
            target=points.target if points.target is not None else points.y * weight,
            constants=kernel.constants(x, weight),
            lower=tuple(self.lower[linear]),
            upper=tuple(self.upper[linear]),
            theta_lower=np.where(np.isfinite(lower), lower, -reach),
            theta_upper=np.where(np.isfinite(upper), upper, reach),
            floor=floor,
        )


def _ratio(weight: FloatArray, before: FloatArray) -> FloatArray:
    """Return the largest factor by which the weights of each curve moved, (B,)."""
    used = (weight > 0.0) & (before > 0.0)
    factor = np.where(used, weight / np.where(used, before, 1.0), 1.0)
    return np.asarray(np.maximum(factor, 1.0 / factor).max(axis=0, initial=1.0))
