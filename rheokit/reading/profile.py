"""The shape of one column over a step: constant, rising, falling, a staircase, straight; measured so that noise does not decide."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray

__all__ = ["deviation_from_programme", "direction", "is_staircase", "is_straight_in_time", "middle", "spread"]

_BLOCKS = 8
"""A sweep is judged on the means of at most so many blocks of its points: noise between neighbours averages out, a turn does not."""

_STRAIGHT = 0.03
"""Root mean square distance from the chord over the range: drives follow a linear ramp to about 1 %; a logarithmic ramp over one
decade read on a linear axis is 18 % off."""

_STAIRS = 0.95
"""Share of all change that the larger half of the changes carry, on the linear and on the logarithmic axis: 0.5 for even change, about
0.8 for a linear ramp read on a logarithmic axis, 1 for levels held over several rows."""


def middle(values: FloatArray) -> float:
    """Return the median."""
    ordered = np.sort(values)
    half = ordered.size // 2
    return float(ordered[half]) if ordered.size % 2 else float(0.5 * (ordered[half - 1] + ordered[half]))


def spread(values: FloatArray) -> float:
    """Return the distance between the tenth and the ninetieth part of the points over the median: one in ten may still be settling."""
    ordered = np.sort(values)
    cut = (ordered.size - 1) // 10
    apart, level = float(ordered[ordered.size - 1 - cut] - ordered[cut]), abs(middle(values))
    return apart / level if level > 0.0 else 0.0 if apart == 0.0 else np.inf


def direction(values: FloatArray) -> int:
    """Return 1 when the values rise from end to end, -1 when they fall, 0 when they do neither or jump once only."""
    if values.size < 3:
        return 0
    edges = np.linspace(0, values.size, min(_BLOCKS, values.size) + 1).astype(np.intp)
    means = np.add.reduceat(values, edges[:-1]) / np.diff(edges)
    changes = np.diff(means)
    sign = 1 if changes[0] > 0.0 else -1
    return sign if (sign * changes > 0.0).all() else 0


def is_staircase(values: FloatArray) -> bool:
    """Tell whether the values stand on three or more levels of several rows each."""
    if values.size < 6 or not (values > 0.0).all():
        return False
    return min(_share_of_larger_half(values), _share_of_larger_half(np.log(values))) >= _STAIRS


def _share_of_larger_half(values: FloatArray) -> float:
    changes = np.sort(np.abs(np.diff(values)))
    total = float(changes.sum())
    return float(changes[changes.size // 2 :].sum()) / total if total > 0.0 else 0.0


def is_straight_in_time(values: FloatArray, time: FloatArray) -> bool:
    """Tell whether the values change in proportion to time."""
    return _off_chord(values, time) <= _STRAIGHT


def deviation_from_programme(values: FloatArray, time: FloatArray) -> float:
    """Return how far the values are from a programme a drive could follow, over their range.

    A programme is straight in time or from row to row, on the linear or the logarithmic axis; the nearest of the four counts.
    """
    rows = np.arange(values.size, dtype=np.float64)
    scales = [values, np.log(values)] if (values > 0.0).all() else [values]
    return min(_off_chord(scale, over) for scale in scales for over in (time, rows))


def _off_chord(values: FloatArray, over: FloatArray) -> float:
    span, length = float(values.max() - values.min()), float(over[-1] - over[0])
    if span <= 0.0 or length <= 0.0:
        return 0.0 if span <= 0.0 else np.inf
    slope, centre = np.float64(values[-1] - values[0]) / length, float(over[0])
    apart = values - (values[0] + slope * (over - centre))
    return float(np.sqrt(np.mean((apart - apart.mean()) ** 2))) / span
