"""A leg between its points: a power law from point to point, a straight line where a rate or stress is not positive."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray

__all__ = ["areas", "crossings", "stress_at"]


def areas(rate: FloatArray, stress: FloatArray) -> FloatArray:
    """Return the area [Pa/s] under each piece, (N - 1,), for rates (N,) that rise."""
    powers = _are_powers(rate, stress)
    left, right = np.where(powers, rate[:-1], 1.0), np.where(powers, rate[1:], 2.0)
    first, last = np.where(powers, stress[:-1], 1.0), np.where(powers, stress[1:], 1.0)
    # With z = (exponent + 1) ln(right / left) the area is first · left · ln(right / left) · (e^z - 1) / z, also at z = 0.
    z = np.log(last * right / (first * left))
    safe = np.where(z == 0.0, 1.0, z)
    curved = first * left * np.log(right / left) * np.where(z == 0.0, 1.0, np.expm1(safe) / safe)
    return np.where(powers, curved, 0.5 * (stress[:-1] + stress[1:]) * np.diff(rate))


def stress_at(rate: FloatArray, stress: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return stresses [Pa] at wanted rates (M,) inside the range of the rates (N,), which rise."""
    piece = np.clip(np.searchsorted(rate, wanted, side="right") - 1, 0, rate.size - 2)
    powers = _are_powers(rate, stress)[piece] & (wanted > 0.0)
    left, right, first, last = rate[piece], rate[piece + 1], stress[piece], stress[piece + 1]
    straight = first + (last - first) * ((wanted - left) / (right - left))
    exact = np.where(wanted == left, first, np.where(wanted == right, last, straight))
    on_curve = powers & (wanted != left) & (wanted != right)
    place = np.log(wanted[on_curve] / left[on_curve]) / np.log(right[on_curve] / left[on_curve])
    exact[on_curve] = first[on_curve] * (last[on_curve] / first[on_curve]) ** place
    return exact


def crossings(rate: FloatArray, one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the rates between common points (N,) at which two legs cross."""
    difference = one - other
    at = np.flatnonzero(difference[:-1] * difference[1:] < 0.0)
    powers = (_are_powers(rate, one) & _are_powers(rate, other))[at]
    left, right = rate[at], rate[at + 1]
    found = left + (right - left) * difference[at] / (difference[at] - difference[at + 1])
    # The logarithm of the ratio of two power laws is straight over the logarithm of the rate.
    begin, end = np.log(one[at[powers]] / other[at[powers]]), np.log(one[at[powers] + 1] / other[at[powers] + 1])
    found[powers] = left[powers] * (right[powers] / left[powers]) ** (begin / (begin - end))
    return found


def _are_powers(rate: FloatArray, stress: FloatArray) -> NDArray[np.bool_]:
    return (rate[:-1] > 0.0) & (stress[:-1] > 0.0) & (stress[1:] > 0.0)
