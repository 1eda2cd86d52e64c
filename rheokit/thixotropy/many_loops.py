"""Areas of many loops in one call: the same pieces and the same scatter as of one, points along the last axis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, data_frame, number
from rheokit.thixotropy.area_scatter import FEWEST_POINTS, area_variances, degrees_of_freedom
from rheokit.thixotropy.loop import COVERED, METHOD, SPANS_ALIKE
from rheokit.thixotropy.many_legs import ManyLegs, many_legs
from rheokit.thixotropy.pieces import areas_between

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["LoopAreas", "loop_areas"]

# Pairs of legs worked on at once: what they need stays in the cache.
_CHUNK = 512


@dataclass(frozen=True, kw_only=True, eq=False)
class LoopAreas(Carried):
    """Areas of N loops; each array is (N,) and NaN where there is no number.

    Attributes
    ----------
    area, standard_error, degrees_of_freedom
        Loop areas [Pa/s], positive with the up leg above; the standard error is NaN where too few points show their scatter.
    relative_area, relative_standard_error, relative_degrees_of_freedom
        The same of the area over that under the up leg [1].
    lowest_rate, highest_rate
        Common range of the legs [1/s].
    put_right
        Points of both legs that were left out, sorted or averaged.
    reasons
        Why a loop has no area, or nothing.
    """

    area: FloatArray
    standard_error: FloatArray
    degrees_of_freedom: FloatArray
    relative_area: FloatArray
    relative_standard_error: FloatArray
    relative_degrees_of_freedom: FloatArray
    lowest_rate: FloatArray
    highest_rate: FloatArray
    put_right: NDArray[np.int64]
    reasons: NDArray[np.str_]

    def __post_init__(self) -> None:
        for name, values in vars(self).items():
            held = np.array(values)
            held.setflags(write=False)
            object.__setattr__(self, name, held)

    def __len__(self) -> int:
        return self.area.size

    @property
    def data(self) -> pd.DataFrame:
        """All numbers, a row for each loop, as a pandas DataFrame."""
        return data_frame(vars(self))

    def table(self) -> Table:
        """Return how many loops there are, how their areas spread, and why some have none."""
        rows = []
        for name in ("loop_area", "relative_loop_area"):
            values = self.area if name == "loop_area" else self.relative_area
            values = values[np.isfinite(values)]
            quartiles = (number(float(value)) for value in np.quantile(values, (0.25, 0.5, 0.75))) if values.size else ("none",) * 3
            rows.append((name.replace("_", " "), str(values.size), *quartiles, quantity(name).unit))
        said, counts = np.unique(self.reasons[self.reasons != ""], return_counts=True)
        notes = (f"{len(self)} loops; {METHOD}", *(f"{count} without an area: {why}" for why, count in zip(said, counts, strict=True)))
        columns = ("quantity", "loops", "lower quartile", "median", "upper quartile", "unit")
        return Table(title="loop areas", columns=columns, rows=tuple(rows), notes=notes, right=columns[1:5])

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def loop_areas(rates_up: ArrayLike, stress_up: ArrayLike, rates_down: ArrayLike, stress_down: ArrayLike) -> LoopAreas:
    """Return the areas of many loops, as `hysteresis_loop` finds them one by one.

    The legs of a pair may have unlike points, and unlike numbers of them. There are no times here: that both legs of a pair were ramped
    alike in time, and that pairs compared with each other were, is for the caller to know (`LoopMethod.require_same` checks it for runs).

    Parameters
    ----------
    rates_up, stress_up
        Rates [1/s] in the order measured, rising, and stresses [Pa]: (N, M), or the rates (M,) where they are the same for all. NaN
        where a point is missing.
    rates_down, stress_down
        The same with falling rates: (N, K) or (K,).

    Returns
    -------
    LoopAreas
        Areas, relative areas, standard errors and, for loops without an area, the reason.

    Raises
    ------
    FitError
        When the shapes do not belong together.
    """
    up, down = _columns(rates_up, stress_up, "up"), _columns(rates_down, stress_down, "down")
    if up[1].shape[0] != down[1].shape[0]:
        raise FitError(f"{up[1].shape[0]} up legs do not pair with {down[1].shape[0]} down legs")
    starts = range(0, max(up[1].shape[0], 1), _CHUNK)
    chunks = [_chunk(*(part[begin : begin + _CHUNK] for part in (*up, *down))) for begin in starts]
    return LoopAreas(**{name: np.concatenate([chunk[name] for chunk in chunks]) for name in chunks[0]})


def _columns(rates: ArrayLike, stresses: ArrayLike, which: str) -> tuple[FloatArray, FloatArray]:
    rate, stress = np.asarray(rates, dtype=np.float64), np.asarray(stresses, dtype=np.float64)
    if stress.ndim != 2 or rate.shape not in {stress.shape, stress.shape[1:]} or not stress.shape[1]:
        raise FitError(
            f"the {which} legs have rates of shape {rate.shape} and stresses of shape {stress.shape}; give stresses of (loops, points) "
            "and rates of the same shape, or of (points,)"
        )
    return np.broadcast_to(rate, stress.shape), stress


def _chunk(rates_up: FloatArray, stress_up: FloatArray, rates_down: FloatArray, stress_down: FloatArray) -> dict[str, NDArray[np.generic]]:
    legs = many_legs(rates_up, stress_up, "up", rises=True), many_legs(rates_down, stress_down, "down", rises=False)
    reasons, lowest, highest = _common(*legs)
    under = [_area(leg, lowest, highest) for leg in legs]
    reasons = np.where((reasons == "") & ~(under[0] > 0.0), "the area under the up leg is not positive", reasons)
    fine = reasons == ""
    above, below = (np.where(fine, area, np.nan) for area in under)
    parts = [_parts(leg, lowest, highest) for leg in legs]
    with np.errstate(invalid="ignore"):
        error, freedom = _error(parts, np.ones_like(above), np.ones_like(above), fine)
        relative_error, relative_freedom = _error(parts, below / above**2, 1.0 / above, fine)
    return {
        "area": above - below,
        "standard_error": error,
        "degrees_of_freedom": freedom,
        "relative_area": 1.0 - below / above,
        "relative_standard_error": relative_error,
        "relative_degrees_of_freedom": relative_freedom,
        "lowest_rate": np.where(fine, lowest[:, 0], np.nan),
        "highest_rate": np.where(fine, highest[:, 0], np.nan),
        "put_right": legs[0].put_right + legs[1].put_right,
        "reasons": reasons,
    }


def _common(up: ManyLegs, down: ManyLegs) -> tuple[NDArray[np.str_], FloatArray, FloatArray]:
    """Return why two legs are no loop, or nothing, (N,), and their common range, (N, 1) each."""
    ends = [(leg.filled[0][:, :1], leg.filled[0][:, -1:]) for leg in (up, down)]
    lowest, highest = np.fmax(ends[0][0], ends[1][0]), np.fmin(ends[0][1], ends[1][1])
    spans = [high - low for low, high in ends]
    with np.errstate(invalid="ignore"):
        widest = np.maximum(*spans)
        unlike = (np.abs(spans[0] - spans[1]) > SPANS_ALIKE * widest) | ~(highest - lowest >= COVERED * widest)
    said = np.where(unlike[:, 0], "the legs have unlike ranges of rates", "")
    return np.where(up.reasons != "", up.reasons, np.where(down.reasons != "", down.reasons, said)), lowest, highest


def _area(leg: ManyLegs, lowest: FloatArray, highest: FloatArray) -> FloatArray:
    with np.errstate(invalid="ignore", over="ignore"):  # legs refused already
        return np.asarray(areas_between(*leg.filled, lowest, highest).sum(axis=1))


def _parts(leg: ManyLegs, lowest: FloatArray, highest: FloatArray) -> FloatArray:
    """Return what each point adds to the variance of the area, (N, M); NaN where too few points show their scatter."""
    rate, stress = leg.between(lowest, highest)
    if rate.shape[1] < FEWEST_POINTS:
        return np.full((rate.shape[0], 1), np.nan)
    enough = np.isfinite(rate).sum(axis=1, keepdims=True) >= FEWEST_POINTS
    with np.errstate(invalid="ignore", over="ignore"):
        return np.where(enough, area_variances(np.where(enough, rate, np.nan), stress), np.nan)


def _error(parts: list[FloatArray], up: FloatArray, down: FloatArray, fine: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    """Return the standard error of an area whose legs count with these factors (N,), and its degrees of freedom."""
    both = np.concatenate([factor[:, None] ** 2 * part for factor, part in zip((up, down), parts, strict=True)], axis=1)
    total = both.sum(axis=1)
    known = fine & (total > 0.0)
    return np.where(known, np.sqrt(np.where(known, total, 0.0)), np.nan), np.where(known, degrees_of_freedom(both), np.nan)
