"""Second-order recovery: what is left to rebuild has to find its like, so that the rise slows down more and more.

One over what is left is a straight line in time; at the recovery time half of the way is done.
"""

from __future__ import annotations

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.rate import columns
from rheokit.thixotropy.recovery.parameters import PLATEAU_VALUE, RECOVERY_TIME, START_VALUE, course, share_left

__all__ = ["SECOND_ORDER"]


def tracked(time: Array, start_value: Array | complex, plateau_value: Array | complex, recovery_time: Array | complex) -> Array:
    """Return the tracked quantity at times [s] after the shear."""
    passed = np.asarray(time / recovery_time)
    return share_left(1.0 / (1.0 + passed), start_value, plateau_value)


def jacobian(time: Array, start_value: Array | float, plateau_value: Array | float, recovery_time: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    passed = np.asarray(time / recovery_time)
    left = 1.0 / (1.0 + passed)
    return columns(left, passed * left, (start_value - plateau_value) * left**2 * passed / recovery_time)


def basis(time: Array, recovery_time: Array | float) -> Array:
    """Return what start and plateau multiply."""
    passed = np.asarray(time / recovery_time)
    left = 1.0 / (1.0 + passed)
    return columns(left, passed * left)


def guess(time: Array, values: Array) -> dict[str, float]:
    """Return first and last value and the time at which their middle is passed."""
    first, last, half = course(time, values)
    return {"start_value": first, "plateau_value": last, "recovery_time": half}


SECOND_ORDER = Law(
    name="second_order",
    formula=r"X = X_0 + (X_\infty - X_0)\frac{t/t_r}{1 + t/t_r}",
    parameters=(START_VALUE, PLATEAU_VALUE, RECOVERY_TIME),
    value=tracked,
    jacobian=jacobian,
    guess=guess,
    linear=("start_value", "plateau_value"),
    basis=basis,
    broadcasts=True,
    source="Steffe, Rheological Methods in Food Process Engineering, 2nd ed. (1996), eq. 1.43-1.46; the model of the NIST StRD set Misra1d",
)
