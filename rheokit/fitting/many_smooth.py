"""Deviations to begin with, where they follow the fit: from the median of each point and its neighbours, for many curves at once."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_points import Points
from rheokit.fitting.many_view import IndexArray

__all__ = ["first_weights"]


def first_weights(points: Points, floor: FloatArray) -> FloatArray:
    """Return weights (M, B) by the rule of `Weighting.first`; missing points, put last, stand aside."""
    rates = points.x if points.used is None else np.where(points.used, points.x, np.inf)
    ordered = bool((rates[1:] >= rates[:-1]).all())
    order = None if ordered else np.argsort(rates, axis=0, kind="stable")
    y = points.y if order is None else np.take_along_axis(np.broadcast_to(points.y, points.y.shape), order, axis=0)
    smooth = _median_of_three(y if points.used is None else _filled(y, points.count))
    sizes = np.hypot(np.maximum(smooth, 0.0), floor)
    if order is not None:
        sorted_sizes, sizes = sizes, np.empty_like(sizes)
        np.put_along_axis(sizes, np.broadcast_to(order, sizes.shape), sorted_sizes, axis=0)
    if not (sizes > 0.0).all():
        sizes = np.where(sizes > 0.0, sizes, _usual(sizes, np.abs(points.y).max(axis=0, initial=0.0)))
    return points.masked(1.0 / sizes)


def _filled(y: FloatArray, count: IndexArray) -> FloatArray:
    """Return stresses with the last one used repeated in place of those missing, which stand at the end."""
    rows = np.minimum(np.arange(len(y))[:, None], np.maximum(count - 1, 0))
    return np.take_along_axis(y, rows, axis=0)


def _usual(sizes: FloatArray, largest: FloatArray) -> FloatArray:
    """Return the median of the positive sizes of each curve, for want of one the largest stress, for want of that 1, (B,)."""
    positive = sizes > 0.0
    ordered = np.sort(np.where(positive, sizes, np.inf), axis=0)
    middle = np.maximum(positive.sum(axis=0) - 1, 0) / 2.0
    ends = [np.take_along_axis(ordered, side(middle).astype(np.intp)[None], axis=0)[0] for side in (np.floor, np.ceil)]
    return np.where(positive.any(axis=0), 0.5 * (ends[0] + ends[1]), np.where(largest > 0.0, largest, 1.0))


def _median_of_three(y: FloatArray) -> FloatArray:
    """Return the median of each row and its two neighbours; the ends take that of the three outermost."""
    if len(y) < 3:
        return y
    low, middle, high = y[:-2], y[1:-1], y[2:]
    inner = np.maximum(np.minimum(low, high), np.minimum(np.maximum(low, high), middle))
    return np.concatenate([inner[:1], inner, inner[-1:]])
