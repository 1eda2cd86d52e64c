"""Casson: square root of stress against square root of rate is a straight line.

Made for printing inks; a compromise between a yield and a thinning curve, with one parameter fewer than Herschel-Bulkley.
"""

from __future__ import annotations

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.parameters import CASSON_VISCOSITY, CASSON_YIELD_STRESS
from rheokit.models.rate import columns, line, positive, split

__all__ = ["CASSON"]

# The derivative by the yield stress grows without limit towards yield 0; this keeps it finite there.
_SMALLEST = 1e-200


def stress(shear_rate: Array, casson_yield_stress: Array | complex, casson_viscosity: Array | complex) -> Array:
    """Return the shear stress [Pa].

    It is not linear in its parameters: the line of square roots is least squares in the root of the stress, not in the stress.
    """
    direction, rate = split(shear_rate)
    return np.asarray(direction * (np.sqrt(casson_yield_stress) + np.sqrt(casson_viscosity * rate)) ** 2)


def jacobian(shear_rate: Array, casson_yield_stress: Array | float, casson_viscosity: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    direction, rate = split(shear_rate)
    root_yield = np.sqrt(np.maximum(casson_yield_stress, _SMALLEST))
    root_viscosity = np.sqrt(np.maximum(casson_viscosity, _SMALLEST))
    root = np.sqrt(rate)
    both = root_yield + root_viscosity * root
    return columns(direction * both / root_yield, direction * both * root / root_viscosity)


def guess(shear_rate: Array, shear_stress: Array) -> dict[str, float]:
    """Return the line of square roots, its negative parts replaced by a hundredth of the stress."""
    rate, stresses = positive(shear_rate, shear_stress)
    intercept, slope = line(np.sqrt(rate), np.sqrt(stresses))
    yield_stress = intercept**2 if intercept > 0.0 else 0.01 * float(stresses.min())
    viscosity = slope**2 if slope > 0.0 else 0.01 * float(stresses.max() / rate.max())
    return {"casson_yield_stress": yield_stress, "casson_viscosity": viscosity}


CASSON = Law(
    name="casson",
    formula=r"\sqrt{\tau} = \sqrt{\tau_C} + \sqrt{\eta_C \dot\gamma}",
    parameters=(CASSON_YIELD_STRESS, CASSON_VISCOSITY),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    broadcasts=True,
    source="Casson, in Mill (ed.), Rheology of Disperse Systems (1959) 84 (from memory)",
)
