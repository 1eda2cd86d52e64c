"""The last steps of many curves in all their parameters, and what the data determine.

A curve is stationary when its residuals are at right angles to the derivatives; this is measured here on the residuals themselves, not on
what is left of the stresses' products, so that it also holds for nearly perfect data. Same rules as `slope` and `covariance`, which do it
for one curve.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import Factored, inner, sum_into
from rheokit.fitting.many_points import Points
from rheokit.fitting.many_unseen import decompose
from rheokit.fitting.many_view import IndexArray, Kernel, part_width
from rheokit.fitting.request import BoolArray
from rheokit.fitting.slope import ROUNDING

__all__ = ["STATIONARY_MANY", "Curves", "Finished", "finish"]

STATIONARY_MANY = 1e-7
"""Offset at which a curve counts as stationary and makes its last step.

The best fit is then no farther away than this part of a standard error times the root of the degrees of freedom, and its sum of squares
lower by less than the square of this part; the last step takes most of the rest away, unseen. Source: Bates & Watts, Technometrics 23
(1981) 179 (from memory).
"""
# Above this condition of the scaled derivatives their products lose too many digits: singular values of the derivatives themselves serve.
_HARD = 3e4
_MOST_ROUNDS = 12
# A round that does not bring the offset below this part of the one before is the last.
_PROGRESS = 0.7


@dataclass(frozen=True, kw_only=True, eq=False)
class Finished:
    """Where the curves ended.

    Attributes
    ----------
    point
        Parameters over the scale of the stress where they grow with it, (p, B).
    squares, size
        Sums of squares of the weighted residuals and of the weighted stresses, (B,).
    variances
        Of the parameters for residuals of unit scale, (p, B); NaN where the data do not determine a parameter.
    stationary
        (B,).
    """

    point: FloatArray
    squares: FloatArray
    size: FloatArray
    variances: FloatArray
    stationary: BoolArray

    @classmethod
    def at(cls, point: FloatArray) -> Finished:
        """Return curves of which only the point is known."""
        nan = np.full(point.shape, np.nan)
        room = np.full((2, point.shape[1]), np.nan)
        return cls(point=point, squares=room[0], size=room[1], variances=nan, stationary=np.zeros(point.shape[1], dtype=bool))

    def put(self, where: IndexArray, other: Finished, chosen: BoolArray) -> None:
        """Write chosen curves of another to some positions."""
        if chosen.all() and where.size == self.squares.size:
            of: IndexArray | slice = slice(None)
            to: IndexArray | slice = of
        else:
            to, of = where[chosen], np.flatnonzero(chosen)
        self.point[:, to], self.variances[:, to] = other.point[:, of], other.variances[:, of]
        self.squares[to], self.size[to], self.stationary[to] = other.squares[of], other.size[of], other.stationary[of]


@dataclass(frozen=True, kw_only=True, eq=False)
class Curves:
    """Curves, their law and what binds its parameters.

    Attributes
    ----------
    lower, upper
        Bounds, (p, B).
    free
        Indices of the free parameters.
    floor
        Floor of deviations that follow the fit, over the scale of the stress, (B,).
    """

    points: Points
    kernel: Kernel
    lower: FloatArray
    upper: FloatArray
    free: IndexArray
    floor: FloatArray

    def take(self, kept: IndexArray) -> Curves:
        """Return the curves at some positions."""
        return replace(self, points=self.points.take(kept), lower=self.lower[:, kept], upper=self.upper[:, kept], floor=self.floor[kept])


def finish(curves: Curves, point: FloatArray, chosen: IndexArray) -> Finished:
    """Return where undamped steps in all free parameters lead from a point (p, B) near the floor of its valley.

    Parameters
    ----------
    curves, point
        The curves and where they stand.
    chosen
        Positions of the curves that are near; the others stay where they are.
    """
    found = Finished.at(point)
    active = chosen
    if active.size < point.shape[1]:
        curves, point = curves.take(active), point[:, active]
    before = np.full(active.size, np.inf)
    for _ in range(_MOST_ROUNDS):
        done, step, offset = _look(curves, point)
        moved = _moved(curves, point, step)
        # A curve that comes no nearer stays where it was nearest.
        found.put(active, replace(done, point=np.where(done.stationary, moved, point)), offset < before)
        going = np.flatnonzero(~done.stationary & (offset < _PROGRESS * before))
        if not going.size:
            break
        point, before = moved[:, going], offset[going]
        if going.size < active.size:
            curves, active = curves.take(going), active[going]
    return found


def _moved(curves: Curves, point: FloatArray, step: FloatArray) -> FloatArray:
    """Return the point after a step; a parameter searched in its logarithm is moved in its logarithm."""
    moved = np.clip(point + step, curves.lower, curves.upper)
    for index in curves.kernel.logarithmic:
        raised = point[index] * np.exp(step[index] / point[index])
        moved[index] = np.clip(raised, curves.lower[index], curves.upper[index])
    return moved


def _look(curves: Curves, point: FloatArray) -> tuple[Finished, FloatArray, FloatArray]:
    """Return what holds at a point, the step to take from it and the offset."""
    free = curves.free
    sums = _sums(curves, point)
    squares, size = sums.squares, sums.size
    at_lower, at_upper = point[free] <= curves.lower[free], point[free] >= curves.upper[free]
    pressing = (at_lower & (sums.slope <= 0.0)) | (at_upper & (sums.slope >= 0.0))
    step, variances, along, hard = _solved(sums, pressing)
    if hard.size:
        columns, residual = _columns(curves.take(hard), point[:, hard])[:2]
        stacked = np.stack([np.where(held[hard], 0.0, column) for held, column in zip(pressing, columns, strict=True)], axis=2)
        step[:, hard], variances[:, hard], along[hard] = decompose(stacked.transpose(1, 0, 2), residual)
    variances[at_lower | at_upper] = np.nan
    positive = np.where(squares > 0.0, squares, 1.0)
    offset = np.sqrt(along / positive)
    offset = np.where(np.isfinite(offset) & np.isfinite(squares), offset, np.inf)
    enough = np.maximum(STATIONARY_MANY, 8.0 * ROUNDING * np.sqrt(size / positive))
    whole, spread = np.zeros(point.shape), np.full(point.shape, np.nan)
    whole[free], spread[free] = step, variances
    done = Finished(point=point, squares=squares, size=size, variances=spread, stationary=offset <= enough)
    return done, whole, offset


@dataclass(frozen=True, kw_only=True, eq=False)
class _Sums:
    """Products over the points of a curve: derivatives with one another and with the residuals, residuals and stresses with themselves."""

    gram: dict[tuple[int, int], FloatArray]
    slope: FloatArray
    squares: FloatArray
    size: FloatArray


def _columns(curves: Curves, point: FloatArray) -> tuple[list[FloatArray], FloatArray, FloatArray]:
    """Return weighted derivatives by the free parameters, weighted residuals and weights, (M, B) each."""
    points = curves.points
    fitted, slopes = curves.kernel.curve(points.x, points.log_x, point)
    weight = points.weight if points.weight is not None else points.masked(1.0 / np.hypot(fitted, curves.floor))
    np.subtract(points.y, fitted, out=fitted)
    fitted *= weight
    # A derivative of 1 everywhere comes as one number.
    return [slopes[index] * weight if any(slopes[index].strides) else weight for index in curves.free], fitted, weight


def _sums(curves: Curves, point: FloatArray) -> _Sums:
    """Return the products, worked out in parts that stay in the cache."""
    points, count, size = curves.points, curves.free.size, point.shape[1]
    gram = {(i, j): np.empty(size) for i in range(count) for j in range(i + 1)}
    slope, squares = np.empty((count, size)), np.empty(size)
    whole = points.size if points.weight is not None else np.empty(size)
    width = part_width(len(points.y), size)
    for begin in range(0, size, width):
        where = slice(begin, min(begin + width, size))
        here = points.part(where)
        columns, residual, weight = _columns(replace(curves, points=here, floor=curves.floor[where]), point[:, where])
        for (i, j), room in gram.items():
            sum_into(room[where], columns[i], columns[j])
        for i, column in enumerate(columns):
            sum_into(slope[i, where], column, residual)
        sum_into(squares[where], residual, residual)
        if points.weight is None:
            target = here.y * weight
            sum_into(whole[where], target, target)
    return _Sums(gram=gram, slope=slope, squares=squares, size=whole)


def _solved(sums: _Sums, pressing: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray, IndexArray]:
    """Return step (f, B), variances (f, B), squared length of the residuals along the derivatives (B,) and the hard curves.

    The derivatives are scaled to unit length; those that press against a bound, or are zero, stand aside.
    """
    count, curves = sums.slope.shape
    norms = [np.sqrt(sums.gram[j, j]) for j in range(count)]
    aside = [held | ~(norm > 0.0) for held, norm in zip(pressing, norms, strict=True)]
    any_aside = any(bool(each.any()) for each in aside)
    inverse = [1.0 / norm for norm in norms]
    if any_aside:
        inverse = [np.where(each, 0.0, entry) for each, entry in zip(aside, inverse, strict=True)]
    one = np.ones(curves)
    matrix = [[sums.gram[i, j] * (inverse[i] * inverse[j]) if j < i else one for j in range(i + 1)] for i in range(count)]
    heights = [slope * entry for slope, entry in zip(sums.slope, inverse, strict=True)]
    factored = Factored(matrix)
    moved, spread = factored.solve(heights), factored.inverse_diagonal()
    along = inner(heights, moved) if count else np.zeros(curves)
    condition = sum(spread, np.zeros(curves))
    step = np.stack([move * entry for move, entry in zip(moved, inverse, strict=True)]) if count else np.zeros((0, curves))
    variances = np.stack([each * (entry * entry) for each, entry in zip(spread, inverse, strict=True)]) if count else np.zeros((0, curves))
    if any_aside:
        variances[np.stack(aside)] = np.nan
    return step, variances, along, np.flatnonzero(~(condition < _HARD**2))
