"""Arrhenius: one activation energy. Serves over a few tens of kelvin, far above the glass transition; never for the cold end.

Under the reference temperature a real vehicle thickens faster than this law says, so far extrapolation with it is refused.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law, Parameter
from rheokit.models.rate import columns
from rheokit.temperature.parameters import GAS_CONSTANT, ROOM, VALUE_AT_REFERENCE, at_reference, logarithmic_slope

__all__ = ["ARRHENIUS", "arrhenius"]

# Against overflow far from any ink: e^600 is beyond every viscosity.
_LARGEST = 600.0


def arrhenius(reference_temperature: float = ROOM) -> Law:
    """Return the law X = X_r exp(E_a/R (1/T - 1/T_r)) for a reference temperature [K]; x is the temperature [K]."""

    def exponent(temperature: Array, activation_energy: Array | complex) -> Array:
        inverse = (1.0 / np.asarray(temperature) - 1.0 / reference_temperature) / GAS_CONSTANT
        power = np.asarray(activation_energy * inverse)
        return power if np.iscomplexobj(power) else np.clip(power, -_LARGEST, _LARGEST)

    def value(temperature: Array, value_at_reference: Array | complex, activation_energy: Array | complex) -> Array:
        return np.asarray(value_at_reference * np.exp(exponent(temperature, activation_energy)))

    def jacobian(temperature: Array, value_at_reference: Array | float, activation_energy: Array | float) -> Array:
        factor = np.exp(exponent(temperature, activation_energy))
        inverse = (1.0 / np.asarray(temperature) - 1.0 / reference_temperature) / GAS_CONSTANT
        return columns(factor, value_at_reference * factor * inverse)

    def basis(temperature: Array, activation_energy: Array | float) -> Array:
        return columns(np.exp(exponent(temperature, activation_energy)))

    def guess(temperature: Array, values: Array) -> dict[str, float]:
        energy = -GAS_CONSTANT * float(np.mean(temperature)) ** 2 * logarithmic_slope(temperature, values)
        return {"value_at_reference": at_reference(temperature, values, reference_temperature), "activation_energy": energy}

    return Law(
        name="arrhenius",
        formula=r"X = X_r\, e^{\frac{E_a}{R}\left(\frac{1}{T} - \frac{1}{T_r}\right)}",
        parameters=(
            VALUE_AT_REFERENCE,
            Parameter("activation_energy", symbol="E_a", unit="J/mol", lower=-math.inf, upper=math.inf, meaning="usual: 40 to 70 kJ/mol"),
        ),
        value=value,
        jacobian=jacobian,
        guess=guess,
        linear=("value_at_reference",),
        basis=basis,
        broadcasts=True,
        source="Arrhenius, Z. phys. Chem. 4 (1889) 226 (from memory); 40 to 70 kJ/mol: common practice, no source",
    )


ARRHENIUS = arrhenius()
