"""From loads and a law to the best point and its uncertainty: weights that follow the fit, load factors that are known to a deviation."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.fitting.covariance import Spread, spread_of
from rheokit.fitting.engine import Solution
from rheokit.fitting.request import Request
from rheokit.fitting.weighting import Weighting
from rheokit.thixotropy.kinetics.problem import Problem
from rheokit.thixotropy.kinetics.search import Projected, first_point
from rheokit.thixotropy.kinetics.streaks import memory

__all__ = ["Solved", "solve_structure", "spread_in"]

# Passes until deviations that follow the fit have settled to this part of themselves.
_MOST_PASSES, _SETTLED = 12, 1e-7
# Residuals below this part of the stress are none: five printed digits end at ten times more.
_RESOLVED = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class Solved:
    """The best point.

    Attributes
    ----------
    solution
        Point, deviations, residuals and derivatives, of the points and the rows of load factors.
    spread
        Its uncertainty, widened where residuals remember.
    scatter
        Standard deviation of a point, over its `deviations`.
    memory
        Factor by which neighbours that are alike make the variance of any mean larger than that of independent residuals.
    """

    solution: Solution
    spread: Spread
    scatter: float
    memory: float


def solve_structure(problem: Problem, request: Request, weighting: Weighting, load_deviation: float) -> Solved:
    """Return the weighted least-squares solution.

    Raises
    ------
    FitError
        When no point searched has a finite stress.
    """
    size = problem.shared.rate.size
    stress = request.y[:size]
    scatter = 0.01 if weighting.scale == "estimated" else 1.0
    deviations = _deviations(weighting, stress, scatter, load_deviation, problem)
    with np.errstate(over="ignore", invalid="ignore", under="ignore"):
        projected = Projected(problem=problem, request=request, deviations=deviations)
        end = projected.descent(first_point(problem, request, deviations))
        point, jacobian, residual = projected.solved(end.point)
        if weighting.scale == "estimated" and (weighting.follows_fit or problem.known):
            for _ in range(_MOST_PASSES):
                fitted = stress - residual[:size] * deviations[:size]
                scatter, memory_factor = _scatter_of(
                    (stress - fitted) / weighting.of_fit(fitted), stress / weighting.of_fit(fitted), problem, request
                )
                new = _deviations(weighting, fitted, scatter * memory_factor**0.5, load_deviation, problem)
                moved = float(np.abs(new / deviations - 1.0).max())
                deviations = new
                projected = Projected(problem=problem, request=request, deviations=deviations)
                end = projected.descent(point)
                point, jacobian, residual = projected.solved(end.point)
                if moved < _SETTLED:
                    break
    scatter, memory_factor = _scatter_of(residual[:size], stress / deviations[:size], problem, request)
    solution = Solution(point=point, deviations=deviations, residual=residual, jacobian=-jacobian[:, request.free], converged=end.converged)
    return Solved(
        solution=solution,
        spread=_widened(spread_of(request, solution, scale_known=weighting.scale == "known"), memory_factor, weighting),
        scatter=scatter, memory=memory_factor,
    )  # fmt: skip


def _deviations(weighting: Weighting, fitted: FloatArray, scatter: float, load_deviation: float, problem: Problem) -> FloatArray:
    """Return deviations of points and load factors, on the scale of the points'."""
    points = weighting.of_fit(fitted)
    return np.concatenate([points, np.full(len(problem.factors), load_deviation / scatter)]) if problem.known else points


def _scatter_of(residual: FloatArray, weighted: FloatArray, problem: Problem, request: Request) -> tuple[float, float]:
    """Return the scale of weighted residuals (N,) and how much memory widens it; never zero, so that load factors keep a weight.

    Residuals that no instrument resolves, beside the weighted stresses (N,), are what the search left and remember nothing.
    """
    told = len(problem.factors) if problem.known else 0
    freedom = max(residual.size + told - int(request.free.sum()), 1)
    scatter = max(float(residual @ residual / freedom) ** 0.5, 1e-12)
    resolved = float(residual @ residual) > _RESOLVED**2 * float(weighted @ weighted)
    return scatter, memory(residual, problem.shared.load) if resolved else 1.0


def _widened(spread: Spread, memory_factor: float, weighting: Weighting) -> Spread:
    if memory_factor == 1.0 or weighting.scale == "known":
        return spread
    return replace(
        spread, covariance=spread.covariance * memory_factor, seen=spread.seen * memory_factor, scale=spread.scale * memory_factor**0.5
    )


def spread_in(problem: Problem, request: Request, solved: Solved, loads: NDArray[np.intp]) -> Spread:
    """Return what some of the loads alone would determine, at the joint best point and with its scatter."""
    solution = solved.solution
    kept = np.isin(problem.shared.load, loads)
    told = np.isin(np.arange(len(problem.factors)), loads) if problem.known else np.zeros(0, dtype=bool)
    rows = np.concatenate([kept, told])
    whole = float(solution.residual @ solution.residual) / max(request.y.size - int(request.free.sum()), 1)
    part = replace(
        solution, deviations=solution.deviations[rows], residual=solution.residual[rows], jacobian=solution.jacobian[rows], converged=True
    )
    asked = Request(
        law=request.law,
        x=request.x[rows],
        y=request.y[rows],
        lower=request.lower,
        upper=request.upper,
        fixed=request.fixed,
        start=request.start,
    )
    spread = spread_of(asked, part, scale_known=True)
    factor = whole * solved.memory
    return replace(spread, covariance=spread.covariance * factor, seen=spread.seen * factor, scale=factor**0.5)
