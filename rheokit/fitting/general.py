"""Any law without a grid: several starts and, where those do not settle it, several solvers; the lowest sum of squares is kept.

Every candidate is finished by the engine's own descent, so that the answer is stationary to rounding whichever solver came near it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.finding import Finding
from rheokit.fitting.engine import Solution, solve
from rheokit.fitting.projection import can_project
from rheokit.fitting.request import Request
from rheokit.fitting.slope import ROUNDING, UNSEEN
from rheokit.fitting.solvers import solver_ends
from rheokit.fitting.weighting import Weighting

__all__ = ["solve_general"]

_FACTORS = (0.1, 10.0, 0.01, 100.0)
"""By what all of a start is multiplied for further starts: a start is more often wrong by decades than by sign."""
_SAME_COST = 1e-6
"""Relative difference of two sums of squares below which two starts arrived equally low: a thousandth of a standard error or less."""
_SAME_PLACE = 1e-3
"""Relative difference of a parameter above which equally low places are not the same."""

Starts = Iterator[tuple[str, FloatArray]]
"""What a start is called, and all parameters there, (p,)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _End:
    """Where one start led: what it was called, the solution, what was minimised and how much of that is rounding."""

    name: str
    solution: Solution
    cost: float
    rounding: float

    def is_as_low_as(self, other: _End) -> bool:
        """Tell whether this arrived, no higher than another to all that matters."""
        return self.solution.converged and self.cost <= other.cost + _SAME_COST * abs(other.cost) + self.rounding

    def sees_everything(self) -> bool:
        """Tell whether every free parameter has an effect of its own here; where none has, a slope vanishes without being lowest."""
        norms = np.sqrt(np.einsum("np,np->p", self.solution.jacobian, self.solution.jacobian))
        if not (norms > 0.0).all():
            return False
        sizes = np.linalg.svd(self.solution.jacobian / norms, compute_uv=False)
        return bool(sizes[-1] > UNSEEN * sizes[0]) if sizes.size else True


def solve_general(request: Request, weighting: Weighting, first: Solution, *, others: bool) -> tuple[Solution, tuple[Finding, ...]]:
    """Return the best solution over several starts and solvers, and what they disagreed about.

    Parameters
    ----------
    request, weighting
        What is asked.
    first
        Where the engine arrived from the start or guess.
    others
        Whether the solvers of scipy are asked where the engine's own descents do not settle it.
    """
    ends = [_end("the start", request, weighting, first), *_ends(request, weighting, _further_starts(request))]
    first_point = _first(request)
    if others and not _is_settled(ends, first_point):
        for start in (("the start", first_point), *_further_starts(request)):
            ends += _ends(request, weighting, solver_ends(request, weighting, *start))
            if _is_settled(ends, first_point):
                break
    best = _best(ends, first_point)
    return best.solution, (*_other_solver(ends[0], best), *_disagreement(ends, best))


def _end(name: str, request: Request, weighting: Weighting, solution: Solution) -> _End:
    with np.errstate(all="ignore"):  # far away a square may be more than a number holds
        cost = weighting.cost(request.y, request.y - solution.residual * solution.deviations, solution.residual)
        squares, weighted = float(solution.residual @ solution.residual), request.y / solution.deviations
    cost = cost if np.isfinite(cost) else np.inf
    rounding = 64.0 * ROUNDING * (squares * float(weighted @ weighted)) ** 0.5
    return _End(name=name, solution=solution, cost=cost, rounding=rounding)


def _ends(request: Request, weighting: Weighting, starts: Starts) -> list[_End]:
    """Descend from every start, leaving out those from which nothing can be evaluated."""
    ends = []
    for name, start in starts:
        try:
            with np.errstate(all="ignore"):  # a law may overflow far from its data; what is no number there is refused
                solution = solve(replace(request, start=np.where(request.free, start, np.nan)), weighting)
        except FitError:
            continue
        ends.append(_end(name, request, weighting, solution))
    return ends


