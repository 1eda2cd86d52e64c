"""A leg between its points: a power law from point to point, a straight line where a rate or stress is not positive.

Arrays have points along their last axis, so that one leg and many go the same way; the rates rise.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray

__all__ = ["areas", "areas_between", "crossings", "cut_areas", "stress_at"]

BoolArray = NDArray[np.bool_]

# Halvings that bring a crossing from a piece's width to the last digit of a float.
_HALVINGS = 60


def areas(rate: FloatArray, stress: FloatArray, powers: BoolArray | None = None) -> FloatArray:
    """Return the area [Pa/s] under each piece, (…, N - 1), for rates and stresses (…, N); `powers` says which pieces are power laws."""
    powers = _are_powers(rate, stress) if powers is None else powers
    left, right = np.where(powers, rate[..., :-1], 1.0), np.where(powers, rate[..., 1:], 2.0)
    first, last = np.where(powers, stress[..., :-1], 1.0), np.where(powers, stress[..., 1:], 1.0)
    # With z = (exponent + 1) ln(right / left) the area is first · left · ln(right / left) · (e^z - 1) / z, also at z = 0; from the larger
    # of the two ends, so that nothing overflows.
    width = np.log(right / left)
    z = np.abs(np.log(last) - np.log(first) + width)
    safe = np.where(z == 0.0, 1.0, z)
    curved = np.maximum(first * left, last * right) * width * np.where(z == 0.0, 1.0, -np.expm1(-safe) / safe)
    return np.where(powers, curved, 0.5 * (stress[..., :-1] + stress[..., 1:]) * np.diff(rate))


def areas_between(rate: FloatArray, stress: FloatArray, lowest: FloatArray | float, highest: FloatArray | float) -> FloatArray:
    """Return the area [Pa/s] under that part of each piece that lies between two rates, (…, N - 1); the rates are (…, 1) or numbers.

    A part is of the same kind as its piece, so that the areas of parts add up to that of the piece.
    """
    powers = _are_powers(rate, stress)
    ends = rate[..., :-1], rate[..., 1:], stress[..., :-1], stress[..., 1:]
    parts = [np.clip(end, lowest, highest) for end in ends[:2]]
    stresses = [_on_piece(part, *ends, powers) for part in parts]
    # Each part is a leg of two points.
    return areas(np.stack(parts, axis=-1), np.stack(stresses, axis=-1), powers[..., None])[..., 0]


def stress_at(rate: FloatArray, stress: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return stresses [Pa] at wanted rates (M,) inside the range of the rates (N,)."""
    piece = _piece_of(rate, wanted)
    powers = _are_powers(rate, stress)[piece]
    return _on_piece(wanted, rate[piece], rate[piece + 1], stress[piece], stress[piece + 1], powers)


def cut_areas(rate: FloatArray, stress: FloatArray, cuts: FloatArray) -> FloatArray:
    """Return the area [Pa/s] between each pair of neighbours of cuts (M,), (M - 1,); all rates (N,) between the ends are cuts."""
    powers = _are_powers(rate, stress)[_piece_of(rate, cuts[:-1])]
    return areas(cuts, stress_at(rate, stress, cuts), powers)


def crossings(one: tuple[FloatArray, FloatArray], other: tuple[FloatArray, FloatArray], common: FloatArray) -> FloatArray:
    """Return the rates at which two legs, each of rates and stresses (N,), cross between neighbours of common rates (M,).

    All rates of both legs inside the range are among the common ones.
    """
    stresses = [stress_at(*leg, common) for leg in (one, other)]
    difference = stresses[0] - stresses[1]
    at = np.flatnonzero(difference[:-1] * difference[1:] < 0.0)
    kinds = [_are_powers(*leg)[_piece_of(leg[0], common[at])] for leg in (one, other)]
    left, right = common[at], common[at + 1]
    found = left + (right - left) * difference[at] / (difference[at] - difference[at + 1])
    # The logarithm of the ratio of two power laws is straight over the logarithm of the rate.
    powers = kinds[0] & kinds[1]
    begin, end = (np.log(stresses[0][place]) - np.log(stresses[1][place]) for place in (at[powers], at[powers] + 1))
    apart = begin != end  # where the stresses differ by their rounding alone, their logarithms need not
    passed = np.divide(begin, begin - end, out=np.zeros_like(begin), where=apart)
    found[powers] = np.where(apart, left[powers] * (right[powers] / left[powers]) ** passed, found[powers])
    mixed = kinds[0] != kinds[1]
    if mixed.any():
        low, high, sign = left[mixed], right[mixed], np.sign(difference[at[mixed]])
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            before = np.sign(stress_at(*one, middle) - stress_at(*other, middle)) == sign
            low, high = np.where(before, middle, low), np.where(before, high, middle)
        found[mixed] = 0.5 * (low + high)
    return found


def _are_powers(rate: FloatArray, stress: FloatArray) -> BoolArray:
    return (rate[..., :-1] > 0.0) & (stress[..., :-1] > 0.0) & (stress[..., 1:] > 0.0)


def _piece_of(rate: FloatArray, wanted: FloatArray) -> NDArray[np.intp]:
    return np.clip(np.searchsorted(rate, wanted, side="right") - 1, 0, rate.size - 2)


def _on_piece(  # noqa: PLR0917 - both ends of a piece
    wanted: FloatArray, left: FloatArray, right: FloatArray, first: FloatArray, last: FloatArray, powers: BoolArray
) -> FloatArray:
    """Return the stress on one piece each, exact at both ends."""
    between = (wanted > left) & (wanted < right)
    on_curve = between & powers
    base, top, low, high = (np.where(on_curve, values, filler) for values, filler in ((left, 1.0), (right, 2.0), (first, 1.0), (last, 1.0)))
    place = np.log(np.where(on_curve, wanted, 1.0) / base) / np.log(top / base)
    curved = np.exp((1.0 - place) * np.log(low) + place * np.log(high))
    straight = first + (last - first) * ((wanted - left) / np.where(between, right - left, 1.0))
    return np.where(on_curve, curved, np.where(between, straight, np.where(wanted <= left, first, last)))
