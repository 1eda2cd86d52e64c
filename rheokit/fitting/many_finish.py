"""The last steps of many curves in all their parameters at once, and what the data determine.

A curve is stationary when its residuals are at right angles to the derivatives; for nearly perfect data this is measured on the residuals
themselves, not on what is left of the stresses' products. Same rules as `slope` and `covariance`, which do it for one curve. Everything is
in the search's own coordinates: coefficients first, then the others.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import Factored, inner
from rheokit.fitting.many_sums import Sums, stacked, sums_of
from rheokit.fitting.many_unseen import decompose
from rheokit.fitting.many_view import IndexArray, View
from rheokit.fitting.request import BoolArray
from rheokit.fitting.slope import ROUNDING

__all__ = ["STATIONARY_FOLLOWING", "STATIONARY_MANY", "Finished", "finish"]

STATIONARY_MANY = 1e-6
"""Offset at which a curve counts as stationary and makes its last step.

The best fit is then no farther away than this part of a standard error times the root of the degrees of freedom, and its sum of squares
lower by less than the square of this part; the last step takes most of the rest away, unseen. Source: Bates & Watts, Technometrics 23
(1981) 179 (from memory).
"""
STATIONARY_FOLLOWING = 1e-7
"""The same where the deviations follow the fit, and steps take less of the rest away."""
# Above this condition of the scaled derivatives their products lose too many digits: singular values of the derivatives themselves serve.
_HARD = 3e4
_MOST_ROUNDS = 12
# Where so many curves are near, the others are looked at as well rather than set apart.
_CROWDED = 0.8
# A round that does not bring the offset below this part of the one before is the last.
_PROGRESS = 0.7


@dataclass(frozen=True, kw_only=True, eq=False)
class Finished:
    """Where the curves ended.

    Attributes
    ----------
    place
        Coefficients and coordinates, (q + s, B).
    covariance
        Of those for residuals of unit scale, (q + s, q + s, B); 0 for what is held or at a bound.
    open
        Which of those the data do not determine, (q + s, B).
    squares, size
        Sums of squares of the weighted residuals and of the weighted stresses, (B,).
    stationary
        (B,).
    """

    place: FloatArray
    covariance: FloatArray
    open: BoolArray
    squares: FloatArray
    size: FloatArray
    stationary: BoolArray

    @classmethod
    def at(cls, place: FloatArray) -> Finished:
        """Return curves of which only the place is known."""
        count, curves = place.shape
        return cls(
            place=place,
            covariance=np.zeros((count, count, curves)),
            open=np.ones((count, curves), dtype=bool),
            squares=np.full(curves, np.nan),
            size=np.full(curves, np.nan),
            stationary=np.zeros(curves, dtype=bool),
        )

    def put(self, where: IndexArray, other: Finished, chosen: BoolArray) -> None:
        """Write chosen curves of another, which are those at some positions of this, in their order."""
        names = [field.name for field in fields(self)]
        if where.size == self.squares.size:
            for name in names:
                np.copyto(getattr(self, name), getattr(other, name), where=chosen)
            return
        to, of = where[chosen], np.flatnonzero(chosen)
        for name in names:
            getattr(self, name)[..., to] = getattr(other, name)[..., of]


def finish(view: View, place: FloatArray, chosen: IndexArray, *, stationary: float) -> Finished:
    """Return where undamped steps in all free parameters lead from a place (q + s, B) near the floor of its valley.

    Parameters
    ----------
    view, place
        The curves and where they stand.
    chosen
        Positions of the curves that are near; the others stay where they are.
    stationary
        Offset at which a curve counts as stationary.
    """
    active = np.arange(place.shape[1])
    if chosen.size < _CROWDED * active.size:
        found = Finished.at(place.copy())
        view, place, active = view.take(chosen), place[:, chosen], chosen
        done, moved, before = _look(view, place, stationary)
        found.put(active, done, np.ones(active.size, dtype=bool))
        wanted = np.ones(active.size, dtype=bool)
    else:
        done, moved, before = _look(view, place, stationary)
        found, wanted = done, np.zeros(active.size, dtype=bool)
        wanted[chosen] = True
    going = np.flatnonzero(~done.stationary & wanted & np.isfinite(before))
    for _ in range(_MOST_ROUNDS):
        if not going.size:
            break
        place, before = moved[:, going], before[going]
        if going.size < active.size:
            view, active = view.take(going), active[going]
        done, moved, offset = _look(view, place, stationary)
        # A curve that comes no nearer stays where it was nearest.
        found.put(active, done, offset < before)
        going = np.flatnonzero(~done.stationary & (offset < _PROGRESS * before))
        before = offset
    return found


def _look(view: View, place: FloatArray, stationary: float) -> tuple[Finished, FloatArray, FloatArray]:
    """Return what holds at a place, with stationary curves one step farther, where to go next and the offset."""
    sums = sums_of(view, place)
    free = sums.free
    every = free.size == len(place)
    lower, upper = np.stack([*view.lower, *view.theta_lower]), np.stack([*view.upper, *view.theta_upper])
    here = place if every else place[free]
    if not every:
        lower, upper = lower[free], upper[free]
    slope, squared = (np.array(rows).reshape(free.size, view.size) for rows in (sums.slope, sums.diagonal))
    at_lower, at_upper = here <= lower, here >= upper
    at_end = at_lower | at_upper
    aside = squared == 0.0
    if at_end.any():
        aside |= (at_lower & (slope <= 0.0)) | (at_upper & (slope >= 0.0))
    step, covariance, along, hard = _solved(sums, aside)
    unseen = aside | at_end
    if hard.size:
        columns, residual = stacked(view.take(hard), place[:, hard], free, aside[:, hard])
        step[:, hard], covariance[:, :, hard], along[hard], hidden = decompose(columns, residual)
        unseen[:, hard] |= hidden
    positive = np.where(sums.squares > 0.0, sums.squares, 1.0)
    offset = np.sqrt(along / positive)
    offset = np.where(np.isfinite(offset) & np.isfinite(sums.squares), offset, np.inf)
    enough = np.maximum(stationary, 8.0 * ROUNDING * np.sqrt(sums.size / positive))
    arrived = offset <= enough
    end = np.minimum(np.maximum(here + step, lower), upper)
    # What differs from a bound by rounding of the fitted values only is at that bound.
    slack = (8.0 * ROUNDING) * np.sqrt(sums.size) / np.sqrt(np.where(squared > 0.0, squared, np.inf))
    near_lower, near_upper = ((end - lower <= slack) & arrived, (upper - end <= slack) & arrived)
    if near_lower.any() or near_upper.any():
        end = np.where(near_lower, lower, np.where(near_upper, upper, end))
        unseen |= near_lower | near_upper
    moved, whole, opened = end, covariance, unseen
    if not every:
        moved, opened = place.copy(), np.zeros(place.shape, dtype=bool)
        whole = np.zeros((len(place), len(place), view.size))
        moved[free], opened[free], whole[np.ix_(free, free)] = end, unseen, covariance
    done = Finished(
        place=np.where(arrived, moved, place),
        covariance=whole,
        open=opened,
        squares=sums.squares,
        size=sums.size,
        stationary=arrived,
    )
    return done, moved, offset


def _solved(sums: Sums, aside: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray, IndexArray]:
    """Return step (f, B), covariance (f, f, B), squared length of the residuals along the derivatives (B,) and the hard curves.

    The derivatives are scaled to unit length; those that press against a bound, or are zero, stand aside.
    """
    count, curves = sums.free.size, sums.squares.size
    if not count:
        return (
            np.zeros((0, curves)),
            np.zeros((0, 0, curves)),
            np.zeros(curves),
            np.zeros(0, dtype=np.intp),
        )
    inverse = [1.0 / np.sqrt(norm) for norm in sums.diagonal]
    if aside.any():
        inverse = [np.where(each, 0.0, entry) for each, entry in zip(aside, inverse, strict=True)]
    one = np.ones(curves)
    matrix = [[sums.gram[i][j] * (inverse[i] * inverse[j]) if j < i else one for j in range(i + 1)] for i in range(count)]
    heights = [slope * entry for slope, entry in zip(sums.slope, inverse, strict=True)]
    factored = Factored(matrix)
    moved = factored.solve(heights)
    covariance = np.empty((count, count, curves))
    condition = np.zeros(curves)
    for i, row in enumerate(factored.inverse_rows()):
        condition += row[i]
        for j, entry in enumerate(row):
            covariance[i, j] = covariance[j, i] = entry * (inverse[i] * inverse[j])
    step = np.stack([move * entry for move, entry in zip(moved, inverse, strict=True)])
    return (
        step,
        covariance,
        inner(heights, moved),
        np.flatnonzero(~(condition < _HARD**2)),
    )
