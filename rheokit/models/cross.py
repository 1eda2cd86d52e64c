"""Cross: a low-rate and a high-rate viscosity plateau with a smooth fall between them.

No yield stress; the low-rate plateau is only determined by points that lie on it.
"""

from __future__ import annotations

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.parameters import INFINITE_SHEAR_VISCOSITY, RATE_INDEX, TIME_CONSTANT, ZERO_SHEAR_VISCOSITY
from rheokit.models.rate import columns, positive, split
from rheokit.models.transition import half_viscosity_rate, log_product, logistic

__all__ = ["CROSS"]


def stress(
    shear_rate: Array,
    zero_shear_viscosity: Array | complex,
    infinite_shear_viscosity: Array | complex,
    time_constant: Array | complex,
    rate_index: Array | complex,
) -> Array:
    """Return the shear stress [Pa]."""
    direction, rate = split(shear_rate)
    exponent = rate_index * log_product(time_constant, rate)
    return direction * rate * (zero_shear_viscosity * logistic(-exponent) + infinite_shear_viscosity * logistic(exponent))


def jacobian(
    shear_rate: Array,
    zero_shear_viscosity: Array | float,
    infinite_shear_viscosity: Array | float,
    time_constant: Array | float,
    rate_index: Array | float,
) -> Array:
    """Return the derivatives by the parameters."""
    direction, rate = split(shear_rate)
    log_rate = log_product(time_constant, rate)
    unbroken, broken = logistic(-rate_index * log_rate), logistic(rate_index * log_rate)
    fall = -direction * rate * (zero_shear_viscosity - infinite_shear_viscosity) * unbroken * broken
    by_time = fall * rate_index / np.where(np.equal(time_constant, 0.0), 1.0, time_constant)
    return columns(direction * rate * unbroken, direction * rate * broken, by_time, fall * log_rate)


def basis(shear_rate: Array, time_constant: Array | float, rate_index: Array | float) -> Array:
    """Return what the two viscosities multiply."""
    direction, rate = split(shear_rate)
    exponent = rate_index * log_product(time_constant, rate)
    return columns(direction * rate * logistic(-exponent), direction * rate * logistic(exponent))


def guess(shear_rate: Array, shear_stress: Array) -> dict[str, float]:
    """Return the extremes of the viscosity and the rate between them."""
    rate, stresses = positive(shear_rate, shear_stress)
    viscosity = stresses / rate
    return {
        "zero_shear_viscosity": float(viscosity.max()),
        "infinite_shear_viscosity": 0.5 * float(viscosity.min()),
        "time_constant": 1.0 / half_viscosity_rate(rate, stresses),
        "rate_index": 0.75,
    }


CROSS = Law(
    name="cross",
    formula=r"\tau = \dot\gamma \left(\eta_\infty + \frac{\eta_0 - \eta_\infty}{1 + (\lambda \dot\gamma)^m}\right)",
    parameters=(ZERO_SHEAR_VISCOSITY, INFINITE_SHEAR_VISCOSITY, TIME_CONSTANT, RATE_INDEX),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("zero_shear_viscosity", "infinite_shear_viscosity"),
    basis=basis,
    broadcasts=True,
    source="Cross, J. Colloid Sci. 20 (1965) 417 (from memory)",
)
