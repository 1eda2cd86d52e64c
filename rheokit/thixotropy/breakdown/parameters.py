"""The parameters of the breakdown laws, each listed once."""

from __future__ import annotations

import math

from rheokit.base.quantities import quantity
from rheokit.law import Parameter

__all__ = ["BREAKDOWN_TIME", "PLATEAU_STRESS", "REFERENCE_TIME", "STRESS_AT_REFERENCE_TIME", "STRESS_DROP", "WELTMANN_COEFFICIENT"]

REFERENCE_TIME = 1.0
"""[s] At which Weltmann's first parameter is the stress; the coefficient itself does not depend on it."""


def _parameter(name: str, lower: float) -> Parameter:
    known = quantity(name)
    return Parameter(name, symbol=known.latex, unit=known.unit, lower=lower, upper=math.inf, meaning=known.meaning)


STRESS_AT_REFERENCE_TIME = Parameter(
    "stress_at_reference_time", symbol="A", unit="Pa", lower=0.0, upper=math.inf, meaning="stress 1 s after the hold began, by the law"
)
PLATEAU_STRESS = Parameter(
    "plateau_stress", symbol=r"\tau_\infty", unit="Pa", lower=0.0, upper=math.inf, meaning="stress after a hold without end, by the law"
)
WELTMANN_COEFFICIENT = _parameter("weltmann_coefficient", -math.inf)
STRESS_DROP = _parameter("stress_drop", -math.inf)
# Nothing that breaks down faster than a microsecond is seen; at zero the law would divide by it.
BREAKDOWN_TIME = _parameter("breakdown_time", 1e-6)
