"""The parameters of the recovery laws, each listed once, and what their guesses share.

The values of the tracked quantity have no unit here: it is that of whatever is tracked, a viscosity or a storage modulus.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.base.quantities import quantity
from rheokit.law import Array, Parameter

__all__ = ["PLATEAU_VALUE", "RECOVERY_TIME", "START_VALUE", "STRETCHING_EXPONENT", "course", "part", "process_time", "share_left"]

START_VALUE = Parameter("start_value", symbol="X_0", meaning="tracked quantity as the shear ends, by the law")
PLATEAU_VALUE = Parameter("plateau_value", symbol=r"X_\infty", meaning="tracked quantity after a recovery without end, by the law")


def _parameter(name: str, lower: float, upper: float) -> Parameter:
    known = quantity(name)
    return Parameter(name, symbol=known.latex, unit=known.unit, lower=lower, upper=upper, meaning=known.meaning)


# Nothing that recovers faster than a microsecond is seen; at zero the laws would divide by it.
_SHORTEST = 1e-6
RECOVERY_TIME = _parameter("recovery_time", _SHORTEST, math.inf)
# Below 0.1 the rise is spread over more decades of time than any test covers; above 2 nearly all of it comes at one moment.
STRETCHING_EXPONENT = _parameter("stretching_exponent", 0.1, 2.0)


def part(which: str, index: int) -> Parameter:
    """Return what one of two processes adds."""
    return Parameter(f"{which}_part", symbol=f"A_{index}", meaning=f"what the {which} of two processes adds; the two may change places")


def process_time(which: str, index: int) -> Parameter:
    """Return the time constant of one of two processes."""
    return Parameter(
        f"{which}_time", symbol=f"t_{index}", unit="s", lower=_SHORTEST, upper=math.inf, meaning=f"time constant of the {which}"
    )


def share_left(left: Array, start_value: Array | complex, plateau_value: Array | complex) -> Array:
    """Return the tracked quantity where this share of the way from start to plateau is left."""
    return np.asarray(plateau_value + (start_value - plateau_value) * left)


def course(time: Array, tracked: Array) -> tuple[float, float, float]:
    """Return first value, last value and the time in between at which the tracked quantity first passes their middle, for guesses."""
    order = np.argsort(time, kind="stable")
    times, values = time[order], tracked[order]
    few = max(1, times.size // 20)
    first, last = float(np.median(values[:few])), float(np.median(values[-few:]))
    passed = (values >= 0.5 * (first + last)) if last >= first else (values <= 0.5 * (first + last))
    half = float(times[int(np.argmax(passed))])
    positive = times[times > 0.0]
    return first, last, half if half > 0.0 else float(np.median(positive)) if positive.size else 1.0
