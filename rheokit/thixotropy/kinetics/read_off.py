"""What is read off a prediction: loop area, recoveries and the peak of a start-up, each with its error."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray, Leg
from rheokit.base.errors import FitError, printable
from rheokit.base.estimate import Condition, Estimate
from rheokit.thixotropy.kinetics.prediction import Known, Prediction
from rheokit.thixotropy.loop import hysteresis_loop
from rheokit.thixotropy.pieces import areas_between

__all__ = ["loop_estimates", "peak_estimates", "recovery_estimates"]

# Relative change of the stresses by which the slope of an area is taken: its cube is rounding, and so is rounding over it.
_SMALL = 1e-5


def _estimate(
    known: Known, name: str, unit: str, *, value: float, slope: FloatArray, scale: float, conditions: dict[str, Condition]
) -> Estimate:
    """Return an estimate from its slope by the ink (10,) and by the relative stress scale of a new load."""
    method = f"predicted by the {known.problem.law.name.replace('_', ' ')} structure law, for a new load; delta method"
    error = float(known.error(slope[None], np.array([value]))[0])
    if not np.isfinite(error):
        reason = "it rests on what the data do not determine"
        return Estimate(
            name=name, value=value, unit=unit, standard_error=None, method=method, conditions=conditions, determined=False, reason=reason
        )
    load = abs(scale) * known.load_deviation
    total = float(np.hypot(error, load))
    if total == 0.0:
        reason = "no scatter to take an error from"
        return Estimate(name=name, value=value, unit=unit, standard_error=None, method=method, conditions=conditions, reason=reason)
    return Estimate(
        name=name, value=value, unit=unit, standard_error=total, degrees_of_freedom=known.freedom, method=method, conditions=conditions,
        components={"fit": error, "load": load},
    )  # fmt: skip


def loop_estimates(known: Known, prediction: Prediction) -> tuple[Estimate, ...]:
    """Return loop area [Pa/s] and relative loop area, as `hysteresis_loop` finds them in the predicted points."""
    up, down = prediction.rows("up"), prediction.rows("down")[::-1]
    if up.size < 3 or down.size < 3:
        raise FitError(f"{printable(prediction.name)}: a loop needs an up and a down piece with at least 3 points each")
    rate, stress, slope = prediction.shear_rate, prediction.shear_stress, prediction.slope
    low, high = max(rate[up[0]], rate[down[0]]), min(rate[up[-1]], rate[down[-1]])

    def under(stresses: FloatArray) -> FloatArray:
        return np.array([float(areas_between(rate[leg], stresses[leg], low, high).sum()) for leg in (up, down)])

    whole = under(stress)
    # A step that moves no stress by more than a small part of itself.
    steps = _SMALL / np.maximum(np.abs(slope / stress[:, None]).max(axis=0), 1e-300)
    moved = np.array(
        [(under(stress + step * one) - under(stress - step * one)) / (2.0 * step) for one, step in zip(slope.T, steps, strict=True)]
    )
    legs = [Leg(prediction.time[rows], rate[rows], stress[rows]) for rows in (up, down[::-1])]
    conditions = dict(hysteresis_loop(*legs).area.conditions)
    area, relative = float(whole[0] - whole[1]), float(1.0 - whole[1] / whole[0])
    slopes = moved[:, 0] - moved[:, 1], whole[1] / whole[0] ** 2 * moved[:, 0] - moved[:, 1] / whole[0]
    return (
        _estimate(known, "loop_area", "Pa/s", value=area, slope=slopes[0], scale=area, conditions=conditions),
        _estimate(known, "relative_loop_area", "1", value=relative, slope=slopes[1], scale=0.0, conditions=conditions),
    )


_TIMES = (10.0, 30.0, 60.0, 300.0)


def recovery_estimates(known: Known, prediction: Prediction) -> tuple[Estimate, ...]:
    """Return the rebuilt part of the viscosity [1] at 10, 30, 60 and 300 s after the shear, as far as the programme goes."""
    viscosity, slope = prediction.shear_stress / prediction.shear_rate, prediction.slope / prediction.shear_rate[:, None]
    rest, sheared, back = (prediction.rows(kind) for kind in ("rest", "shear", "recovery"))
    began = prediction.time[sheared[-1]]
    since = prediction.time[back] - began
    high, low = viscosity[rest[-1]], viscosity[sheared[-1]]
    found = []
    for time in _TIMES:
        if time > since[-1] * (1.0 + 1e-9):
            continue
        here = float(np.interp(time, since, viscosity[back]))
        by_here = np.array([np.interp(time, since, column) for column in slope[back].T])
        value = (here - low) / (high - low)
        by = (by_here - slope[sheared[-1]] - value * (slope[rest[-1]] - slope[sheared[-1]])) / (high - low)
        conditions = {
            "tracked": Condition(value="viscosity"),
            "time": Condition(value=time, unit="s"),
            "shear_rate": Condition(value=float(prediction.shear_rate[back[-1]]), unit="1/s"),
            "shear_rate_of_shear": Condition(value=float(prediction.shear_rate[sheared[-1]]), unit="1/s"),
        }
        found.append(_estimate(known, "structural_recovery", "1", value=float(value), slope=by, scale=0.0, conditions=conditions))
    return tuple(found)


def peak_estimates(known: Known, prediction: Prediction) -> tuple[Estimate, ...]:
    """Return the highest stress [Pa] of the start-up."""
    at = int(np.argmax(prediction.shear_stress))
    value = float(prediction.shear_stress[at])
    conditions = {"shear_rate": Condition(value=float(prediction.shear_rate[at]), unit="1/s")}
    return (_estimate(known, "startup_peak_stress", "Pa", value=value, slope=prediction.slope[at], scale=value, conditions=conditions),)
