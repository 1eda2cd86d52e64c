"""Herschel-Bulkley: a yield stress and a power law above it.

The usual law of a gel ink on the bench; beyond the bench it understates the stress, because it knows no high-rate plateau.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.parameters import CONSISTENCY, FLOW_INDEX, YIELD_STRESS
from rheokit.models.rate import columns, line, logarithm, positive, power, split

__all__ = ["HERSCHEL_BULKLEY"]


def stress(shear_rate: Array, yield_stress: Array | complex, consistency: Array | complex, flow_index: Array | complex) -> Array:
    """Return the shear stress [Pa]."""
    direction, rate = split(shear_rate)
    return direction * (yield_stress + consistency * power(rate, flow_index))


def jacobian(shear_rate: Array, yield_stress: Array | float, consistency: Array | float, flow_index: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    direction, rate = split(shear_rate)
    term = direction * power(rate, flow_index)
    return columns(direction + 0.0 * yield_stress, term, consistency * term * logarithm(rate))


def basis(shear_rate: Array, flow_index: Array | float) -> Array:
    """Return what yield stress and consistency multiply."""
    direction, rate = split(shear_rate)
    return columns(direction, direction * power(rate, flow_index))


def guess(shear_rate: Array, shear_stress: Array) -> dict[str, float]:
    """Return three quarters of the lowest stress as the yield, and the log-log line of what lies above it."""
    rate, stresses = positive(shear_rate, shear_stress)
    yield_stress = 0.75 * float(stresses.min())
    intercept, slope = line(np.log(rate), np.log(stresses - yield_stress))
    index = min(max(slope, FLOW_INDEX.lower), FLOW_INDEX.upper)
    return {"yield_stress": yield_stress, "consistency": math.exp(intercept), "flow_index": index}


HERSCHEL_BULKLEY = Law(
    name="herschel_bulkley",
    formula=r"\tau = \tau_y + K \dot\gamma^n",
    parameters=(YIELD_STRESS, CONSISTENCY, FLOW_INDEX),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("yield_stress", "consistency"),
    basis=basis,
    broadcasts=True,
    source="Herschel & Bulkley, Kolloid-Z. 39 (1926) 291 (from memory)",
)
