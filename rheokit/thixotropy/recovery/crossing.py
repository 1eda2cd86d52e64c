"""When a rising curve passes a level, and between which times it may have."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rheokit.base.curve import FloatArray

__all__ = ["Crossing", "crossing", "passing"]

_GRID, _HALVINGS = 40, 45


@dataclass(frozen=True, kw_only=True)
class Crossing:
    """When a level is passed.

    Attributes
    ----------
    when
        `inside` the times measured, or `before` or `after` them.
    time
        The time [s]; the first or last measured where it lies outside.
    lower, upper
        Between which times [s] the curve may have passed it; 0 and infinite where the data leave an end open.
    """

    when: Literal["before", "inside", "after"]
    time: float
    lower: float
    upper: float


def passing(height: Callable[[float], float], first: float, last: float) -> float:
    """Return the first time [s] at which a height becomes zero, the last where it does not; 0 where it has been so from the start."""
    times = _times(first, last)
    passed = np.array([height(time) >= 0.0 for time in times.tolist()])
    return _edge(times, passed, height) if passed.any() else last


def _times(first: float, last: float) -> FloatArray:
    return np.unique(np.concatenate([[0.0], np.geomspace(max(first, 1e-6 * last) / 4.0, last, _GRID), np.linspace(first, last, _GRID)]))


def crossing(height: Callable[[float], float], reach: Callable[[float], float], first: float, last: float) -> Crossing:
    """Return when a height above the level becomes zero.

    The interval holds every time at which the height is within its reach of zero: the pointwise interval of the curve, turned over.

    Parameters
    ----------
    height, reach
        Height above the level at a time [s], and half the width of its interval there.
    first, last
        First and last time measured [s].
    """
    times = _times(first, last)
    heights = np.array([height(time) for time in times.tolist()])
    reaches = np.array([reach(time) for time in times.tolist()])
    above, below = heights + reaches >= 0.0, heights - reaches <= 0.0
    lower = _edge(times, above, lambda time: height(time) + reach(time)) if above.any() else last
    upper = math.inf if below[-1] else _edge(times, ~_until_last(below), lambda time: height(time) - reach(time))
    passed = heights >= 0.0
    if not passed.any():
        return Crossing(when="after", time=last, lower=lower, upper=math.inf)
    time = _edge(times, passed, height)
    if time < first:
        return Crossing(when="before", time=first, lower=0.0, upper=max(upper, first))
    return Crossing(when="inside", time=time, lower=min(lower, time), upper=max(upper, time))


def _until_last(flags: np.ndarray) -> np.ndarray:
    """Return true up to the last true flag, (N,)."""
    places = np.flatnonzero(flags)
    return np.arange(flags.size) <= (places[-1] if places.size else -1)


def _edge(times: FloatArray, beyond: np.ndarray, function: Callable[[float], float]) -> float:
    """Return where a function becomes zero before the first time flagged, by halving."""
    index = int(np.argmax(beyond))
    if index == 0:
        return float(times[0])
    low, high = float(times[index - 1]), float(times[index])
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if function(middle) >= 0.0 else (middle, high)
    return 0.5 * (low + high)
