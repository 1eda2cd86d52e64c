"""The shape of one column over a step: constant, rising, falling, a staircase, straight; measured so that noise does not decide."""

from __future__ import annotations

from math import sqrt
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray

__all__ = [
    "ON_PROGRAMME",
    "changes_of",
    "deviation_from_programme",
    "direction",
    "is_straight_in_time",
    "jumps",
    "level_starts",
    "middle",
    "scatter",
    "spread",
]

Number = TypeVar("Number", np.float64, np.int64)

_BLOCKS = 8
"""A sweep is judged on the means of at most so many blocks of its points: noise between neighbours averages out, a turn does not."""

ON_PROGRAMME = 1e-3
"""Deviation from a programme, over the range, that is none: what three or four printed digits leave."""

_STRAIGHT = 0.03
"""Root mean square distance from the chord over the range: drives follow a linear ramp to about 1 %; a logarithmic ramp over one
decade read on a linear axis is 18 % off."""

_STEP_OVER_NOISE = 2.0
"""Least change between levels over the largest change within one. Levels at 5 to 7 points a decade lie 32 to 46 % apart, and noise of
2 % changes neighbours by 12 % at most; the changes of a ramp shade into each other, the second and third of a linear ramp read on a
logarithmic axis by a factor of 1.7 at most."""

_SINGLE_ROWS = 0.25
"""Part of the levels that may be of one row: a first or last one, or where rows are missing."""

_LEVELS_CARRY = 0.8
"""Share of the change from end to end that lies between the levels."""


_JUMPS, _ROWS_TO_SEE_JUMPS = 0.65, 12
"""Share of all change that the largest quarter of the changes carry: 0.25 for even change, about 0.5 for noise alone, 0.66 for a linear
ramp of 60 points on the logarithmic axis (but 0.25 on the linear one, and the smaller counts), near 1 for clean levels."""


_ENOUGH = 50_000
"""Rows whose ranks tell those of all: the median of so many evenly taken ones has the rank of one within 0.5 % of the middle at two
standard errors, and what is decided by it has margins of 2 % of its value and more."""

_MANY = 1000
"""Points from which finding a rank is quicker than sorting."""


def changes_of(values: NDArray[Number]) -> NDArray[Number]:
    """Return the change from each value to the next; `np.diff` costs several times as much where there are few."""
    return values[1:] - values[:-1]


def middle(values: FloatArray) -> float:
    """Return the median."""
    values = _thinned(values)
    half = values.size // 2
    ranks = (half,) if values.size % 2 else (half - 1, half)
    ordered = _in_order(values, ranks)
    return float(ordered[half]) if values.size % 2 else float(0.5 * (ordered[half - 1] + ordered[half]))


