"""Viscosity and stress at stated rates, read between the measured points, and the shear-thinning index."""

from __future__ import annotations

import math

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import RangeError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.run import Run, Step
from rheokit.base.settled import settled_points
from rheokit.characteristics.characteristic import At, AtRule, Characteristic
from rheokit.statistics.between_points import METHOD, stresses_at

__all__ = ["SHEAR_THINNING_INDEX", "STRESS_AT_RATE", "VISCOSITY_AT_RATE"]

NO_SCATTER = "too few points to see their scatter"


def _log_stress(run: Run, step: Step, rates: tuple[float, ...]) -> tuple[FloatArray, FloatArray, tuple[float, float] | None]:
    """Return log stress at the rates, the weight of every point in each, and the scatter of a point."""
    read = stresses_at(settled_points(step), rates, f"{run.name}, step {step.number} ({step.kind})")
    return read.log_stress, read.weights, read.scatter


def _estimate(  # noqa: PLR0917 - the parts of one estimate, used three times here
    name: str, unit: str, value: float, spread: float, scatter: tuple[float, float] | None, conditions: dict[str, Condition]
) -> Estimate:
    """Return the estimate of a quantity whose logarithm is a weighted sum of points, `spread` being the root of the summed squares."""
    if scatter is None or scatter[0] == 0.0:
        reason = NO_SCATTER if scatter is None else "the points lie on one line: no scatter is seen"
        return Estimate(name=name, value=value, unit=unit, standard_error=None, reason=reason, method=METHOD, conditions=conditions)
    error = value * scatter[0] * spread
    return Estimate(
        name=name,
        value=value,
        unit=unit,
        standard_error=error,
        degrees_of_freedom=scatter[1],
        components={"fit": error},
        method=f"{METHOD}; error from the points' scatter about their neighbours",
        conditions=conditions,
    )


def _one_rate(at: At) -> float:
    rate = at["shear_rate"]
    if not isinstance(rate, float) or not rate > 0.0:
        raise RangeError(f"a shear rate is one positive number, not {rate!r}")
    return rate


def stress_at_rate(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the shear stress [Pa] of a step at one rate."""
    assert step is not None
    rate = _one_rate(at)
    logs, weights, scatter = _log_stress(run, step, (rate,))
    conditions = {"shear_rate": Condition(value=rate, unit="1/s")}
    return _estimate("stress_at_rate", "Pa", math.exp(logs[0]), float(np.linalg.norm(weights)), scatter, conditions)


def viscosity_at_rate(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the apparent viscosity [Pa·s] of a step at one rate."""
    assert step is not None
    rate = _one_rate(at)
    logs, weights, scatter = _log_stress(run, step, (rate,))
    conditions = {"shear_rate": Condition(value=rate, unit="1/s")}
    return _estimate("viscosity_at_rate", "Pa·s", math.exp(logs[0]) / rate, float(np.linalg.norm(weights)), scatter, conditions)


def shear_thinning_index(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the viscosity at the lower over that at the higher of two rates; points used by both count once.

    References
    ----------
    ASTM D2196 and E3070 name the ratio of viscosities at a ten-fold ratio of speeds (scope read, text not quoted).
    """
    assert step is not None
    rates = at["shear_rates"]
    if not isinstance(rates, tuple) or len(rates) != 2 or not 0.0 < rates[0] < rates[1]:
        raise RangeError(f"a shear-thinning index needs a lower and a higher rate in this order, not {rates!r}")
    logs, weights, scatter = _log_stress(run, step, rates)
    value = math.exp(logs[0] - logs[1]) * rates[1] / rates[0]
    conditions = {"lower_rate": Condition(value=rates[0], unit="1/s"), "higher_rate": Condition(value=rates[1], unit="1/s")}
    return _estimate("shear_thinning_index", "1", value, float(np.linalg.norm(weights[0] - weights[1])), scatter, conditions)


_RATE = {"shear_rate": AtRule(quantity="shear_rate", meaning="rate at which it is read")}

VISCOSITY_AT_RATE = Characteristic(
    name="viscosity_at_rate",
    quantity="viscosity",
    meaning="apparent viscosity at a stated rate",
    needs="step",
    scales="stress at a rate",
    at=_RATE,
    measure=viscosity_at_rate,
)
STRESS_AT_RATE = Characteristic(
    name="stress_at_rate",
    quantity="shear_stress",
    meaning="shear stress at a stated rate",
    needs="step",
    scales="stress at a rate",
    at=_RATE,
    measure=stress_at_rate,
)
SHEAR_THINNING_INDEX = Characteristic(
    name="shear_thinning_index",
    quantity="shear_thinning_index",
    meaning="viscosity at the lower over that at the higher of two stated rates",
    needs="step",
    scales="ratio",
    at={"shear_rates": AtRule(quantity="shear_rate", count=2, meaning="the lower and the higher rate")},
    measure=shear_thinning_index,
)
