"""Stretched exponential: a spread of recovery times, from fast to slow, told by one exponent.

At exponent 1 it is the first-order law; below 1 the rise begins faster and ends more slowly.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.rate import columns, logarithm, power
from rheokit.thixotropy.recovery.parameters import (
    PLATEAU_VALUE,
    RECOVERY_TIME,
    START_VALUE,
    STRETCHING_EXPONENT,
    course,
    share_left,
)

__all__ = ["STRETCHED_EXPONENTIAL", "mean_time"]


def tracked(
    time: Array,
    start_value: Array | complex,
    plateau_value: Array | complex,
    recovery_time: Array | complex,
    stretching_exponent: Array | complex,
) -> Array:
    """Return the tracked quantity at times [s] after the shear."""
    passed = power(np.asarray(time / recovery_time), stretching_exponent)
    return share_left(np.exp(-passed), start_value, plateau_value)


def jacobian(
    time: Array,
    start_value: Array | float,
    plateau_value: Array | float,
    recovery_time: Array | float,
    stretching_exponent: Array | float,
) -> Array:
    """Return the derivatives by the parameters."""
    ratio = np.asarray(time / recovery_time)
    passed = power(ratio, stretching_exponent)
    left = np.exp(-passed)
    fall = (start_value - plateau_value) * left * passed
    return columns(left, -np.expm1(-passed), fall * stretching_exponent / recovery_time, -fall * logarithm(ratio))


def basis(time: Array, recovery_time: Array | float, stretching_exponent: Array | float) -> Array:
    """Return what start and plateau multiply."""
    passed = power(np.asarray(time / recovery_time), stretching_exponent)
    return columns(np.exp(-passed), -np.expm1(-passed))


def guess(time: Array, values: Array) -> dict[str, float]:
    """Return what suits the first-order law, a little stretched."""
    first, last, half = course(time, values)
    return {"start_value": first, "plateau_value": last, "recovery_time": half / math.log(2.0), "stretching_exponent": 0.8}


def mean_time(recovery_time: float, stretching_exponent: float) -> float:
    """Return the mean recovery time [s], the integral of the share that is left: t_r Γ(1/β)/β."""
    return recovery_time / stretching_exponent * math.gamma(1.0 / stretching_exponent)


STRETCHED_EXPONENTIAL = Law(
    name="stretched_exponential",
    formula=r"X = X_0 + (X_\infty - X_0)\left(1 - e^{-(t/t_r)^\beta}\right)",
    parameters=(START_VALUE, PLATEAU_VALUE, RECOVERY_TIME, STRETCHING_EXPONENT),
    value=tracked,
    jacobian=jacobian,
    guess=guess,
    linear=("start_value", "plateau_value"),
    basis=basis,
    broadcasts=True,
    source="Kohlrausch, Ann. Phys. Chem. 167 (1854) 179 (from memory)",
)
