"""First-order recovery: what is left to rebuild falls by the same share in equal times.

Exact for a structure that rebuilds at a constant rate of its own while the probe breaks it in proportion, at one constant shear rate.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.rate import columns
from rheokit.thixotropy.recovery.parameters import PLATEAU_VALUE, RECOVERY_TIME, START_VALUE, course, share_left

__all__ = ["FIRST_ORDER"]


def tracked(time: Array, start_value: Array | complex, plateau_value: Array | complex, recovery_time: Array | complex) -> Array:
    """Return the tracked quantity at times [s] after the shear."""
    passed = np.asarray(time / recovery_time)
    return share_left(np.exp(-passed), start_value, plateau_value)


def jacobian(time: Array, start_value: Array | float, plateau_value: Array | float, recovery_time: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    passed = np.asarray(time / recovery_time)
    left = np.exp(-passed)
    return columns(left, -np.expm1(-passed), (start_value - plateau_value) * left * passed / recovery_time)


def basis(time: Array, recovery_time: Array | float) -> Array:
    """Return what start and plateau multiply."""
    passed = np.asarray(time / recovery_time)
    return columns(np.exp(-passed), -np.expm1(-passed))


def guess(time: Array, values: Array) -> dict[str, float]:
    """Return first and last value and the time at which their middle is passed."""
    first, last, half = course(time, values)
    return {"start_value": first, "plateau_value": last, "recovery_time": half / math.log(2.0)}


FIRST_ORDER = Law(
    name="first_order",
    formula=r"X = X_0 + (X_\infty - X_0)\left(1 - e^{-t/t_r}\right)",
    parameters=(START_VALUE, PLATEAU_VALUE, RECOVERY_TIME),
    value=tracked,
    jacobian=jacobian,
    guess=guess,
    linear=("start_value", "plateau_value"),
    basis=basis,
    broadcasts=True,
    source="first-order kinetics; the model of the NIST StRD sets Misra1a and BoxBOD",
)
