"""Shear rates as the laws take them: laws are odd in the rate, and powers and logarithms are finite at rate zero."""

from __future__ import annotations

import numpy as np

from rheokit.law import Array

__all__ = ["columns", "line", "logarithm", "positive", "power", "split"]


def split(shear_rate: Array) -> tuple[Array, Array]:
    """Return direction (1, or -1 where the rate is negative) and magnitude; rate zero counts as the limit from above."""
    rate = np.asarray(shear_rate)
    direction = np.where(rate.real < 0.0, -1.0, 1.0)
    return direction, direction * rate


def power(magnitude: Array, exponent: Array | complex) -> Array:
    """Return magnitude to a positive exponent, 0 at magnitude 0 (also for a complex exponent)."""
    zero = magnitude == 0.0
    if not zero.any():
        return np.asarray(magnitude**exponent)
    return np.where(zero, 0.0, np.where(zero, 1.0, magnitude) ** exponent)


def logarithm(magnitude: Array) -> Array:
    """Return the natural logarithm, 0 at magnitude 0, where it only ever multiplies a power that is 0."""
    return np.log(np.where(magnitude == 0.0, 1.0, magnitude))


def columns(*parts: Array) -> Array:
    """Return parts of shape (..., N) side by side as (..., N, k)."""
    arrays = [np.asarray(part) for part in parts]
    together = np.empty((*np.broadcast_shapes(*(array.shape for array in arrays)), len(arrays)), dtype=np.result_type(*arrays))
    for index, array in enumerate(arrays):
        together[..., index] = array
    return together


def positive(shear_rate: Array, shear_stress: Array) -> tuple[Array, Array]:
    """Return the points of positive rate and stress, for guesses; one made-up point when there are none."""
    kept = (shear_rate > 0.0) & (shear_stress > 0.0)
    return (shear_rate[kept], shear_stress[kept]) if kept.any() else (np.ones(1), np.ones(1))


def line(x: Array, y: Array) -> tuple[float, float]:
    """Return intercept and slope of the least-squares line; slope 0 when all x are the same."""
    from_mean = x - x.mean()
    spread = float(from_mean @ from_mean)
    slope = float(from_mean @ y) / spread if spread > 0.0 else 0.0
    return float(y.mean()) - slope * float(x.mean()), slope
