"""Carreau-Yasuda: two viscosity plateaus, a power law between them and a parameter for how sharp the bend is.

Five parameters: on one flow curve time constant, bend and index often trade against each other.
"""

from __future__ import annotations

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.parameters import FLOW_INDEX, INFINITE_SHEAR_VISCOSITY, TIME_CONSTANT, TRANSITION_INDEX, ZERO_SHEAR_VISCOSITY
from rheokit.models.rate import columns, positive, split
from rheokit.models.transition import bend, half_viscosity_rate, log_product, logistic

__all__ = ["CARREAU_YASUDA"]


def stress(
    shear_rate: Array,
    zero_shear_viscosity: Array | complex,
    infinite_shear_viscosity: Array | complex,
    time_constant: Array | complex,
    transition_index: Array | complex,
    flow_index: Array | complex,
) -> Array:
    """Return the shear stress [Pa]."""
    direction, rate = split(shear_rate)
    fall = (flow_index - 1.0) * bend(log_product(time_constant, rate), transition_index)
    return direction * rate * (zero_shear_viscosity * np.exp(fall) - infinite_shear_viscosity * np.expm1(fall))


def jacobian(
    shear_rate: Array,
    zero_shear_viscosity: Array | float,
    infinite_shear_viscosity: Array | float,
    time_constant: Array | float,
    transition_index: Array | float,
    flow_index: Array | float,
) -> Array:
    """Return the derivatives by the parameters."""
    direction, rate = split(shear_rate)
    log_rate = log_product(time_constant, rate)
    exponent = transition_index * log_rate
    log_fall = bend(log_rate, transition_index)
    fall = (flow_index - 1.0) * log_fall
    unbroken, broken = np.exp(fall), -np.expm1(fall)
    scale = direction * rate * (zero_shear_viscosity - infinite_shear_viscosity) * unbroken
    slope = scale * (flow_index - 1.0)
    by_time = slope * logistic(exponent) / np.where(np.equal(time_constant, 0.0), 1.0, time_constant)
    # logistic(e) e - softplus(e), which is even in e: on the side where nothing cancels
    beyond = np.abs(exponent)
    by_bend = -slope * (beyond * logistic(-beyond) + np.log1p(np.exp(-beyond))) / transition_index**2
    return columns(direction * rate * unbroken, direction * rate * broken, by_time, by_bend, scale * log_fall)


def basis(shear_rate: Array, time_constant: Array | float, transition_index: Array | float, flow_index: Array | float) -> Array:
    """Return what the two viscosities multiply."""
    direction, rate = split(shear_rate)
    fall = (flow_index - 1.0) * bend(log_product(time_constant, rate), transition_index)
    return columns(direction * rate * np.exp(fall), -direction * rate * np.expm1(fall))


def guess(shear_rate: Array, shear_stress: Array) -> dict[str, float]:
    """Return the extremes of the viscosity and the rate between them."""
    rate, stresses = positive(shear_rate, shear_stress)
    viscosity = stresses / rate
    return {
        "zero_shear_viscosity": float(viscosity.max()),
        "infinite_shear_viscosity": 0.5 * float(viscosity.min()),
        "time_constant": 1.0 / half_viscosity_rate(rate, stresses),
        "transition_index": 2.0,
        "flow_index": 0.5,
    }


CARREAU_YASUDA = Law(
    name="carreau_yasuda",
    formula=r"\tau = \dot\gamma \left(\eta_\infty + (\eta_0 - \eta_\infty) (1 + (\lambda \dot\gamma)^a)^{(n - 1)/a}\right)",
    parameters=(ZERO_SHEAR_VISCOSITY, INFINITE_SHEAR_VISCOSITY, TIME_CONSTANT, TRANSITION_INDEX, FLOW_INDEX),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("zero_shear_viscosity", "infinite_shear_viscosity"),
    basis=basis,
    broadcasts=True,
    source="Carreau, Trans. Soc. Rheol. 16 (1972) 99; Yasuda, Armstrong & Cohen, Rheol. Acta 20 (1981) 163 (from memory)",
)
