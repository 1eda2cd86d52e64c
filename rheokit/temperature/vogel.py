"""Vogel, Fulcher and Tammann: the activation energy grows towards the cold, without limit at T_0. For vehicles over wide spans.

With T_0 at 0 K it is the Arrhenius law, so it needs points over some 60 K before T_0 can be told from that.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law, Parameter
from rheokit.models.rate import columns
from rheokit.temperature.parameters import at_reference, logarithmic_slope

__all__ = ["VOGEL"]


def value(temperature: Array, prefactor: Array | complex, vogel_constant: Array | complex, vogel_temperature: Array | complex) -> Array:
    """Return the quantity at temperatures [K]."""
    return np.asarray(prefactor * np.exp(vogel_constant / (np.asarray(temperature) - vogel_temperature)))


def jacobian(temperature: Array, prefactor: Array | float, vogel_constant: Array | float, vogel_temperature: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    above = np.asarray(temperature) - vogel_temperature
    factor = np.exp(vogel_constant / above)
    return columns(factor, prefactor * factor / above, prefactor * factor * vogel_constant / above**2)


def guess(temperature: Array, values: Array) -> dict[str, float]:
    """Return what has the slope of the points with T_0 some 120 K below the coldest, as liquids usually have it."""
    coldest, middle = float(np.min(temperature)), float(np.mean(temperature))
    zero = coldest - 120.0
    constant = max(-logarithmic_slope(temperature, values) * (middle - zero) ** 2, 1.0)
    logarithm = math.log(at_reference(temperature, values, middle)) - constant / (middle - zero)
    return {"prefactor": math.exp(logarithm), "vogel_constant": constant, "vogel_temperature": zero}


VOGEL = Law(
    name="vogel",
    formula=r"X = A\, e^{\frac{B}{T - T_0}}",
    parameters=(
        Parameter("prefactor", symbol="A", lower=0.0, upper=math.inf, meaning="limit at high temperature, in its unit"),
        Parameter("vogel_constant", symbol="B", unit="K", lower=0.0, upper=math.inf, meaning="how steeply it falls"),
        Parameter("vogel_temperature", symbol="T_0", unit="K", lower=-math.inf, upper=math.inf, meaning="where it has no limit"),
    ),
    value=value,
    jacobian=jacobian,
    guess=guess,
    # The prefactor is linear, but solved for in closed form it hides how far away a start is: with T_0 thousands of kelvin off the three
    # parameters look like two, and the search stands still there.
    broadcasts=True,
    source="Vogel, Phys. Z. 22 (1921) 645 (from memory)",
)