def _thinned(values: FloatArray) -> FloatArray:
    """Return every so many-th of very many values, for ranks alone."""
    return values[:: max(1, values.size // _ENOUGH)]


def _in_order(values: FloatArray, ranks: tuple[int, ...]) -> FloatArray:
    """Return the values with those of some ranks where sorting would put them: sorted, when there are few of them."""
    if values.size >= _MANY:
        return np.partition(values, ranks)
    ordered = values.copy()
    ordered.sort()
    return ordered


def spread(values: FloatArray) -> float:
    """Return the distance between the tenth and the ninetieth part of the points over the median: one in ten may still be settling."""
    values = _thinned(values)
    cut, half = (values.size - 1) // 10, values.size // 2
    low, high = cut, values.size - 1 - cut
    ordered = _in_order(values, (low, max(half - 1, 0), half, high))
    level = abs(float(ordered[half]) if values.size % 2 else float(0.5 * (ordered[half - 1] + ordered[half])))
    apart = float(ordered[high] - ordered[low])
    return apart / level if level > 0.0 else 0.0 if apart == 0.0 else np.inf


def scatter(values: FloatArray) -> float:
    """Return the noise of a column over its level: the median change from row to row, as a standard deviation; a drift adds little."""
    level = abs(middle(values))
    if values.size < 2 or level == 0.0:
        return 0.0
    # Of a normal distribution the median distance from the mean is 0.6745 standard deviations, and a difference has √2 of them.
    return middle(np.abs(changes_of(values))) / (0.6745 * sqrt(2.0) * level)


def direction(values: FloatArray) -> int:
    """Return 1 when the values rise from end to end, -1 when they fall, 0 when they do neither or jump once only."""
    if values.size < 3:
        return 0
    blocks = min(_BLOCKS, values.size)
    edges = np.arange(blocks + 1) * values.size // blocks
    means = np.add.reduceat(values, edges[:-1]) / changes_of(edges)
    changes = changes_of(means)
    sign = 1 if changes[0] > 0.0 else -1
    return sign if (sign * changes > 0.0).all() else 0


def level_starts(values: FloatArray) -> tuple[int, ...]:
    """Return the first row of each level of a staircase: three levels or more, all up or all down, of two rows each on the average.

    Empty when the values are no staircase, on the linear or the logarithmic axis.
    """
    if values.size < 6:
        return ()
    found = _levels(changes_of(values))
    if not found and (values > 0.0).all():
        found = _levels(changes_of(np.log(values)))
    return found


def _levels(changes: FloatArray) -> tuple[int, ...]:
    """Split the changes into those within levels and those between, where there is a clear gap and not too many are between."""
    sizes = np.abs(changes)
    if sizes.max() < _STEP_OVER_NOISE * middle(sizes):  # even changes, as in a ramp
        return ()
    order = np.argsort(-sizes, kind="stable")
    ordered = sizes[order]
    most = (changes.size + 1) // 2
    between = np.arange(2, min(most, changes.size - 1) + 1)
    if between.size == 0 or ordered[0] == 0.0:
        return ()
    with np.errstate(divide="ignore", invalid="ignore"):
        gaps = ordered[between - 1] / ordered[between]
    gaps[np.isnan(gaps)] = 0.0
    count = int(between[int(np.argmax(gaps))])
    steps, starts = changes[order[:count]], (0, *sorted((order[:count] + 1).tolist()))
    one_way = (steps > 0.0).all() or (steps < 0.0).all()
    if gaps.max() < _STEP_OVER_NOISE or not one_way or abs(steps.sum()) < _LEVELS_CARRY * abs(changes.sum()):
        return ()
    single = np.count_nonzero(np.diff([*starts, changes.size + 1]) == 1)
    return starts if single <= _SINGLE_ROWS * len(starts) else ()


def jumps(values: FloatArray) -> bool:
    """Tell whether few of the rows carry most of the change, on either axis: a staircase that noise blurs, perhaps."""
    if values.size < _ROWS_TO_SEE_JUMPS:
        return False
    if _share_of_largest_quarter(changes_of(values)) < _JUMPS:
        return False
    return not (values > 0.0).all() or _share_of_largest_quarter(changes_of(np.log(values))) >= _JUMPS


def _share_of_largest_quarter(changes: FloatArray) -> float:
    sizes = np.abs(changes)
    total, from_rank = float(sizes.sum()), sizes.size - sizes.size // 4
    return float(_in_order(sizes, (from_rank,))[from_rank:].sum()) / total if total > 0.0 else 0.0


def is_straight_in_time(values: FloatArray, time: FloatArray) -> bool:
    """Tell whether the values change in proportion to time."""
    return _off_chord(values, time) <= _STRAIGHT


def deviation_from_programme(values: FloatArray, time: FloatArray) -> float:
    """Return how far the values are from a programme a drive could follow, over their range.

    A programme is straight in time or from row to row, on the linear or the logarithmic axis; the nearest of the four counts.
    """
    rows = np.arange(values.size, dtype=np.float64)
    scales = [values, np.log(values)] if (values > 0.0).all() else [values]
    best = np.inf
    for scale in scales:
        for over in (time, rows):
            best = min(best, _off_chord(scale, over))
            if best <= ON_PROGRAMME:  # nearer is only the rounding of the digits
                return best
    return best


def _off_chord(values: FloatArray, over: FloatArray) -> float:
    span, length = float(values.max() - values.min()), float(over[-1] - over[0])
    if span <= 0.0 or length <= 0.0:
        return 0.0 if span <= 0.0 else np.inf
    slope, centre = np.float64(values[-1] - values[0]) / length, float(over[0])
    apart = values - (values[0] + slope * (over - centre))
    apart -= np.add.reduce(apart) / apart.size
    return sqrt(float(np.dot(apart, apart)) / apart.size) / span
