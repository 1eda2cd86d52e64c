"""The two tangents of a stress ramp for many redrawn ramps at once: sums over every window, no loop over the redrawings."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError

__all__ = ["LOWER_PART", "WINDOW", "Tangents", "Windows", "windows_of"]

WINDOW, LOWER_PART = 1.2, 1.0 / 3.0
"""Width in stress of the window of the upper tangent, as a factor; and up to which part of its middle the lower tangent goes (both our
own settings)."""

_IN_WINDOW, _IN_LOWER = 5, 5
IndexArray = NDArray[np.intp]


@dataclass(frozen=True, kw_only=True, eq=False)
class Windows:
    """First and last point of every window, (W,)."""

    first: IndexArray
    last: IndexArray


def windows_of(x: FloatArray) -> Windows:
    """Return every window of a factor WINDOW in stress, at least five points, over sorted logarithms of stress (N,).

    Raises
    ------
    FitError
        When no five points lie close enough together.
    """
    first = np.arange(x.size)
    last = np.searchsorted(x, x + math.log(WINDOW) * (1.0 + 1e-9), side="right") - 1
    last = np.maximum(last, first + _IN_WINDOW - 1)
    usable = last < x.size
    first, last = first[usable], last[usable]
    usable = x[last] - x[first] <= 3.0 * math.log(WINDOW)
    # A window that ends where the one before ends lies inside it.
    usable[1:] &= last[1:] > last[:-1]
    if not usable.any():
        raise FitError(f"no {_IN_WINDOW} points of the ramp lie within a factor of {WINDOW**3:.2g} in stress; record more points")
    return Windows(first=first[usable], last=last[usable])


@dataclass(frozen=True, kw_only=True, eq=False)
class Tangents:
    """The tangents of R ramps.

    Attributes
    ----------
    lower, upper
        Intercept and slope, (2, R).
    crossing
        Logarithm of the stress where they cross, (R,); NaN where they do not.
    window, last
        Which window the upper tangent took, and the last point of the lower one, (R,).
    end_slope
        Slope of the last window of the ramp, (R,).
    """

    lower: FloatArray
    upper: FloatArray
    crossing: FloatArray
    window: IndexArray
    last: IndexArray
    end_slope: FloatArray

    @classmethod
    def of(cls, x: FloatArray, y: FloatArray, windows: Windows) -> Tangents:
        """Return the tangents of ramps y (R, N) over the same x (N,)."""
        centred = x - x.mean()
        sums = tuple(_before(values) for values in (np.ones_like(x), centred, centred**2))
        products = _before(y), _before(y * centred)
        intercepts, slopes = _lines(sums, products, windows.first, windows.last)
        window = np.argmax(slopes, axis=1)
        rows = np.arange(y.shape[0])
        upper = np.stack([intercepts[rows, window], slopes[rows, window]])
        middle = 0.5 * (x[windows.first] + x[windows.last])[window]
        last = np.maximum(np.searchsorted(x, middle + math.log(LOWER_PART), side="right") - 1, _IN_LOWER - 1)
        at = tuple(np.take(one, last + 1) - one[0] for one in sums)
        sums_y = tuple(one[rows, last + 1] for one in products)
        lower = np.stack(_line(at, sums_y))
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = (lower[0] - upper[0]) / (upper[1] - lower[1]) + x.mean()
        crossing[~(upper[1] > lower[1])] = np.nan
        for line in (lower, upper):
            line[0] -= line[1] * x.mean()
        return cls(lower=lower, upper=upper, crossing=crossing, window=window, last=last, end_slope=slopes[:, -1])


def _before(values: FloatArray) -> FloatArray:
    """Return the sums of all values before each place, (…, N + 1)."""
    return np.concatenate([np.zeros((*values.shape[:-1], 1)), np.cumsum(values, axis=-1)], axis=-1)


def _lines(
    sums: tuple[FloatArray, ...], products: tuple[FloatArray, ...], first: IndexArray, last: IndexArray
) -> tuple[FloatArray, FloatArray]:
    """Return intercept and slope of the line through every window of every ramp, (R, W) each."""
    inside = tuple(one[last + 1] - one[first] for one in sums)
    inside_y = tuple(one[:, last + 1] - one[:, first] for one in products)
    return _line(inside, inside_y)


def _line(sums: tuple[FloatArray, ...], products: tuple[FloatArray, ...]) -> tuple[FloatArray, FloatArray]:
    count, x, squares = sums
    y, both = products
    spread = count * squares - x**2
    slope = (count * both - x * y) / spread
    return (y - slope * x) / count, slope
