"""The gas behind the ink: its pressure with temperature, emptying, expansion of the ink, vapour and altitude.

Every pressure says whether it is absolute or gauge. Functions take arrays that broadcast, so that ranges go through draw by draw.

A sealed refill in an oven is a pressure vessel: shield it, protect the eyes, size margins for the hottest case, and leave pressure
equipment to qualified people and local codes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray

__all__ = ["LIQUID_FULL", "absolute_pressure", "ambient_pressure", "gas_share_taken", "water_vapour_pressure"]

LIQUID_FULL = 0.7
"""Share of the gas volume that the expanding ink may take before the refill is called liquid-full: beyond it the pressure runs away."""

_SEA_LEVEL, _LAPSE, _POWER = 101_325.0, 2.25577e-5, 5.25588
_CRITICAL = 647.096


def ambient_pressure(altitude: ArrayLike) -> FloatArray:
    """Return the absolute pressure of the air [Pa] at an altitude [m], of its shape.

    References
    ----------
    ISO 2533 standard atmosphere, troposphere (constants from memory).
    """
    return np.asarray(_SEA_LEVEL * (1.0 - _LAPSE * np.asarray(altitude, dtype=np.float64)) ** _POWER)


def absolute_pressure(
    temperature: ArrayLike,
    ink_left: ArrayLike,
    *,
    filled_pressure: ArrayLike,
    filled_temperature: ArrayLike,
    gas_volume: ArrayLike,
    ink_volume: ArrayLike,
    expansion: ArrayLike,
    water_activity: ArrayLike = 0.0,
) -> FloatArray:
    """Return the absolute pressure of gas and water vapour [Pa].

    Parameters
    ----------
    temperature
        [K]
    ink_left
        Share of the ink that is still there, 1 full to 0 empty.
    filled_pressure, filled_temperature
        Absolute pressure [Pa] and temperature [K] at which the full refill holds `gas_volume`.
    gas_volume, ink_volume
        Of the full refill at `filled_temperature` [m³].
    expansion
        Volume expansion of the ink [1/K]; that of the tube is left out, which errs on the safe side.
    water_activity
        Vapour pressure of water over the ink over that of water alone: 0 for an ink without water, 1 at most. The vapour is part of the
        pressure at filling, and stays saturated while the gas grows.

    Returns
    -------
    ndarray
        Infinite where the ink has filled the refill.
    """
    kelvin, left = np.asarray(temperature, dtype=np.float64), np.asarray(ink_left, dtype=np.float64)
    ink = np.asarray(ink_volume, dtype=np.float64)
    grown = 1.0 + np.asarray(expansion) * (kelvin - np.asarray(filled_temperature))
    volume = np.asarray(gas_volume) + ink - left * ink * grown
    activity = np.asarray(water_activity, dtype=np.float64)
    dry = np.asarray(filled_pressure) - activity * water_vapour_pressure(filled_temperature)
    with np.errstate(divide="ignore", invalid="ignore"):
        pressure = dry * np.asarray(gas_volume) / volume * kelvin / np.asarray(filled_temperature)
    return np.where(volume > 0.0, pressure + activity * water_vapour_pressure(kelvin), np.inf)


def gas_share_taken(
    temperature: ArrayLike, *, filled_temperature: ArrayLike, gas_volume: ArrayLike, ink_volume: ArrayLike, expansion: ArrayLike
) -> FloatArray:
    """Return the share of the gas volume that the ink of a full refill takes by expanding to a temperature [K]."""
    rise = np.asarray(temperature, dtype=np.float64) - np.asarray(filled_temperature)
    return np.asarray(np.asarray(expansion) * rise * np.asarray(ink_volume) / np.asarray(gas_volume))


def water_vapour_pressure(temperature: ArrayLike) -> FloatArray:
    """Return the pressure [Pa] that water adds over itself at a temperature [K], up to 647 K; an ink with less water adds less.

    Below 273 K it is that of supercooled water by the same formula: some ten pascal, next to nothing beside the gas.

    References
    ----------
    Wagner & Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387, saturation pressure (coefficients from memory; 120 °C gives 198.7 kPa, the
    steam tables' 198.5).
    """
    # At the critical point the formula ends, as liquid water does.
    kelvin = np.minimum(np.asarray(temperature, dtype=np.float64), _CRITICAL)
    away = 1.0 - kelvin / _CRITICAL
    terms = (
        -7.85951783 * away
        + 1.84408259 * away**1.5
        - 11.7866497 * away**3
        + 22.6807411 * away**3.5
        - 15.9618719 * away**4
        + 1.80122502 * away**7.5
    )
    return np.asarray(22.064e6 * np.exp(_CRITICAL / kelvin * terms))
