"""The engine: from a request and a weighting to the best point, stationary to rounding. numpy only.

Search (closed form and grid where the law has a basis, the guess or start where it has none), then damped Gauss-Newton on all free
parameters with the exact Jacobian; deviations that follow the fit are those of every point on the way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.fitting.descent import descend
from rheokit.fitting.projection import can_project, follow, needs_start, search
from rheokit.fitting.request import Request
from rheokit.fitting.single import power_start
from rheokit.fitting.slope import ROUNDING, Slope, Values
from rheokit.fitting.weighting import Weighting

__all__ = ["Solution", "solve"]

# Deviations that moved by more than this factor were a bad start for the search: it is repeated with better ones.
_MOVED = 2.0
# Steps in all parameters, and turns in which they are taken: after one turn without arriving a descent is taken to crawl.
_MOST_STEPS, _MOST_TURNS = 320, 8
# Relative change of the deviations along the valley that is of no account.
_SETTLED = 1e-8


@dataclass(frozen=True, kw_only=True, eq=False)
class Solution:
    """The best point.

    Attributes
    ----------
    point
        All parameters, (p,).
    deviations
        Standard deviations up to the scale (or with it, where it is known), (N,).
    residual, jacobian
        Weighted residuals (N,) and their derivatives by the free parameters (N, f).
    converged
        Whether the point is stationary under deviations that are those of its own fitted values.
    """

    point: FloatArray
    deviations: FloatArray
    residual: FloatArray
    jacobian: FloatArray
    converged: bool


def solve(request: Request, weighting: Weighting) -> Solution:
    """Return the weighted least-squares solution.

    Raises
    ------
    FitError
        When there is nothing to start from, the law has no finite value there, or the weights cannot be formed.
    """
    # A trial point may overflow; it is refused for being not finite, so numpy need not speak up as well.
    with np.errstate(all="ignore"):
        guessed = weighting.first(request.x, request.y)
        start = _start(request, guessed)
        deviations = _deviations(request, weighting, start)
        ratio = deviations / guessed
        if max(ratio.max(), 1.0 / ratio.min()) > _MOVED:
            start = _start(request, deviations)
            deviations = _deviations(request, weighting, start)
        slope, converged = _descend(request, weighting, start, deviations)
    whole = _whole(request, slope.point)
    return Solution(
        point=whole,
        deviations=_deviations(request, weighting, whole),
        residual=slope.residual,
        jacobian=slope.jacobian,
        converged=converged,
    )


def _descend(request: Request, weighting: Weighting, start: FloatArray, deviations: FloatArray) -> tuple[Slope, bool]:
    """Descend on all free parameters; where that crawls, along the valley in those that are not linear, in turns."""
    free = request.free
    lower, upper, weighted = request.lower[free], request.upper[free], request.y / deviations
    size = float(weighted @ weighted)

    def evaluate(free_values: FloatArray) -> Values:
        return _evaluate(request, weighting, free_values)

    point, turns = start, _MOST_TURNS if can_project(request) else 1
    for turn in range(turns):
        end = descend(evaluate, point[free], lower, upper, size=size, limit=_MOST_STEPS // turns)
        converged = end.converged
        if converged or turn == turns - 1:
            break
        before = _deviations(request, weighting, _whole(request, end.point))
        point, on_floor = follow(request, before, _whole(request, end.point))
        after = _deviations(request, weighting, point)
        if on_floor and np.abs(after / before - 1.0).max() <= _SETTLED:
            end, converged = descend(evaluate, point[free], lower, upper, size=size, limit=1), True
            break
        if evaluate(point[free])[2] > end.cost:  # the valley under fixed deviations leads away from that under its own
            point = _whole(request, end.point)
    snapped = _snapped(end.slope, size)
    return (end.slope if snapped is end.point else Slope(snapped, evaluate(snapped), lower, upper)), converged


def _snapped(slope: Slope, size: float) -> FloatArray:
    """Return the point with parameters that differ from a bound by rounding in the fitted values only put at that bound."""
    bound = np.where(slope.point - slope.lower < slope.upper - slope.point, slope.lower, slope.upper)
    effect = np.abs(slope.point - bound) * slope.norms
    near = (effect > 0.0) & (effect <= 8.0 * ROUNDING * size**0.5)
    return np.where(near, bound, slope.point) if near.any() else slope.point


def _deviations(request: Request, weighting: Weighting, point: FloatArray) -> FloatArray:
    """Return the deviations that go with a point (p,), all of them positive."""
    deviations = weighting.of_fit(request.law.value(request.x, *point))
    if not (deviations > 0.0).all():
        raise FitError(
            "a fitted value falls to zero, where its relative weight is infinite; give a floor, use weighting='absolute', "
            "or leave out points that are not positive"
        )
    return deviations


def _start(request: Request, deviations: FloatArray) -> FloatArray:
    """Return where the descent on all parameters begins, (p,)."""
    started = power_start(request, deviations) if np.isnan(request.start).all() else None
    if started is not None:
        return started
    projects = can_project(request)
    needed = needs_start(request) if projects else request.free
    first = request.first_point(needed)
    missing = [name for name, gap in zip(request.law.names, needed & np.isnan(first), strict=True) if gap]
    if missing:
        raise FitError(f"{request.law.name} has no guess for {', '.join(missing)}; give one with start={{{missing[0]!r}: …}}")
    point = search(request, deviations, first) if projects else first
    if not np.isfinite(request.law.value(request.x, *point)).all():
        raise FitError(f"{request.law.name} has no finite value at every point to start from; give another start={{...}}")
    return point


def _evaluate(request: Request, weighting: Weighting, free_values: FloatArray) -> Values:
    """Return weighted residuals, their derivatives by the free parameters and what is minimised."""
    law, whole = request.law, _whole(request, free_values)
    fitted = law.value(request.x, *whole)
    deviations = weighting.of_fit(fitted)
    residual = (request.y - fitted) / deviations
    derivatives = law.jacobian(request.x, *whole)[:, request.free] / -deviations[:, None]
    return residual, derivatives, weighting.cost(request.y, fitted, residual)


def _whole(request: Request, free_values: FloatArray) -> FloatArray:
    """Return all parameters (p,) from the free ones."""
    whole = request.fixed.copy()
    whole[request.free] = free_values
    return whole
