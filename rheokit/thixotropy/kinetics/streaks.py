"""Whether residuals go in streaks: means of neighbouring residuals that scatter more than single points allow."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray

__all__ = ["STREAKS", "Streaks", "memory", "streaks"]

STREAKS = 3.09
"""Normal deviate from which residuals are not taken for independent: by chance once in a thousand fits."""

# Residuals in a block: few enough to follow a misfit inside one leg, many enough to lift it out of the scatter.
_BLOCK = 8
# Overlapping second differences of white noise: one counts for this part of a free one (autocorrelations -2/3 and 1/6).
_OVERLAP = 1.0 + 2.0 * (4.0 / 9.0 + 1.0 / 36.0)
_LONGEST, _FEWEST_PAIRS = 60, 10


class Streaks(NamedTuple):
    """How far block means scatter beyond single points: a normal deviate, and the root mean squares of the smooth part and of points."""

    deviate: float
    smooth: float
    single: float


def streaks(residual: FloatArray, load: NDArray[np.intp]) -> Streaks:
    """Return how much residuals (N,) go in streaks, those of each load in their order.

    The variance of a point is that of second differences over 6, which no smooth course adds to; that of block means, times the points
    in a block, is the same where residuals are independent. Their ratio is brought to a normal deviate.

    References
    ----------
    Paulson, Ann. Math. Statist. 13 (1942) 233, for the deviate of a variance ratio (from memory).
    """
    differences = []
    for one in np.unique(load):
        part = residual[load == one]
        differences.append(part[2:] - 2.0 * part[1:-1] + part[:-2])
    second, blocks = np.concatenate(differences), _block_means(residual, load, _BLOCK)
    if second.size < _BLOCK or blocks.size < 2:
        return Streaks(deviate=0.0, smooth=0.0, single=float(np.sqrt(np.mean(residual**2))))
    point = float(np.mean(second**2)) / 6.0
    smooth = max(float(np.mean(blocks**2)) - point / _BLOCK, 0.0) ** 0.5
    if point == 0.0:
        return Streaks(deviate=0.0, smooth=smooth, single=0.0)
    root = (float(np.mean(blocks**2)) * _BLOCK / point) ** (1.0 / 3.0)
    first, other = 2.0 / (9.0 * blocks.size), 2.0 * _OVERLAP / (9.0 * second.size)
    deviate = ((1.0 - other) * root - (1.0 - first)) / math.sqrt(first + other * root**2)
    return Streaks(deviate=deviate, smooth=smooth, single=point**0.5)


def memory(residual: FloatArray, load: NDArray[np.intp]) -> float:
    """Return by how much the variance of a mean grows because residuals remember: 1 where they do not go in streaks.

    That is 1 + 2 times the sum of the autocorrelations within the loads, from the first one on, until one drowns in its own error; or, if
    more, what means of 8 or 16 neighbours scatter beyond independent ones, since a slow part under white scatter drowns early.
    """
    size = float(residual @ residual)
    if size == 0.0 or streaks(residual, load).deviate < STREAKS:
        return 1.0
    total = 1.0
    for lag in range(1, _LONGEST):
        same = load[lag:] == load[:-lag]
        count = int(same.sum())
        if count < _FEWEST_PAIRS:
            break
        alike = float((residual[lag:] * residual[:-lag])[same].sum()) / size * residual.size / count
        if alike * count**0.5 < 1.0:
            break
        total += 2.0 * alike
    mean = size / residual.size
    return max(total, *(float(np.mean(_block_means(residual, load, count) ** 2)) * count / mean for count in (_BLOCK, 2 * _BLOCK)))


def _block_means(residual: FloatArray, load: NDArray[np.intp], count: int) -> FloatArray:
    """Return the means of so many neighbours at a time within each load; what is left at the end of a load is not used."""
    means = []
    for one in np.unique(load):
        part = residual[load == one]
        whole = part.size // count
        means.append(part[: whole * count].reshape(whole, count).mean(axis=1))
    return np.concatenate(means)
