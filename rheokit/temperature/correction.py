"""A number measured a little off its stated temperature: corrected, with the error that this adds; never ignored."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from rheokit.base.errors import RangeError
from rheokit.base.estimate import Condition, Estimate

__all__ = ["FARTHEST", "TemperatureCoefficient", "at_stated_temperature"]

FARTHEST = 5.0
"""[K] How far a number is moved by a coefficient: beyond it the coefficient itself changes (our own setting)."""


@dataclass(frozen=True, kw_only=True)
class TemperatureCoefficient:
    """Relative change of a quantity for each kelvin: d ln X/dT [1/K], negative when it falls, and its standard uncertainty.

    For 50 kJ/mol near 20 °C it is -0.070 1/K.
    """

    value: float
    standard_error: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and math.isfinite(self.standard_error) and self.standard_error >= 0.0):
            raise RangeError("a temperature coefficient is a number [1/K] with a standard uncertainty of zero or more")


def at_stated_temperature(
    estimate: Estimate, *, measured: float, stated: float, coefficient: TemperatureCoefficient, measured_error: float = 0.0
) -> Estimate:
    """Return an estimate moved from the temperature at which it was measured to the one stated for it, both [K].

    Parameters
    ----------
    estimate
        What was measured, not zero.
    measured, stated
        Temperatures [K].
    coefficient
        d ln X/dT of the quantity.
    measured_error
        Standard uncertainty of the measured temperature [K]; it counts even where nothing has to be moved.

    Returns
    -------
    Estimate
        Value times `exp(k (stated - measured))`; the uncertainty of k over the difference and that of the temperature stand in the
        budget as `temperature`.

    Raises
    ------
    RangeError
        When the two temperatures are farther apart than `FARTHEST`.

    References
    ----------
    JCGM 100:2008, 5.1 (propagation); degrees of freedom: G.4.1, those of the temperature part taken as infinite.
    """
    difference = stated - measured
    if not abs(difference) <= FARTHEST:
        raise RangeError(
            f"{estimate.name} was measured {abs(difference):.3g} K off its stated temperature; more than {FARTHEST:.3g} K is not "
            "corrected: measure again"
        )
    factor = math.exp(coefficient.value * difference)
    value = estimate.value * factor
    added = abs(value) * math.hypot(coefficient.standard_error * difference, coefficient.value * measured_error)
    said = f"{estimate.method}; corrected by {factor - 1.0:+.2%} from {measured - 273.15:.2f} to {stated - 273.15:.2f} °C"
    moved = replace(
        estimate,
        value=value,
        method=said,
        interval=None,
        conditions={**estimate.conditions, "temperature": Condition(value=stated, unit="K")},
        standard_error=None if estimate.standard_error is None else estimate.standard_error * factor,
        components={part: size * factor for part, size in estimate.components.items()},
    )
    return _with_part(moved, added)


def _with_part(estimate: Estimate, added: float) -> Estimate:
    """Return an estimate whose budget has so much more for temperature."""
    if estimate.standard_error is None or estimate.degrees_of_freedom is None or added == 0.0:
        return estimate
    error = math.hypot(estimate.standard_error, added)
    parts = dict(estimate.components) or {"fit": estimate.standard_error}
    parts["temperature"] = math.hypot(parts.get("temperature", 0.0), added)
    freedom = estimate.degrees_of_freedom * (error / estimate.standard_error) ** 4
    return replace(estimate, standard_error=error, degrees_of_freedom=freedom, components=parts)
