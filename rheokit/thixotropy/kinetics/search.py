"""The search for the best parameters: a grid over those that are not linear, then a descent in which the linear ones follow."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.fitting.descent import Descent, descend
from rheokit.fitting.projection import is_logarithmic
from rheokit.fitting.request import BoolArray, Request
from rheokit.fitting.slope import Values
from rheokit.thixotropy.kinetics.laws import NONLINEAR
from rheokit.thixotropy.kinetics.linear_part import best_coefficients, lowest_squares, unbounded
from rheokit.thixotropy.kinetics.problem import COUNT, Problem

__all__ = ["Projected", "first_point"]

# Points that are enough to tell one valley from another.
_ENOUGH = 120
# The grid: times of build-up per decade and a half, and how much faster the ink breaks at its highest rate than it builds.
_BUILD_UPS, _RATIOS, _EXPONENTS, _INDICES = 6, np.geomspace(0.4, 100.0, 6), (0.4, 0.7, 1.0), (0.3, 0.55, 0.85)
# How many valleys are followed a few steps, if their sum of squares is at most this many times the lowest.
_VALLEYS, _WORTH = 3, 3.0
_ELASTIC = 0.3
_LOW, _HIGH = np.log(1e-14), np.log(1e12)
# Offset at which a point counts as stationary: it is then within this part of a standard error, times the root of the degrees of freedom.
_STATIONARY = 1e-7
_COARSE = 4.0
_NEAR, _FEW_STEPS, _MOST_STEPS = 0.15, 12, 120


def first_point(problem: Problem, request: Request, deviations: FloatArray) -> FloatArray:
    """Return a point (p,) from which to descend: on fewer points, the valleys of a grid are followed a few steps, and the lowest kept.

    Raises
    ------
    FitError
        When no point of the grid has a finite stress.
    """
    shared, kept = problem.shared.thinned(max(1, problem.shared.rate.size // _ENOUGH))
    rows = np.concatenate([kept, np.arange(problem.shared.rate.size, request.y.size)])
    thin = Projected(
        problem=replace(problem, shared=shared, forgets=_COARSE),
        request=replace(request, x=request.x[rows], y=request.y[rows]),
        deviations=deviations[rows],
    )
    ends = [thin.descent(start, stationary=_NEAR, limit=_FEW_STEPS) for start in _lowest_of_grid(thin)]
    return thin.point(min(ends, key=lambda end: end.cost if np.isfinite(end.cost) else np.inf).point)


def _lowest_of_grid(thin: Projected) -> list[FloatArray]:
    problem, request = thin.problem, thin.request
    base, axes = _base(problem, request), _axes(problem, request)
    size, linear = problem.shared.rate.size, slice(len(NONLINEAR), COUNT)
    weights = 1.0 / thin.deviations[:size]
    held, solved = np.where(request.free[linear], 0.0, request.fixed[linear]), request.free[linear]
    kinetics = np.array([(a, _breakdown(a, ratio, m, problem), m) for a, ratio, m in product(*axes[:3])])
    costs, points = [], []
    for index in axes[3]:
        columns = problem.bases(kinetics, index, base[4], base[COUNT : problem.first_factor]) * weights[:, None]
        target = problem.shared.stress * weights - columns @ held
        if solved.any():
            costs.append(lowest_squares(columns[:, :, solved], target, request.lower[linear][solved], request.upper[linear][solved]))
        else:
            costs.append(np.einsum("gn,gn->g", target, target))
        points += [np.concatenate([one, [index], base[4:]]) for one in kinetics]
    found = np.concatenate(costs)
    if not np.isfinite(found).any():
        raise FitError(f"{problem.law.name}: no finite stress at any point searched; give a start={{...}} or bounds={{...}}")
    return [points[index] for index in _valleys(found, (len(axes[3]), *(len(axis) for axis in axes[:3])))]


def _base(problem: Problem, request: Request) -> FloatArray:
    """Return what is known of a point beforehand."""
    base = np.where(np.isnan(request.fixed), request.start, request.fixed)
    middle = np.concatenate([[np.nan] * 4, [_ELASTIC], [np.nan] * 5, np.full(len(problem.starts), 0.5), np.ones(len(problem.factors))])
    return np.clip(np.where(np.isnan(base), middle, base), request.lower, request.upper)


def _breakdown(a: float, ratio: float, m: float, problem: Problem) -> float:
    """Return the breakdown rate that breaks so many times faster than the ink builds, at the highest rate measured; minus one is itself."""
    return -ratio if ratio < 0.0 else float(a * ratio / problem.shared.rate.max() ** m)


def _axes(problem: Problem, request: Request) -> list[list[float]]:
    """Return the values tried for build-up rate, ratio of breakdown to it (or minus the rate itself), exponent and flow index."""
    known = [float(request.fixed[index]) if not request.free[index] else float(request.start[index]) for index in range(4)]
    history = problem.shared.history
    span = float(history.duration.sum() / history.resets.size) if history is not None else 100.0
    axes = [list(np.geomspace(0.5, 150.0, _BUILD_UPS) / span), list(_RATIOS), list(_EXPONENTS), list(_INDICES)]
    for index in (0, 2, 3):
        inside = [value for value in axes[index] if request.lower[index] <= value <= request.upper[index]]
        middle = float(np.clip(axes[index][1], request.lower[index], request.upper[index]))
        axes[index] = [known[index]] if np.isfinite(known[index]) else inside or [middle]
    if np.isfinite(known[1]):
        axes[1] = [-known[1] if known[1] > 0.0 else -1e-300]
    return axes


def _valleys(cost: FloatArray, shape: tuple[int, ...]) -> list[int]:
    """Return the numbers of the lowest points of a grid that no neighbour undercuts, the lowest first."""
    padded = np.pad(np.where(np.isfinite(cost), cost, np.inf).reshape(shape), 1, constant_values=np.inf)
    inner = tuple(slice(1, -1) for _ in shape)
    here = padded[inner]
    lowest = np.isfinite(here)
    for axis in range(len(shape)):
        lowest &= (here <= np.roll(padded, 1, axis=axis)[inner]) & (here <= np.roll(padded, -1, axis=axis)[inner])
    found = np.flatnonzero(lowest)
    costs = here.ravel()[found]
    found = found[(costs <= _WORTH * costs.min()) if found.size else slice(None)]
    return [int(index) for index in found[np.argsort(here.ravel()[found], kind="stable")][:_VALLEYS]]


@dataclass(frozen=True, kw_only=True, eq=False)
class Projected:
    """The problem in the parameters that are searched for; the free linear ones follow in closed form."""

    problem: Problem
    request: Request
    deviations: FloatArray

    @cached_property
    def searched(self) -> NDArray[np.intp]:
        """Return the numbers of the parameters searched for."""
        linear = np.zeros(self.request.free.size, dtype=bool)
        linear[len(NONLINEAR) : COUNT] = True
        return np.flatnonzero(self.request.free & ~linear)

    def descent(self, start: FloatArray, *, stationary: float = _STATIONARY, limit: int = _MOST_STEPS) -> Descent:
        """Descend from a point (p,)."""
        lower, upper = self.coordinates(self.request.lower), self.coordinates(self.request.upper)
        size = float(np.sum((self.request.y / self.deviations) ** 2))
        return descend(self.evaluate, self.coordinates(start), lower, upper, size=size, limit=limit, stationary=stationary)

    def coordinates(self, point: FloatArray) -> FloatArray:
        """Return a point (p,) in the coordinates searched: logarithms of the parameters that have them."""
        values = point[self.searched]
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.where(self._logarithmic, np.clip(np.log(np.maximum(values, 0.0)), _LOW, _HIGH), values))

    @cached_property
    def _logarithmic(self) -> BoolArray:
        return np.array([is_logarithmic(self.problem.parameters[index]) for index in self.searched], dtype=bool)

    def point(self, coordinates: FloatArray) -> FloatArray:
        """Return the whole point (p,) with its linear parameters solved for."""
        return self.solved(coordinates)[0]

    def solved(self, coordinates: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the whole point, the derivatives of its rows over their deviations (N + F, p), and the residuals (N + F,)."""
        request, size = self.request, self.problem.shared.rate.size
        point = np.where(request.free, 0.0, request.fixed)
        point[self.searched] = np.where(self._logarithmic, np.exp(np.where(self._logarithmic, coordinates, 0.0)), coordinates)
        trial, weights = self.problem.trial(point), 1.0 / self.deviations
        columns = trial.columns * weights[:size, None]
        free = self._linear - len(NONLINEAR)
        target = request.y[:size] * weights[:size] - columns @ point[len(NONLINEAR) : COUNT]
        if free.size:
            point[self._linear] = best_coefficients(columns[:, free], target, request.lower[self._linear], request.upper[self._linear])
        value, jacobian = trial.rows(point[len(NONLINEAR) : COUNT])
        jacobian *= weights[:, None]
        return point, jacobian, (request.y - value) * weights

    @cached_property
    def _linear(self) -> NDArray[np.intp]:
        """Return the numbers of the free linear parameters."""
        return len(NONLINEAR) + np.flatnonzero(self.request.free[len(NONLINEAR) : COUNT])

    def evaluate(self, coordinates: FloatArray) -> Values:
        """Return residuals, their derivatives by the coordinates without what the linear parameters make up, and sum of squares."""
        point, jacobian, residual = self.solved(coordinates)
        cost = float(residual @ residual)
        by = -jacobian[:, self.searched] * np.where(self._logarithmic, point[self.searched], 1.0)
        if not (np.isfinite(by).all() and np.isfinite(cost)):
            return residual, np.zeros_like(by), np.inf
        values = point[self._linear]
        inside = self._linear[(values > self.request.lower[self._linear]) & (values < self.request.upper[self._linear])]
        if inside.size:
            by -= jacobian[:, inside] @ unbounded(jacobian[:, inside], by)
        return residual, by, cost
