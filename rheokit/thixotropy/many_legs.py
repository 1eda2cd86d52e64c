"""Many legs made ready at once, as `ready_leg` does with one: rates that rise, each once, NaN after the last."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.thixotropy.leg import FEWEST_POINTS, RUNS_BACK

__all__ = ["ManyLegs", "many_legs"]


@dataclass(frozen=True, kw_only=True, eq=False)
class ManyLegs:
    """Legs made ready.

    Attributes
    ----------
    rate, stress
        Rates [1/s] that rise, each once, and stresses [Pa], (N, M), NaN after the last point of a leg.
    reasons
        Why a leg is refused, or nothing, (N,).
    put_right
        Points that were left out for a negative rate or half a number, sorted, or averaged with another at the same rate, (N,).
    """

    rate: FloatArray
    stress: FloatArray
    reasons: NDArray[np.str_]
    put_right: NDArray[np.int64]

    def between(self, lowest: FloatArray, highest: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return rates and stresses of the points between two rates (N, 1), each leg's from the first column on, NaN after them."""
        inside = (self.rate >= lowest) & (self.rate <= highest)
        columns = np.arange(self.rate.shape[1])
        place = np.minimum(inside.argmax(axis=1, keepdims=True) + columns, columns[-1])
        outside = columns >= inside.sum(axis=1, keepdims=True)
        return tuple(np.where(outside, np.nan, np.take_along_axis(part, place, axis=1)) for part in (self.rate, self.stress))  # type: ignore[return-value]  # two of two

    @property
    def filled(self) -> tuple[FloatArray, FloatArray]:
        """Rates and stresses with the last point of each leg repeated to the end: pieces of no width."""
        last = np.maximum(np.isfinite(self.rate).sum(axis=1, keepdims=True) - 1, 0)
        place = np.minimum(np.arange(self.rate.shape[1]), last)
        return np.take_along_axis(self.rate, place, axis=1), np.take_along_axis(self.stress, place, axis=1)


def many_legs(rates: FloatArray, stresses: FloatArray, which: str, *, rises: bool) -> ManyLegs:
    """Return legs (N, M) made ready, in the order of their times from left to right; NaN marks a missing point."""
    kept = np.isfinite(rates) & np.isfinite(stresses) & (rates >= 0.0)
    half = (np.isfinite(rates) | np.isfinite(stresses)) & ~kept
    count = kept.sum(axis=1)
    # Points first, in their order; then what is missing.
    order = np.argsort(~kept, axis=1, kind="stable")
    rate, stress = (np.where(np.take_along_axis(kept, order, 1), np.take_along_axis(part, order, 1), np.nan) for part in (rates, stresses))
    back, wrong_way, turned = _run(rate, count, rises=rises)
    order = np.argsort(rate, axis=1, kind="stable")
    rate, stress, averaged = _each_once(np.take_along_axis(rate, order, 1), np.take_along_axis(stress, order, 1))
    reasons = np.select(
        [count < FEWEST_POINTS, wrong_way, turned, np.isfinite(rate).sum(axis=1) < FEWEST_POINTS],
        [
            f"the {which} leg has too few usable points",
            f"the {which} leg {'falls' if rises else 'rises'}",
            f"the {which} leg runs back",
            f"the {which} leg has too few different rates",
        ],
        default="",
    )
    return ManyLegs(rate=rate, stress=stress, reasons=reasons, put_right=half.sum(axis=1) + back + averaged)


def _run(rate: FloatArray, count: NDArray[np.int64], *, rises: bool) -> tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.bool_]]:
    """Return how many points run back, whether a leg ends where it should not, and whether it turns by more than noise."""
    run = rate if rises else -rate
    known = np.isfinite(run)
    highest = np.maximum.accumulate(np.where(known, run, -np.inf), axis=1)
    lowest = np.where(known, run, np.inf).min(axis=1)
    back = np.where(known, highest - np.where(known, run, 0.0), 0.0).max(axis=1)
    last = np.take_along_axis(run, np.maximum(count - 1, 0)[:, None], axis=1)[:, 0]
    some = count > 0
    top, bottom = np.where(some, highest[:, -1], 0.0), np.where(some, lowest, 0.0)
    steps = np.where(known[:, 1:], np.diff(run, axis=1), 0.0)
    return (steps < 0.0).sum(axis=1), ~(last > run[:, 0]), back > RUNS_BACK * (top - bottom)


def _each_once(rate: FloatArray, stress: FloatArray) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """Return sorted legs with the stresses of equal rates averaged, and how many points went into others."""
    repeats = rate[:, 1:] == rate[:, :-1]
    averaged = repeats.sum(axis=1)
    rows = np.flatnonzero(averaged)
    if not rows.size:
        return rate, stress, averaged
    known = np.isfinite(rate[rows])
    first = np.concatenate([np.ones((rows.size, 1), dtype=bool), ~repeats[rows]], axis=1) & known
    width = rate.shape[1]
    place = (np.cumsum(first, axis=1) - 1 + width * np.arange(rows.size)[:, None])[known]
    counts, sums = (np.bincount(place, weights, rows.size * width).reshape(-1, width) for weights in (None, stress[rows][known]))
    filled = counts > 0
    rate, stress = rate.copy(), stress.copy()
    once = np.full(filled.shape, np.nan)
    once[filled] = rate[rows][first]
    rate[rows] = once
    stress[rows] = np.where(filled, sums / np.where(filled, counts, 1), np.nan)
    return rate, stress, averaged
