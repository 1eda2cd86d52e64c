"""Sisko: a power law and a high-rate plateau, without a yield stress.

For the upper half of a flow curve.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.parameters import CONSISTENCY, FLOW_INDEX, INFINITE_SHEAR_VISCOSITY
from rheokit.models.rate import columns, line, logarithm, positive, power, split

__all__ = ["SISKO"]


def stress(
    shear_rate: Array, infinite_shear_viscosity: Array | complex, consistency: Array | complex, flow_index: Array | complex
) -> Array:
    """Return the shear stress [Pa]."""
    direction, rate = split(shear_rate)
    return direction * (infinite_shear_viscosity * rate + consistency * power(rate, flow_index))


def jacobian(shear_rate: Array, infinite_shear_viscosity: Array | float, consistency: Array | float, flow_index: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    direction, rate = split(shear_rate)
    term = direction * power(rate, flow_index)
    return columns(direction * rate + 0.0 * infinite_shear_viscosity, term, consistency * term * logarithm(rate))


def basis(shear_rate: Array, flow_index: Array | float) -> Array:
    """Return what infinite-shear viscosity and consistency multiply."""
    direction, rate = split(shear_rate)
    return columns(direction * rate, direction * power(rate, flow_index))


def guess(shear_rate: Array, shear_stress: Array) -> dict[str, float]:
    """Return half the lowest viscosity as the plateau, and the log-log line of what lies above it."""
    rate, stresses = positive(shear_rate, shear_stress)
    plateau = 0.5 * float((stresses / rate).min())
    intercept, slope = line(np.log(rate), np.log(stresses - plateau * rate))
    index = min(max(slope, FLOW_INDEX.lower), FLOW_INDEX.upper)
    return {"infinite_shear_viscosity": plateau, "consistency": math.exp(intercept), "flow_index": index}


SISKO = Law(
    name="sisko",
    formula=r"\tau = \eta_\infty \dot\gamma + K \dot\gamma^n",
    parameters=(INFINITE_SHEAR_VISCOSITY, CONSISTENCY, FLOW_INDEX),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("infinite_shear_viscosity", "consistency"),
    basis=basis,
    broadcasts=True,
    source="Sisko, Ind. Eng. Chem. 50 (1958) 1789 (from memory)",
)
