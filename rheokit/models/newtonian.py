"""Newtonian: stress proportional to rate.

Solvents and check oils; no ink with a gel network follows it.
"""

from __future__ import annotations

from rheokit.law import Array, Law
from rheokit.models.parameters import VISCOSITY
from rheokit.models.rate import columns

__all__ = ["NEWTONIAN"]


def stress(shear_rate: Array, viscosity: Array | complex) -> Array:
    """Return the shear stress [Pa]."""
    return viscosity * shear_rate


def jacobian(shear_rate: Array, viscosity: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    return columns(shear_rate + 0.0 * viscosity)


def basis(shear_rate: Array) -> Array:
    """Return what the viscosity multiplies."""
    return columns(shear_rate)


def guess(shear_rate: Array, shear_stress: Array) -> dict[str, float]:
    """Return the slope through the origin."""
    slope = float(shear_rate @ shear_stress) / (float(shear_rate @ shear_rate) or 1.0)
    return {"viscosity": max(slope, 0.0)}


NEWTONIAN = Law(
    name="newtonian",
    formula=r"\tau = \eta \dot\gamma",
    parameters=(VISCOSITY,),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("viscosity",),
    basis=basis,
    broadcasts=True,
    source="Newton, Principia (1687), book 2, section 9 (from memory)",
)
