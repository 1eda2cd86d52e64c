"""A curve read between its measured points: log-log, by the two that bracket the place and no others."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray, HasFlow
from rheokit.base.errors import RangeError
from rheokit.base.show import number
from rheokit.statistics.scatter import scatter_about_parabolas

__all__ = ["METHOD", "StressesAt", "stresses_at"]

REACH = 0.01
"""A rate this far (relative) beyond the last point counts as measured: instruments meet a set rate to better than 1 %."""

WIDEST_BRACKET = math.log(2.5)
"""Widest pair of neighbours between which a value is read. Between points a ratio q apart a straight line in log-log axes misses a
Herschel-Bulkley curve by at most (ln q)²/8 times its curvature, which is below n²/4: under 1.3 % for q = 2.5 and n = 0.7. Three points
a decade (q = 2.15) pass."""

METHOD = "log-log between the measured points that bracket the rate"


@dataclass(frozen=True, kw_only=True, eq=False)
class StressesAt:
    """Stresses of a flow curve at M rates.

    Attributes
    ----------
    log_stress
        Natural logarithms of the stresses [Pa], (M,).
    weights
        Weight of every point in each, (M, N).
    scatter
        Standard deviation of the logarithm of a point and its degrees of freedom, or None for too few points.
    """

    log_stress: FloatArray
    weights: FloatArray
    scatter: tuple[float, float] | None


def stresses_at(curve: HasFlow, rates: tuple[float, ...], where: str) -> StressesAt:
    """Return the stresses of usable points, all positive, at rates [1/s]; equal rates are averaged.

    Parameters
    ----------
    curve
        Anything with `shear_rate` [1/s] and `shear_stress` [Pa], (N,).
    rates
        Where it is read.
    where
        What a message calls the curve.

    Raises
    ------
    RangeError
        When there are fewer than two points, or a rate lies outside them or between two that are too far apart.
    """
    if curve.shear_rate.size < 2:
        raise RangeError(f"{where}: fewer than two points with a positive rate and stress")
    once, place = np.unique(curve.shear_rate, return_inverse=True)
    stresses = np.log(np.bincount(place, weights=curve.shear_stress) / np.bincount(place))
    logs = np.log(once)
    weights = np.zeros((len(rates), logs.size))
    for row, rate in enumerate(rates):
        left, part = _place(logs, rate, where)
        weights[row, left : left + 2] = 1.0 - part, part
    return StressesAt(log_stress=weights @ stresses, weights=weights, scatter=scatter_about_parabolas(logs, stresses))


def _place(logs: FloatArray, rate: float, where: str) -> tuple[int, float]:
    """Return the left neighbour of a rate and its place between the two, 0 to 1 (a little beyond at the ends)."""
    if not 0.0 < rate < math.inf:
        raise RangeError(f"{where}: a stress is read at a rate above zero, not at {rate!r} 1/s; state the rate")
    target = math.log(rate)
    if logs.size < 2 or not logs[0] - REACH <= target <= logs[-1] + REACH:
        span = f"{number(math.exp(logs[0]), 3)} to {number(math.exp(logs[-1]), 3)} 1/s"
        raise RangeError(f"{where}: {number(rate)} 1/s lies outside the measured {span}")
    left = int(np.clip(np.searchsorted(logs, target, side="right") - 1, 0, logs.size - 2))
    if logs[left + 1] - logs[left] > WIDEST_BRACKET:
        pair = f"{number(math.exp(logs[left]), 3)} and {number(math.exp(logs[left + 1]), 3)} 1/s"
        raise RangeError(f"{where}: the points nearest to {number(rate)} 1/s are {pair}, too far apart")
    return left, float((target - logs[left]) / (logs[left + 1] - logs[left]))