def _first(request: Request) -> FloatArray:
    """Return the caller's start with the law's guess where he gave none, (p,)."""
    return request.first_point(request.free)


def _further_starts(request: Request) -> Starts:
    """Yield the law's own guess where the caller gave another start, then the first start scaled."""
    if request.law.guess is not None and np.isfinite(request.start).any():
        yield "the guess", _first(replace(request, start=np.full(request.start.size, np.nan)))
    if can_project(request):
        return  # its grid has been over all decades
    first = _first(request)
    for factor in _FACTORS:
        yield f"{factor:g} times the start", np.where(request.free, np.clip(first * factor, request.lower, request.upper), request.fixed)
    if request.free.sum() > 1:
        # Without one of its parts at a time: a descent that lets two of them vanish together cannot come back for one.
        for index in np.flatnonzero(request.free & np.isfinite(request.lower)):
            edge = np.where(request.free, first, request.fixed)
            edge[index] = request.lower[index]
            yield f"the start with its {request.law.names[index]} at the lower bound", edge


def _best(ends: list[_End], start: FloatArray) -> _End:
    """Return the lowest end that arrived, of equally low ones that most like the start (p,) in its proportions; else the lowest."""
    lowest = min(ends, key=lambda end: (not end.solution.converged, end.cost))
    level = [end for end in ends if end.is_as_low_as(lowest)] or [lowest]
    return level[0] if level[0] is ends[0] else max(level, key=lambda end: _likeness(end.solution.point, start))


def _likeness(point: FloatArray, start: FloatArray) -> float:
    """Return the cosine between a point and a start, each parameter in units of its start."""
    scaled = point / np.where(start != 0.0, np.abs(start), 1.0)
    size = float(np.linalg.norm(scaled)) * math.sqrt(start.size)
    return float(scaled @ np.sign(start)) / max(size, float(np.finfo(np.float64).tiny))


def _is_settled(ends: list[_End], start: FloatArray) -> bool:
    """Tell whether the lowest place is one that the first start led to, or two starts did, and every parameter counts there."""
    best = _best(ends, start)
    if not best.solution.converged or best.cost > min(end.cost for end in ends) + _SAME_COST * abs(best.cost) + best.rounding:
        return False
    return best.sees_everything() and (best is ends[0] or sum(end.is_as_low_as(best) for end in ends) > 1)


def _other_solver(first: _End, best: _End) -> tuple[Finding, ...]:
    """Say that the descent from the first start did not lead to the answer."""
    if best is first:
        return ()
    why = "ended higher" if first.solution.converged else "did not arrive"
    reason = f"the descent from the start {why}; the answer was found from {best.name}"
    return (Finding(check="start_replaced", severity="info", reason=reason),)


def _disagreement(ends: list[_End], best: _End) -> tuple[Finding, ...]:
    """Say when starts arrived in different places."""
    if not best.solution.converged:
        return ()
    found = []
    level = [end for end in ends if end.is_as_low_as(best)]
    elsewhere = [end for end in ends if end.solution.converged and end not in level]
    if elsewhere:
        alone = len(level) == 1 and best is not ends[0]
        lower = f"{len(elsewhere)} of {len(ends)} starts ended in other places with a larger sum of squares; the lowest is kept"
        reason = lower + (", to which one start alone led: look at the curve before using it" if alone else "")
        found.append(Finding(check="starts_disagree", severity="caution" if alone else "info", reason=reason, value=float(len(elsewhere))))
    point = best.solution.point
    if best.sees_everything() and any((np.abs(end.solution.point - point) > _SAME_PLACE * np.abs(point)).any() for end in level):
        reason = "other parameters fit equally well, as where two terms of the law change places; those most like the start are kept"
        found.append(Finding(check="another_place_as_good", severity="info", reason=reason))
    return tuple(found)
