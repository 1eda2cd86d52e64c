"""Two exponentials and a plateau: two processes side by side, each of the first order.

Which of the two is called the first is not determined: they may change places. A negative part falls while the other rises.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.rate import columns
from rheokit.thixotropy.recovery.parameters import PLATEAU_VALUE, course, part, process_time

__all__ = ["TWO_EXPONENTIALS"]


def tracked(
    time: Array,
    plateau_value: Array | complex,
    first_part: Array | complex,
    second_part: Array | complex,
    first_time: Array | complex,
    second_time: Array | complex,
) -> Array:
    """Return the tracked quantity at times [s] after the shear."""
    return np.asarray(plateau_value - first_part * np.exp(-time / first_time) - second_part * np.exp(-time / second_time))


def jacobian(
    time: Array,
    plateau_value: Array | float,
    first_part: Array | float,
    second_part: Array | float,
    first_time: Array | float,
    second_time: Array | float,
) -> Array:
    """Return the derivatives by the parameters."""
    one, two = np.exp(-time / first_time), np.exp(-time / second_time)
    # Divided twice, not by a square: a time that fits a straight line may be larger than the root of what a float holds.
    by_first, by_second = -first_part * one * (time / first_time) / first_time, -second_part * two * (time / second_time) / second_time
    return columns(np.ones_like(one) + 0.0 * np.asarray(plateau_value), -one, -two, by_first, by_second)


def basis(time: Array, first_time: Array | float, second_time: Array | float) -> Array:
    """Return what the plateau and the two parts multiply."""
    one, two = np.exp(-time / first_time), np.exp(-time / second_time)
    return columns(np.ones_like(one), -one, -two)


def guess(time: Array, values: Array) -> dict[str, float]:
    """Return two equal parts, one three times as fast and one three times as slow as one process would be."""
    first, last, half = course(time, values)
    middle, half_rise = half / math.log(2.0), 0.5 * (last - first)
    return {
        "plateau_value": last, "first_part": half_rise, "second_part": half_rise, "first_time": middle / 3.0, "second_time": middle * 3.0,
    }  # fmt: skip


TWO_EXPONENTIALS = Law(
    name="two_exponentials",
    formula=r"X = X_\infty - A_1 e^{-t/t_1} - A_2 e^{-t/t_2}",
    parameters=(PLATEAU_VALUE, part("first", 1), part("second", 2), process_time("first", 1), process_time("second", 2)),
    value=tracked,
    jacobian=jacobian,
    guess=guess,
    linear=("plateau_value", "first_part", "second_part"),
    basis=basis,
    broadcasts=True,
    source="two first-order processes; the model of the NIST StRD set MGH17",
)
