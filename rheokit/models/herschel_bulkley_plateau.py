"""Herschel-Bulkley with a plateau: yield stress, power law and a Newtonian term that rules at high rates.

For predictions under the ball; needs points at rates where the plateau shows, or it is not determined.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.parameters import CONSISTENCY, FLOW_INDEX, INFINITE_SHEAR_VISCOSITY, YIELD_STRESS
from rheokit.models.rate import columns, line, logarithm, positive, power, split

__all__ = ["HERSCHEL_BULKLEY_PLATEAU"]


def stress(
    shear_rate: Array,
    yield_stress: Array | complex,
    consistency: Array | complex,
    flow_index: Array | complex,
    infinite_shear_viscosity: Array | complex,
) -> Array:
    """Return the shear stress [Pa]."""
    direction, rate = split(shear_rate)
    return direction * (yield_stress + consistency * power(rate, flow_index) + infinite_shear_viscosity * rate)


def jacobian(
    shear_rate: Array,
    yield_stress: Array | float,
    consistency: Array | float,
    flow_index: Array | float,
    infinite_shear_viscosity: Array | float,
) -> Array:
    """Return the derivatives by the parameters."""
    direction, rate = split(shear_rate)
    term = direction * power(rate, flow_index)
    plateau = direction * rate + 0.0 * infinite_shear_viscosity
    return columns(direction + 0.0 * yield_stress, term, consistency * term * logarithm(rate), plateau)


def basis(shear_rate: Array, flow_index: Array | float) -> Array:
    """Return what yield stress, consistency and infinite-shear viscosity multiply."""
    direction, rate = split(shear_rate)
    return columns(direction, direction * power(rate, flow_index), direction * rate)


def guess(shear_rate: Array, shear_stress: Array) -> dict[str, float]:
    """Return shares of the lowest stress and of the lowest viscosity, and the log-log line of what is left."""
    rate, stresses = positive(shear_rate, shear_stress)
    yield_stress = 0.5 * float(stresses.min())
    plateau = 0.25 * float((stresses / rate).min())
    intercept, slope = line(np.log(rate), np.log(stresses - yield_stress - plateau * rate))
    return {
        "yield_stress": yield_stress,
        "consistency": math.exp(intercept),
        "flow_index": min(max(slope, FLOW_INDEX.lower), FLOW_INDEX.upper),
        "infinite_shear_viscosity": plateau,
    }


HERSCHEL_BULKLEY_PLATEAU = Law(
    name="herschel_bulkley_plateau",
    formula=r"\tau = \tau_y + K \dot\gamma^n + \eta_\infty \dot\gamma",
    parameters=(YIELD_STRESS, CONSISTENCY, FLOW_INDEX, INFINITE_SHEAR_VISCOSITY),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("yield_stress", "consistency", "infinite_shear_viscosity"),
    basis=basis,
    broadcasts=True,
    source="sum of the Herschel-Bulkley law and a Newtonian term (common practice, no source)",
)
