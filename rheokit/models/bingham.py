"""Bingham: a yield stress and a constant slope above it.

Overstates the yield of a thinning ink, whose curve bends at low rates.
"""

from __future__ import annotations

from rheokit.law import Array, Law
from rheokit.models.parameters import PLASTIC_VISCOSITY, YIELD_STRESS
from rheokit.models.rate import columns, line, split

__all__ = ["BINGHAM"]


def stress(shear_rate: Array, yield_stress: Array | complex, plastic_viscosity: Array | complex) -> Array:
    """Return the shear stress [Pa]."""
    direction, rate = split(shear_rate)
    return direction * (yield_stress + plastic_viscosity * rate)


def jacobian(shear_rate: Array, yield_stress: Array | float, plastic_viscosity: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    direction, rate = split(shear_rate)
    return columns(direction + 0.0 * yield_stress, direction * rate + 0.0 * plastic_viscosity)


def basis(shear_rate: Array) -> Array:
    """Return what yield stress and plastic viscosity multiply."""
    direction, rate = split(shear_rate)
    return columns(direction, direction * rate)


def guess(shear_rate: Array, shear_stress: Array) -> dict[str, float]:
    """Return the straight line."""
    intercept, slope = line(shear_rate, shear_stress)
    return {"yield_stress": max(intercept, 0.0), "plastic_viscosity": max(slope, 0.0)}


BINGHAM = Law(
    name="bingham",
    formula=r"\tau = \tau_y + \mu_p \dot\gamma",
    parameters=(YIELD_STRESS, PLASTIC_VISCOSITY),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("yield_stress", "plastic_viscosity"),
    basis=basis,
    broadcasts=True,
    source="Bingham, Fluidity and Plasticity (1922) (from memory)",
)
