"""The search over the parameters in which a law is not linear; the linear ones follow in closed form (variable projection).

A coarse grid finds the valley, a damped descent of the projected problem its floor.
Source of the method: Golub & Pereyra, SIAM J. Numer. Anal. 10 (1973) 413; derivative after Kaufman, BIT 15 (1975) 49 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.fitting.descent import Descent, descend
from rheokit.fitting.linear import MOST_COLUMNS, box_least_squares
from rheokit.fitting.request import BoolArray, Request
from rheokit.fitting.slope import STATIONARY, Values
from rheokit.law import Parameter

__all__ = ["can_project", "follow", "needs_start", "search"]

IndexArray = NDArray[np.intp]

# Points along each axis of the grid, by how many parameters it has and whether the axis is logarithmic.
_GRID = {0: (1, 1), 1: (17, 17), 2: (15, 9), 3: (11, 6)}
_DECADES_WITHOUT_UNIT = 1.0
_DECADES_WITH_UNIT = 3.0
# Decades beyond its start to which a parameter is followed that is searched in its logarithm: where a plateau lies beyond the data the
# sum of squares falls for ever, by less than rounding.
_MARGIN = 15.0
# How many valleys of the grid are followed to their floor.
_VALLEYS = 2
# The projected descent only has to come near the floor; the digits are won on the whole problem.
_MOST_STEPS, _NEAR = 60, 1e-3


def can_project(request: Request) -> bool:
    """Tell whether a request has a basis, few enough linear columns and a grid that covers its non-linear parameters."""
    law = request.law
    return (
        law.basis is not None
        and sum(request.free[law.names.index(name)] for name in law.linear) <= MOST_COLUMNS
        and sum(request.free[law.names.index(name)] for name in law.nonlinear) < len(_GRID)
    )


def needs_start(request: Request) -> BoolArray:
    """Tell which parameters have no range to lay a grid over, so that one is laid around a start, (p,)."""
    law = request.law
    covered = [name in law.linear or _is_covered(request, index) for index, name in enumerate(law.names)]
    return np.logical_and(request.free, np.logical_not(covered))


def _is_covered(request: Request, index: int) -> bool:
    ends = request.lower[index], request.upper[index]
    return math.isfinite(ends[0]) and math.isfinite(ends[1]) and not is_logarithmic(request.law.parameters[index])


def search(request: Request, deviations: FloatArray, first: FloatArray) -> FloatArray:
    """Return the best point found, shape (p,), for given standard deviations (N,).

    `first` holds a start for the parameters that need one; the grid is laid around it.
    """
    problem = _Projected.of(request, deviations)
    if not problem.searched.size:
        return np.asarray(problem.whole(np.zeros((1, 0)))[0][0])
    starts = _valleys(problem, first)
    if not len(starts):
        raise FitError(f"{request.law.name} has no finite value at any point searched; give a start={{...}} or bounds={{...}}")
    if problem.searched.size == 1 and not problem.logarithmic[0]:
        points, cost, _ = problem.whole(starts)
        return np.asarray(points[np.argmin(cost)])
    ends = [problem.follow(start, stationary=_NEAR, limit=_MOST_STEPS) for start in starts]
    best = min(ends, key=lambda end: end.cost if math.isfinite(end.cost) else math.inf)
    return problem.point(best)


def follow(request: Request, deviations: FloatArray, point: FloatArray) -> tuple[FloatArray, bool]:
    """Follow a narrow, bent valley to its floor from a point (p,) in it, and tell whether the floor was reached.

    Where parameters make up for one another, as at the edge of what data determine, this arrives where steps in all of them crawl.
    """
    problem = _Projected.of(request, deviations)
    end = problem.follow(problem.coordinates(point), stationary=STATIONARY, limit=200)
    return problem.point(end), end.converged


def _valleys(problem: _Projected, first: FloatArray) -> FloatArray:
    """Return coordinates (V, s) of the lowest points of the grid that no neighbour undercuts, moved to the vertex of a parabola.

    A start that the caller gave replaces the lowest of them if it is lower still.
    """
    axes = _axes(problem.request, problem.searched, first)
    mesh = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    cost = problem.whole(mesh.reshape(-1, len(axes)))[1]
    padded = np.pad(np.where(np.isfinite(cost), cost, math.inf).reshape(mesh.shape[:-1]), 1, constant_values=math.inf)
    inner = tuple(slice(1, -1) for _ in axes)
    here = padded[inner]
    lowest = np.isfinite(here)
    vertex = mesh.copy()
    for axis in range(len(axes)):
        behind, ahead = np.roll(padded, 1, axis=axis)[inner], np.roll(padded, -1, axis=axis)[inner]
        lowest &= (here <= behind) & (here <= ahead)
        bend = behind - 2.0 * here + ahead
        usable = lowest & np.isfinite(bend) & (bend > 0.0)
        spacing = axes[axis][1] - axes[axis][0] if len(axes[axis]) > 1 else 0.0
        vertex[..., axis][usable] += 0.5 * spacing * ((behind - ahead)[usable] / bend[usable])
    found = np.flatnonzero(lowest)
    found = found[np.argsort(here.ravel()[found], kind="stable")][:_VALLEYS]
    starts: FloatArray = vertex.reshape(-1, len(axes))[found]
    given = problem.coordinates(first)
    if np.isfinite(given).all() and not (len(found) and here.ravel()[found[0]] <= problem.whole(given[None])[1][0]):
        starts = np.concatenate([given[None], starts[1:]])
    return starts


def _axes(request: Request, searched: IndexArray, first: FloatArray) -> list[FloatArray]:
    """Return the coordinates along each axis of the grid, equally spaced."""
    many, few = _GRID[len(searched)]
    axes = []
    for index in searched:
        lower, upper, centre = request.lower[index], request.upper[index], first[index]
        parameter = request.law.parameters[index]
        if is_logarithmic(parameter) and centre > 0.0:
            reach = 10.0 ** (_DECADES_WITHOUT_UNIT if parameter.unit in {"", "1"} else _DECADES_WITH_UNIT + _half_span(request.x))
            axes.append(np.linspace(math.log(max(centre / reach, lower)), math.log(min(centre * reach, upper)), many))
        elif _is_covered(request, index):
            axes.append(np.linspace(lower, upper, few))
        else:
            axes.append(np.array([math.log(centre) if is_logarithmic(parameter) and centre > 0.0 else centre]))
    return axes


def is_logarithmic(parameter: Parameter) -> bool:
    """Tell whether a parameter is searched in its logarithm: one that is never negative and may be large."""
    return parameter.lower >= 0.0 and parameter.upper > 10.0


def _half_span(x: FloatArray) -> float:
    """Return half the decades that the magnitudes of x span."""
    sizes = np.abs(x[x != 0.0])
    return 0.5 * math.log10(float(sizes.max() / sizes.min())) if sizes.size else 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class _Projected:
    """The problem in the searched parameters alone.

    `searched` and `solved` are the indices of the free parameters that are searched for, and of those that follow in closed form.
    """

    request: Request
    weights: FloatArray
    target: FloatArray
    searched: IndexArray
    solved: IndexArray
    logarithmic: BoolArray

    @classmethod
    def of(cls, request: Request, deviations: FloatArray) -> _Projected:
        law = request.law
        linear = np.array([name in law.linear for name in law.names])
        searched = np.flatnonzero(request.free & ~linear)
        return cls(
            request=request,
            weights=1.0 / deviations,
            target=request.y / deviations,
            searched=searched,
            solved=np.flatnonzero(request.free & linear),
            logarithmic=np.array([is_logarithmic(law.parameters[index]) for index in searched], dtype=bool),
        )

    def coordinates(self, points: FloatArray) -> FloatArray:
        """Return points (…, p) in the coordinates searched, (…, s): logarithms of the parameters that have them."""
        values = points[..., self.searched]
        if not self.logarithmic.any():
            return values
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.logarithmic, np.log(np.maximum(values, np.finfo(np.float64).tiny)), values)

    def whole(self, coordinates: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return points (G, p) with their linear parameters solved for, sums of squares (G,) and residuals (G, N)."""
        request = self.request
        points = np.tile(np.where(request.free, 0.0, request.fixed), (len(coordinates), 1))
        points[:, self.searched] = np.where(self.logarithmic, np.exp(np.where(self.logarithmic, coordinates, 0.0)), coordinates)
        basis = self.basis(points) * self.weights[:, None]
        linear = [request.law.names.index(name) for name in request.law.linear]
        held = [column for column, index in enumerate(linear) if not request.free[index]]
        target = np.broadcast_to(self.target, basis.shape[:2])
        if held:
            target = target - basis[:, :, held] @ request.fixed[[linear[column] for column in held]]
        columns = [linear.index(index) for index in self.solved]
        found, residual = box_least_squares(basis[:, :, columns], target, request.lower[self.solved], request.upper[self.solved])
        points[:, self.solved] = found
        return points, np.einsum("gn,gn->g", residual, residual), residual

    def follow(self, start: FloatArray, *, stationary: float, limit: int) -> Descent:
        """Descend from coordinates (s,)."""
        margin = np.where(self.logarithmic, _MARGIN * math.log(10.0), math.inf)
        lower = np.maximum(self.coordinates(self.request.lower), start - margin)
        upper = np.minimum(self.coordinates(self.request.upper), start + margin)
        size = float(self.target @ self.target)
        return descend(self.evaluate, start, lower, upper, size=size, limit=limit, stationary=stationary)

    def point(self, end: Descent) -> FloatArray:
        """Return the whole point, (p,), at which a descent ended."""
        return np.asarray(self.whole(end.point[None])[0][0])

    def basis(self, points: FloatArray) -> FloatArray:
        """Return the basis at each point, (G, N, q)."""
        law = self.request.law
        assert law.basis is not None, "can_project asked"
        nonlinear = [law.names.index(name) for name in law.nonlinear]
        if law.broadcasts:
            found = law.basis(self.request.x, *(points[:, index, None] for index in nonlinear))
            return np.broadcast_to(found, (len(points), *found.shape[-2:]))
        return np.stack([law.basis(self.request.x, *point[nonlinear]) for point in points])

    def evaluate(self, coordinates: FloatArray) -> Values:
        """Return residuals, their derivatives by the coordinates without what the linear parameters make up, and sum of squares."""
        request = self.request
        points, cost, residuals = self.whole(coordinates[None])
        point = points[0]
        jacobian = request.law.jacobian(request.x, *point) * self.weights[:, None]
        by_searched = -jacobian[:, self.searched] * np.where(self.logarithmic, point[self.searched], 1.0)
        values = point[self.solved]
        inside = self.solved[(values > request.lower[self.solved]) & (values < request.upper[self.solved])]
        if inside.size:
            directions = np.linalg.qr(jacobian[:, inside])[0]
            by_searched = by_searched - directions @ (directions.T @ by_searched)
        return residuals[0], by_searched, float(cost[0])
