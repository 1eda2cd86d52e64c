"""The parameters of the temperature laws, each listed once, the room temperature they refer to, and what their guesses share."""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Parameter

__all__ = ["GAS_CONSTANT", "ROOM", "VALUE_AT_REFERENCE", "at_reference", "logarithmic_slope"]

GAS_CONSTANT = 8.314462618
"""Molar gas constant [J/(mol·K)] (SI brochure, 9th edition, rounded)."""

ROOM = 296.15
"""[K] 23 °C, to which a law refers unless told otherwise; every law is a line of its own there, so the choice moves no prediction."""

VALUE_AT_REFERENCE = Parameter(
    "value_at_reference", symbol="X_r", lower=0.0, upper=math.inf, meaning="what the quantity is at the reference temperature, in its unit"
)


def at_reference(temperature: Array, values: Array, reference: float) -> float:
    """Return the value near a reference temperature [K], for guesses."""
    positive = values > 0.0
    if not positive.any():
        return 1.0
    return float(values[positive][np.argmin(np.abs(temperature[positive] - reference))])


def logarithmic_slope(temperature: Array, values: Array) -> float:
    """Return d ln X/dT [1/K] of the straight line through the logarithms, for guesses; 0 where there is none."""
    positive = values > 0.0
    kelvin, logs = temperature[positive], np.log(values[positive])
    if kelvin.size < 2 or not np.ptp(kelvin) > 0.0:
        return 0.0
    away = kelvin - kelvin.mean()
    return float(away @ (logs - logs.mean()) / (away @ away))
