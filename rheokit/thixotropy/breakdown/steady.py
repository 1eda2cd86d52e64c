"""A steady stress: nothing breaks down. The law against which the others have to show that something does."""

from __future__ import annotations

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.rate import columns
from rheokit.thixotropy.breakdown.parameters import PLATEAU_STRESS

__all__ = ["STEADY_STRESS"]


def stress(time: Array, plateau_stress: Array | complex) -> Array:
    """Return the shear stress [Pa]."""
    return np.asarray(plateau_stress + np.zeros(np.shape(time)))


def jacobian(time: Array, plateau_stress: Array | float) -> Array:
    """Return the derivative by the one parameter."""
    return columns(np.ones(np.shape(time)) + 0.0 * np.asarray(plateau_stress))


def basis(time: Array) -> Array:
    """Return what the plateau multiplies."""
    return columns(np.ones(np.shape(time)))


def guess(_time: Array, stresses: Array) -> dict[str, float]:
    """Return the mean."""
    return {"plateau_stress": max(float(stresses.mean()), 0.0)}


STEADY_STRESS = Law(
    name="steady_stress",
    formula=r"\tau = \tau_\infty",
    parameters=(PLATEAU_STRESS,),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("plateau_stress",),
    basis=basis,
    broadcasts=True,
    source="a constant",
)
