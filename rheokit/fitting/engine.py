"""The engine: from a request and a weighting to the best point, stationary to rounding. numpy only.

Search (closed form and grid where the law has a basis, the guess or start where it has none), then damped Gauss-Newton on all free
parameters with the exact Jacobian. Relative weighting repeats the last part with deviations from the fitted values.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.fitting.descent import Descent, descend
from rheokit.fitting.projection import can_project, needs_start, search
from rheokit.fitting.request import Request
from rheokit.fitting.slope import LEAST_DAMPING, ROUNDING, Slope
from rheokit.fitting.weighting import Weighting

__all__ = ["Solution", "solve"]

_MOST_ROUNDS = 40
# Deviations that moved by more than this factor were a bad start for the search: it is repeated with better ones.
_MOVED = 2.0
# Nearer to stationary than this (as a cosine) undamped steps are tried, as long as each halves it.
_NEAR, _HALVED = 0.03, 0.5
# Relative change of the deviations from one floor to the next that is rounding.
_SETTLED = 1e-11
# Where the best fit lies at infinity, as without a low-rate plateau, every round goes on for ever by less; this offset is close enough,
# for the parameters that drift are not determined anyway.
_DRIFTING = 1e-4


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
    converged, settled
        Whether the point is stationary, and whether the deviations are those of the fitted values.
    """

    point: FloatArray
    deviations: FloatArray
    residual: FloatArray
    jacobian: FloatArray
    converged: bool
    settled: bool


def solve(request: Request, weighting: Weighting) -> Solution:
    """Return the weighted least-squares solution.

    Raises
    ------
    FitError
        When there is nothing to start from, the law has no finite value there, or the weights cannot be formed.
    """
    # A trial point may overflow; it is refused for being not finite, so numpy need not speak up as well.
    with np.errstate(all="ignore"):
        deviations = weighting.first(request.x, request.y)
        start = _start(request, deviations)
        if weighting.follows_fit:
            slope, deviations, settled = _settle(request, weighting, start, deviations)
            converged = settled
        else:
            end = _minimise(request, deviations, start)
            slope, converged, settled = end.slope, end.converged, True
        slope = _snapped(request, deviations, slope)
    return Solution(
        point=_whole(request, slope.point),
        deviations=deviations,
        residual=slope.residual,
        jacobian=slope.jacobian,
        converged=converged,
        settled=settled,
    )


def _snapped(request: Request, deviations: FloatArray, slope: Slope) -> Slope:
    """Put parameters that differ from a bound by rounding in the fitted values only at that bound."""
    lower, upper = slope.lower, slope.upper
    bound = np.where(slope.point - lower < upper - slope.point, lower, upper)
    effect = np.abs(slope.point - bound) * slope.norms
    near = (effect > 0.0) & (effect <= 8.0 * ROUNDING * _size(request, deviations) ** 0.5)
    if not near.any():
        return slope
    point = np.where(near, bound, slope.point)
    return Slope(point, *_evaluate(request, deviations, point), lower, upper)


def _settle(request: Request, weighting: Weighting, start: FloatArray, guessed: FloatArray) -> tuple[Slope, FloatArray, bool]:
    """Step with deviations from the fitted values until the point is stationary under its own deviations."""
    law, free = request.law, request.free
    deviations = weighting.of_fit(law.value(request.x, *start))
    ratio = deviations / guessed
    point = (_start(request, deviations) if max(ratio.max(), 1.0 / ratio.min()) > _MOVED else start)[free]
    before, trusted, at_floor = math.inf, True, False
    for _ in range(_MOST_ROUNDS):
        whole = _whole(request, point)
        fitted, previous = law.value(request.x, *whole), deviations
        deviations = weighting.of_fit(fitted)
        derivatives = law.jacobian(request.x, *whole)[:, free] / -deviations[:, None]
        slope = Slope(point, (request.y - fitted) / deviations, derivatives, request.lower[free], request.upper[free])
        settled = at_floor and bool(np.abs(deviations / previous - 1.0).max() <= _SETTLED)
        if settled or slope.is_flat(_size(request, deviations)):
            return slope, deviations, True
        trusted = trusted and (at_floor or slope.cosine < _HALVED * before)
        if trusted and slope.cosine < _NEAR:
            point, at_floor = np.clip(point + slope.step(LEAST_DAMPING)[0], request.lower[free], request.upper[free]), False
        else:
            end = _minimise(request, deviations, whole)
            point, at_floor = end.point, end.converged
        before = slope.cosine
    return slope, deviations, at_floor and slope.offset <= _DRIFTING


def _size(request: Request, deviations: FloatArray) -> float:
    """Return the sum of squares of the weighted data."""
    weighted = request.y / deviations
    return float(weighted @ weighted)


def _start(request: Request, deviations: FloatArray) -> FloatArray:
    """Return where the descent on all parameters begins, (p,)."""
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


def _minimise(request: Request, deviations: FloatArray, point: FloatArray, limit: int = 200) -> Descent:
    """Descend on all free parameters from a point (p,)."""
    free = request.free

    def evaluate(moved: FloatArray) -> tuple[FloatArray, FloatArray]:
        return _evaluate(request, deviations, moved)

    size = _size(request, deviations)
    return descend(evaluate, point[free], request.lower[free], request.upper[free], size=size, limit=limit)


def _evaluate(request: Request, deviations: FloatArray, free_values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return weighted residuals and their derivatives by the free parameters."""
    law, whole = request.law, _whole(request, free_values)
    derivatives = law.jacobian(request.x, *whole)[:, request.free]
    return (request.y - law.value(request.x, *whole)) / deviations, derivatives / -deviations[:, None]


def _whole(request: Request, free_values: FloatArray) -> FloatArray:
    """Return all parameters (p,) from the free ones."""
    whole = request.fixed.copy()
    whole[request.free] = free_values
    return whole
