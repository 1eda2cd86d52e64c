"""Exponential decay with temperature: the yield stress of many gel networks falls so (seen for greases)."""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law, Parameter
from rheokit.models.rate import columns
from rheokit.temperature.parameters import ROOM, VALUE_AT_REFERENCE, at_reference, logarithmic_slope

__all__ = ["EXPONENTIAL_DECAY", "exponential_decay"]


def exponential_decay(reference_temperature: float = ROOM) -> Law:
    """Return the law X = X_r exp(-k (T - T_r)) for a reference temperature [K]; x is the temperature [K]."""

    def value(temperature: Array, value_at_reference: Array | complex, decay_per_kelvin: Array | complex) -> Array:
        return np.asarray(value_at_reference * np.exp(-decay_per_kelvin * (np.asarray(temperature) - reference_temperature)))

    def jacobian(temperature: Array, value_at_reference: Array | float, decay_per_kelvin: Array | float) -> Array:
        above = np.asarray(temperature) - reference_temperature
        factor = np.exp(-decay_per_kelvin * above)
        return columns(factor, -value_at_reference * factor * above)

    def basis(temperature: Array, decay_per_kelvin: Array | float) -> Array:
        return columns(np.exp(-decay_per_kelvin * (np.asarray(temperature) - reference_temperature)))

    def guess(temperature: Array, values: Array) -> dict[str, float]:
        return {
            "value_at_reference": at_reference(temperature, values, reference_temperature),
            "decay_per_kelvin": -logarithmic_slope(temperature, values),
        }

    return Law(
        name="exponential_decay",
        formula=r"X = X_r\, e^{-k (T - T_r)}",
        parameters=(
            VALUE_AT_REFERENCE,
            Parameter(
                "decay_per_kelvin", symbol="k", unit="1/K", lower=-math.inf, upper=math.inf, meaning="1/k is the kelvin for a factor of e"
            ),
        ),
        value=value,
        jacobian=jacobian,
        guess=guess,
        linear=("value_at_reference",),
        basis=basis,
        broadcasts=True,
        source="yield stress of greases over temperature (common practice, no source)",
    )


EXPONENTIAL_DECAY = exponential_decay()
