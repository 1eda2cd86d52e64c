"""Control charts: individuals with moving ranges, the exponentially weighted moving average, and run rules.

An alarm is a signal to look for a cause; it is never a reject of a batch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rheokit.base.curve import FloatArray, read_only

__all__ = ["C4_OF_TWO", "D2_OF_TWO", "D4_OF_TWO", "Averaged", "Individuals", "individuals", "moving_average", "run_rules"]

BoolArray = NDArray[np.bool_]

D2_OF_TWO = 2.0 / math.sqrt(math.pi)
"""Mean range of two normal values over their standard deviation, 1.1284 (exact)."""
C4_OF_TWO = math.sqrt(2.0 / math.pi)
"""Mean sample standard deviation of two normal values over the true one, 0.7979 (exact)."""
D4_OF_TWO = 1.0 + 3.0 * math.sqrt(2.0 - D2_OF_TWO**2) / D2_OF_TWO
"""Upper limit of a moving range of two over its mean, 3.2665: three standard deviations of the range (exact)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Individuals:
    """A chart of single values: centre, standard deviation from the moving ranges, limits, and the ranges with their limit.

    `outside` and `range_outside` mark the points beyond their limits, (N,); the first range does not exist and is NaN.
    """

    values: FloatArray
    centre: float
    standard_deviation: float
    lower: float
    upper: float
    ranges: FloatArray
    range_upper: float
    outside: BoolArray
    range_outside: BoolArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Averaged:
    """An exponentially weighted moving average: the series (N,), its limits at each point (N,), and which points lie outside."""

    values: FloatArray
    lower: FloatArray
    upper: FloatArray
    outside: BoolArray


def individuals(values: ArrayLike, *, base: ArrayLike | None = None) -> Individuals:
    """Return a chart of single values in their order.

    Parameters
    ----------
    values
        (N,), at least two.
    base
        Values from which centre and limits are taken, (B,); by default the values themselves. Limits from a base do not follow a drift.

    Raises
    ------
    ValueError
        When there are fewer than two values, or all of the base are equal.

    References
    ----------
    NIST/SEMATECH e-Handbook, 6.3.2.2; ISO 7870-2.
    """
    series = read_only(values, "values")
    settled = series if base is None else read_only(base, "base")
    if series.size < 1 or settled.size < 2:
        raise ValueError("a chart of single values needs two values or more to take its limits from")
    centre = float(settled.mean())
    spread = float(np.abs(np.diff(settled)).mean()) / D2_OF_TWO
    if not spread > 0.0:
        raise ValueError("all values are equal: their moving ranges give no limits")
    ranges = np.concatenate([[np.nan], np.abs(np.diff(series))])
    range_upper = D4_OF_TWO * D2_OF_TWO * spread
    lower, upper = centre - 3.0 * spread, centre + 3.0 * spread
    return Individuals(
        values=series,
        centre=centre,
        standard_deviation=spread,
        lower=lower,
        upper=upper,
        ranges=ranges,
        range_upper=range_upper,
        outside=(series < lower) | (series > upper),
        range_outside=ranges > range_upper,
    )


def moving_average(
    values: ArrayLike, *, target: float, standard_deviation: float, weight: float = 0.3, width: float = 3.0, settled: bool = False
) -> Averaged:
    """Return the exponentially weighted moving average of values in their order, begun at the target.

    Parameters
    ----------
    values
        (N,)
    target, standard_deviation
        Of the process in control.
    weight
        Of the newest value, above 0 and at most 1.
    width
        Limits in standard deviations of the average.
    settled
        Limits as they are after many points, instead of those of each point, which begin narrower.

    Raises
    ------
    ValueError
        When weight, width or standard deviation is out of range.

    References
    ----------
    NIST/SEMATECH e-Handbook, 6.3.2.4; ISO 7870-6.
    """
    series = read_only(values, "values")
    if not (0.0 < weight <= 1.0 and width > 0.0 and standard_deviation > 0.0):
        raise ValueError("weight lies above 0 and at most 1, width and standard deviation above 0")
    averaged, last = np.empty(series.size), target
    for place, value in enumerate(series.tolist()):
        last = weight * value + (1.0 - weight) * last
        averaged[place] = last
    count = np.arange(1, series.size + 1)
    grown = np.ones(series.size) if settled else 1.0 - (1.0 - weight) ** (2.0 * count)
    reach = width * standard_deviation * np.sqrt(weight / (2.0 - weight) * grown)
    return Averaged(
        values=averaged, lower=target - reach, upper=target + reach, outside=(averaged < target - reach) | (averaged > target + reach)
    )


def run_rules(deviations: ArrayLike) -> BoolArray:
    """Return which of the four run rules each point completes: (…, N, 4) of bool.

    Parameters
    ----------
    deviations
        Values less centre over standard deviation, (…, N).

    Notes
    -----
    One beyond 3; two of three beyond 2 on one side; four of five beyond 1 on one side; eight on one side. Together they alarm once in
    91.75 points of a process in control, against 370.4 for the first alone: they are an option, not the default.

    References
    ----------
    Champ & Woodall, Technometrics 29 (1987) 393 (run length); ISO 7870-2 lists such rules as an option.
    """
    z = np.asarray(deviations, dtype=np.float64)
    rules = []
    for beyond, needed, of in ((3.0, 1, 1), (2.0, 2, 3), (1.0, 4, 5), (0.0, 8, 8)):
        side = np.zeros(z.shape, dtype=bool)
        for sign in (1.0, -1.0):
            hit = (sign * z > beyond).astype(np.int64)
            total = np.cumsum(hit, axis=-1)
            counts = total.copy()
            counts[..., of:] -= total[..., :-of]
            side |= (counts >= needed) & (hit == 1)
        rules.append(side)
    return np.stack(rules, axis=-1)
