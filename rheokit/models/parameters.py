"""The parameters of the flow laws with their bounds, each listed once; symbol, unit and meaning come from the list of quantities."""

from __future__ import annotations

import math
from typing import Literal

from rheokit.base.quantities import quantity
from rheokit.law import Parameter

__all__ = [
    "CASSON_VISCOSITY",
    "CASSON_YIELD_STRESS",
    "CONSISTENCY",
    "FLOW_INDEX",
    "INFINITE_SHEAR_VISCOSITY",
    "PLASTIC_VISCOSITY",
    "RATE_INDEX",
    "TIME_CONSTANT",
    "TRANSITION_INDEX",
    "VISCOSITY",
    "YIELD_STRESS",
    "ZERO_SHEAR_VISCOSITY",
]


def _parameter(name: str, lower: float = 0.0, upper: float = math.inf, *, scale: Literal["linear", "logarithmic"] = "linear") -> Parameter:
    known = quantity(name)
    return Parameter(name, symbol=known.latex, unit=known.unit, lower=lower, upper=upper, meaning=known.meaning, interval_scale=scale)


VISCOSITY = _parameter("viscosity")
YIELD_STRESS = _parameter("yield_stress")
# A yield stress, or a plateau at high rates, may truly be zero and enters as a sum; a consistency and a time constant only multiply.
CONSISTENCY = _parameter("consistency", scale="logarithmic")
# At index 0 a power term and a yield stress are one and the same; a little above, the data can still refuse it.
FLOW_INDEX = _parameter("flow_index", 1e-4, 2.0)
PLASTIC_VISCOSITY = _parameter("plastic_viscosity")
CASSON_YIELD_STRESS = _parameter("casson_yield_stress")
CASSON_VISCOSITY = _parameter("casson_viscosity")
ZERO_SHEAR_VISCOSITY = _parameter("zero_shear_viscosity", scale="logarithmic")
INFINITE_SHEAR_VISCOSITY = _parameter("infinite_shear_viscosity")
TIME_CONSTANT = _parameter("time_constant", scale="logarithmic")
RATE_INDEX = _parameter("rate_index", 0.0, 1.0)
# The law divides by it. Above 50 the transition is a corner and no data tell one value from the next.
TRANSITION_INDEX = _parameter("transition_index", 0.05, 50.0)
