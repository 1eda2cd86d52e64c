"""Weltmann: at a held rate the stress falls by the same amount whenever the time since the hold began doubles.

An empirical line over the logarithm of time: it has no plateau, so it fails where the hold lasts long enough to reach one, and it knows no
stress at the very start.
"""

from __future__ import annotations

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.rate import columns, line
from rheokit.thixotropy.breakdown.parameters import REFERENCE_TIME, STRESS_AT_REFERENCE_TIME, WELTMANN_COEFFICIENT

__all__ = ["WELTMANN"]


def stress(time: Array, stress_at_reference_time: Array | complex, weltmann_coefficient: Array | complex) -> Array:
    """Return the shear stress [Pa] at times [s] above 0 since the hold began."""
    return np.asarray(stress_at_reference_time - weltmann_coefficient * np.log(time / REFERENCE_TIME))


def jacobian(time: Array, stress_at_reference_time: Array | float, weltmann_coefficient: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    nothing = 0.0 * (np.asarray(stress_at_reference_time) + np.asarray(weltmann_coefficient))
    return columns(np.ones(np.shape(time)) + nothing, -np.log(time / REFERENCE_TIME) + nothing)


def basis(time: Array) -> Array:
    """Return what the stress at the reference time and the coefficient multiply."""
    return columns(np.ones(np.shape(time)), -np.log(time / REFERENCE_TIME))


def guess(time: Array, stresses: Array) -> dict[str, float]:
    """Return the straight line over the logarithm of time."""
    intercept, slope = line(np.log(time / REFERENCE_TIME), stresses)
    return {"stress_at_reference_time": max(intercept, 0.0), "weltmann_coefficient": -slope}


WELTMANN = Law(
    name="weltmann",
    formula=r"\tau = A - B \ln(t / 1\,\mathrm{s})",
    parameters=(STRESS_AT_REFERENCE_TIME, WELTMANN_COEFFICIENT),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("stress_at_reference_time", "weltmann_coefficient"),
    basis=basis,
    broadcasts=True,
    source="Weltmann, J. Appl. Phys. 14 (1943) 343 (from memory)",
)
