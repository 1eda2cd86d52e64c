"""What the scatter of a leg's points makes of the area under it."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray

__all__ = ["FEWEST_POINTS", "area_variances", "degrees_of_freedom"]

FEWEST_POINTS = 5
"""Fewest points of a leg from which their scatter is seen."""

# Autocorrelations -2/3 and 1/6 of overlapping second differences of white noise: one counts for this part of a free one.
_OVERLAP = 1.0 + 2.0 * (4.0 / 9.0 + 1.0 / 36.0)


def area_variances(rate: FloatArray, stress: FloatArray) -> FloatArray:
    """Return what the scatter of each inner point adds to the variance [Pa²/s²] of the area under a leg, (…, N - 2).

    Each inner point is held against the piece between its neighbours; the scatter found there is taken for its own, so it may
    differ along the leg. It counts with half the distance of the neighbours, as in the trapezoid rule. Curvature counts as scatter, and
    noise that remembers from point to point is not seen.

    Parameters
    ----------
    rate, stress
        Shape (…, N), the rates rising, NaN after the last point; at least three points each.
    """
    known = np.isfinite(rate)
    three = known[..., 2:]
    left, middle, right = (np.where(three, rate[..., at : rate.shape[-1] - 2 + at], 1.0 + at) for at in range(3))
    behind, own, ahead = (np.where(three, stress[..., at : rate.shape[-1] - 2 + at], 1.0) for at in range(3))
    powers = (left > 0.0) & (behind > 0.0) & (own > 0.0) & (ahead > 0.0)
    logs = [np.log(np.where(powers, values, 1.0 + at)) for at, values in enumerate((left, middle, right))]
    place = np.where(powers, (logs[1] - logs[0]) / (logs[2] - logs[0]), (middle - left) / (right - left))
    one, other = np.where(powers, behind, 1.0), np.where(powers, ahead, 1.0)
    heights = np.log(one), np.log(other)
    growth = heights[1] - heights[0]
    expected = np.where(powers, np.exp((1.0 - place) * heights[0] + place * heights[1]), (1.0 - place) * behind + place * ahead)
    with np.errstate(over="ignore"):  # neighbours hundreds of decades apart say nothing about a point
        by_behind = (1.0 - place) * np.exp(place * growth)
        by_ahead = place * np.exp((place - 1.0) * growth)
        inner = (own - expected) ** 2 / (1.0 + by_behind**2 + by_ahead**2)
    steps = np.where(known[..., 1:], np.diff(np.where(known, rate, 0.0)), 0.0)
    nothing = np.zeros_like(steps[..., :1])
    weights = (0.5 * (np.concatenate([nothing, steps], axis=-1) + np.concatenate([steps, nothing], axis=-1))) ** 2
    # The ends have no neighbour on one side: they take the scatter of the point beside them, and make one part with it.
    counted = weights[..., 1:-1].copy()
    counted[..., 0] += weights[..., 0]
    last = known.sum(axis=-1, keepdims=True) - 1
    beside = np.maximum(last - 2, 0)
    ends = np.take_along_axis(weights, np.maximum(last, 0), axis=-1)
    np.put_along_axis(counted, beside, np.take_along_axis(counted, beside, axis=-1) + ends, axis=-1)
    return np.asarray(np.where(three, inner * counted, 0.0))


def degrees_of_freedom(parts: FloatArray) -> FloatArray:
    """Return the degrees of freedom, (…,), of a variance that is the sum of parts (…, N) along the last axis; at least 1.

    Each part is the square of a normal deviate, whose fourth power is on average three times its variance squared (Satterthwaite);
    neighbouring deviates overlap.
    """
    total, squares = parts.sum(axis=-1), (parts**2).sum(axis=-1)
    return np.asarray(np.maximum(3.0 * total**2 / (_OVERLAP * np.where(squares > 0.0, squares, 1.0)), 1.0))
