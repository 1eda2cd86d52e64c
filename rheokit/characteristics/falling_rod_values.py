"""What a falling rod is read for: viscosity at 2500 1/s, stress at 2.5 1/s, their ratio and the slope, by one power law."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from rheokit.base.curve import FloatArray, HasFlow
from rheokit.base.errors import FitError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.show import number

__all__ = ["HIGH_RATE", "LOW_RATE", "falling_rod_values"]

HIGH_RATE, LOW_RATE = 2500.0, 2.5
"""[1/s] Rates at which the method reads viscosity and stress (ASTM D4040, from memory)."""


def falling_rod_values(curve: HasFlow) -> dict[str, Estimate]:
    """Return viscosity at 2500 1/s, stress at 2.5 1/s, stress over viscosity [1/s] and flow index of the falls of a rod.

    Parameters
    ----------
    curve
        Rates [1/s] and stresses [Pa] of at least three falls under different weights, as `FallingRod.flow` gives them.

    Returns
    -------
    dict
        `viscosity_at_rate`, `stress_at_rate`, `stress_over_viscosity` and `flow_index`. Errors come from the scatter of the falls about
        the line and grow with the distance from them; the method says how far (decades) a rate lies outside the falls.

    Raises
    ------
    FitError
        For fewer than three falls, one that is not positive, or all at one rate.

    Notes
    -----
    A straight line of ln stress over ln rate, as the method has it: least squares in logarithms, not in stress.

    References
    ----------
    ASTM D4040 (only its scope was read). For a power law the stress at 2.5 over that at 2500 1/s is 10^(-3 n), exactly.
    """
    rate, stress = (np.asarray(values, dtype=np.float64) for values in (curve.shear_rate, curve.shear_stress))
    if rate.size < 3 or rate.size != stress.size or not (np.all(rate > 0.0) and np.all(stress > 0.0)):
        raise FitError(f"a falling rod needs at least three falls with a positive rate and stress each, not {rate.size}")
    x, y = np.log(rate), np.log(stress)
    away = x - x.mean()
    if not away @ away > 1e-12:
        raise FitError("all falls have one rate; use weights that differ")
    slope = float(away @ y / (away @ away))
    residual = y - y.mean() - slope * away
    scatter = math.sqrt(float(residual @ residual) / (rate.size - 2))

    def estimate(name: str, unit: str, logarithm: tuple[float, float], conditions: dict[str, Condition], said: str) -> Estimate:
        level, turn = logarithm  # weights of the mean level and of the slope
        error = scatter * math.hypot(level / math.sqrt(rate.size), turn / math.sqrt(float(away @ away)))
        value = level * float(y.mean()) + turn * slope
        shown = value if name == "flow_index" else math.exp(value)
        return _estimate(name, unit, shown, error if name == "flow_index" else shown * error, rate.size - 2, conditions, said)

    low, high = math.log(LOW_RATE) - float(x.mean()), math.log(HIGH_RATE) - float(x.mean())
    at_low, at_high = {"shear_rate": Condition(value=LOW_RATE, unit="1/s")}, {"shear_rate": Condition(value=HIGH_RATE, unit="1/s")}
    both = {"lower_rate": Condition(value=LOW_RATE, unit="1/s"), "higher_rate": Condition(value=HIGH_RATE, unit="1/s")}
    viscosity = estimate("viscosity_at_rate", "Pa·s", (1.0, high), at_high, _reach(rate, HIGH_RATE))
    ratio = estimate("stress_over_viscosity", "1/s", (0.0, low - high), both, _reach(rate, LOW_RATE))
    return {
        "viscosity_at_rate": _times(viscosity, 1.0 / HIGH_RATE),
        "stress_at_rate": estimate("stress_at_rate", "Pa", (1.0, low), at_low, _reach(rate, LOW_RATE)),
        "stress_over_viscosity": _times(ratio, HIGH_RATE),
        "flow_index": estimate("flow_index", "1", (0.0, 1.0), {}, ""),
    }


def _estimate(  # noqa: PLR0917 - the parts of one estimate
    name: str, unit: str, value: float, error: float, freedom: int, conditions: dict[str, Condition], said: str
) -> Estimate:
    method = "straight line of ln stress over ln rate of the falls" + (f"; {said}" if said else "")
    if error == 0.0:
        reason = "the falls lie on one line: no scatter is seen"
        return Estimate(name=name, value=value, unit=unit, standard_error=None, method=method, conditions=conditions, reason=reason)
    return Estimate(
        name=name, value=value, unit=unit, standard_error=error, degrees_of_freedom=freedom, method=method, conditions=conditions,
        components={"fit": error},
    )  # fmt: skip


def _times(estimate: Estimate, factor: float) -> Estimate:
    error = estimate.standard_error
    return replace(
        estimate,
        value=estimate.value * factor,
        standard_error=None if error is None else error * factor,
        components={part: size * factor for part, size in estimate.components.items()},
    )


def _reach(rate: FloatArray, asked: float) -> str:
    """Say how far a rate lies outside the falls."""
    decades = max(math.log10(asked / float(rate.max())), math.log10(float(rate.min()) / asked))
    if decades <= 0.0:
        return ""
    return f"an extrapolation: {number(asked)} 1/s lies {number(decades, 2)} decades outside the falls"
