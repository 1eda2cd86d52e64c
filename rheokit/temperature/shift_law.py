"""Williams, Landel and Ferry: the Vogel law written about a reference temperature, for vehicles that near their glass transition."""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law, Parameter
from rheokit.models.rate import columns
from rheokit.temperature.parameters import ROOM, VALUE_AT_REFERENCE, at_reference, logarithmic_slope

__all__ = ["UNIVERSAL_FACTOR", "UNIVERSAL_SPAN", "WILLIAMS_LANDEL_FERRY", "williams_landel_ferry"]

UNIVERSAL_FACTOR, UNIVERSAL_SPAN = 17.44, 51.6
"""C1 [1] and C2 [K] about the glass transition, the same for many liquids (Ferry, from memory)."""

_LN10 = math.log(10.0)


def williams_landel_ferry(reference_temperature: float = ROOM) -> Law:
    """Return the law X = X_r 10^(-C1 (T - T_r)/(C2 + T - T_r)) for a reference temperature [K]; x is the temperature [K]."""

    def power(temperature: Array, shift_span: Array | complex) -> Array:
        above = np.asarray(temperature) - reference_temperature
        return np.asarray(above / (shift_span + above))

    def value(temperature: Array, value_at_reference: Array | complex, shift_factor: Array | complex, shift_span: Array | complex) -> Array:
        return np.asarray(value_at_reference * np.exp(-_LN10 * shift_factor * power(temperature, shift_span)))

    def jacobian(temperature: Array, value_at_reference: Array | float, shift_factor: Array | float, shift_span: Array | float) -> Array:
        share = power(temperature, shift_span)
        above = np.asarray(temperature) - reference_temperature
        factor = np.exp(-_LN10 * shift_factor * share)
        held = value_at_reference * factor * _LN10
        return columns(factor, -held * share, held * shift_factor * share / (shift_span + above))

    def basis(temperature: Array, shift_factor: Array | float, shift_span: Array | float) -> Array:
        return columns(np.exp(-_LN10 * shift_factor * power(temperature, shift_span)))

    def guess(temperature: Array, values: Array) -> dict[str, float]:
        span = max(120.0, 1.5 * (reference_temperature - float(np.min(temperature))))
        slope = -logarithmic_slope(temperature, values) / _LN10
        away = float(np.mean(temperature)) - reference_temperature
        factor = max(slope * (span + away) ** 2 / span, 0.1)
        return {
            "value_at_reference": at_reference(temperature, values, reference_temperature),
            "shift_factor": factor,
            "shift_span": span,
        }

    return Law(
        name="williams_landel_ferry",
        formula=r"\log_{10}\frac{X}{X_r} = -\frac{C_1 (T - T_r)}{C_2 + T - T_r}",
        parameters=(
            VALUE_AT_REFERENCE,
            Parameter("shift_factor", symbol="C_1", lower=0.0, upper=math.inf, meaning="decades from the reference to high temperature"),
            Parameter("shift_span", symbol="C_2", unit="K", lower=0.0, upper=math.inf, meaning="how far below the reference it would end"),
        ),
        value=value,
        jacobian=jacobian,
        guess=guess,
        linear=("value_at_reference",),
        basis=basis,
        broadcasts=True,
        source="Williams, Landel & Ferry, J. Am. Chem. Soc. 77 (1955) 3701 (from memory)",
    )


WILLIAMS_LANDEL_FERRY = williams_landel_ferry()
