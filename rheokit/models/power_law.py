"""Power law: a straight line of log stress over log rate.

Holds over a decade or two; says nothing of a yield stress or a plateau.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.parameters import CONSISTENCY, FLOW_INDEX
from rheokit.models.rate import columns, line, logarithm, positive, power, split

__all__ = ["POWER_LAW"]


def stress(shear_rate: Array, consistency: Array | complex, flow_index: Array | complex) -> Array:
    """Return the shear stress [Pa]."""
    direction, rate = split(shear_rate)
    return direction * consistency * power(rate, flow_index)


def jacobian(shear_rate: Array, consistency: Array | float, flow_index: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    direction, rate = split(shear_rate)
    term = direction * power(rate, flow_index)
    return columns(term, consistency * term * logarithm(rate))


def basis(shear_rate: Array, flow_index: Array | float) -> Array:
    """Return what the consistency multiplies."""
    direction, rate = split(shear_rate)
    return columns(direction * power(rate, flow_index))


def guess(shear_rate: Array, shear_stress: Array) -> dict[str, float]:
    """Return the log-log line, which is a start and not the least-squares answer in stress."""
    rate, stresses = positive(shear_rate, shear_stress)
    intercept, slope = line(np.log(rate), np.log(stresses))
    return {"consistency": math.exp(intercept), "flow_index": min(max(slope, FLOW_INDEX.lower), FLOW_INDEX.upper)}


POWER_LAW = Law(
    name="power_law",
    formula=r"\tau = K \dot\gamma^n",
    parameters=(CONSISTENCY, FLOW_INDEX),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("consistency",),
    basis=basis,
    broadcasts=True,
    source="de Waele, J. Oil Colour Chem. Assoc. 6 (1923) 33; Ostwald, Kolloid-Z. 36 (1925) 99 (from memory)",
)
