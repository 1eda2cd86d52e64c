"""No recovery: the tracked quantity stays where it is. The law against which the others have to show that there is a rise at all."""

from __future__ import annotations

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.rate import columns
from rheokit.thixotropy.recovery.parameters import PLATEAU_VALUE

__all__ = ["UNCHANGED"]


def tracked(time: Array, plateau_value: Array | complex) -> Array:
    """Return the tracked quantity."""
    return np.asarray(plateau_value + np.zeros(np.shape(time)))


def jacobian(time: Array, plateau_value: Array | float) -> Array:
    """Return the derivative by the one parameter."""
    return columns(np.ones(np.shape(time)) + 0.0 * np.asarray(plateau_value))


def basis(time: Array) -> Array:
    """Return what the plateau multiplies."""
    return columns(np.ones(np.shape(time)))


def guess(_time: Array, values: Array) -> dict[str, float]:
    """Return the mean."""
    return {"plateau_value": float(values.mean())}


UNCHANGED = Law(
    name="unchanged",
    formula=r"X = X_\infty",
    parameters=(PLATEAU_VALUE,),
    value=tracked,
    jacobian=jacobian,
    guess=guess,
    linear=("plateau_value",),
    basis=basis,
    broadcasts=True,
    source="a constant",
)
