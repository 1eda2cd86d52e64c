"""What one step is by itself: rest, constant rate, sweep, steady steps, stress programme; the rules say when they are not sure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.reading.oscillation import is_oscillation, oscillation_shape
from rheokit.reading.profile import direction, level_starts, middle, spread
from rheokit.reading.shape import CONSTANT_SPREAD, Shape, not_told, told
from rheokit.reading.stress_shapes import creeps, rising_stress, shape_by_stress, shape_without_rate
from rheokit.reading.sweeps import sweep_shape

__all__ = ["Tops", "shape_of", "tops_of"]

REST_FRACTION = 1e-5
"""Of the run's top rate: a step that stays below is a rest. The slowest programmed rates, 0.01 1/s, lie four decades under the usual
top of 100 to 1000 1/s (common practice, no source)."""

REST_NOISE_FRACTION = 1e-3
"""Of the run's top rate: a step that stays below, and keeps neither level nor direction, is a rest read by a noisy encoder."""

UNLOADED_FRACTION = 0.01
"""Of the run's top stress: a step that stays below carries no stress, and what moves is recoil."""

NOISY_SPREAD = 0.3
"""Spread over level up to which a rate without direction is a constant one, badly held: told with a caution."""

SETTLING_PART = 0.2
"""Part of the rows, at the start, in which a drive may still be reaching the rate it then holds."""

TEMPERATURE_CHANGE = 5.0
"""[K] Across a step at constant rate: shear heating stays below 2 K on a bench instrument, a temperature ramp covers 20 K and more."""

_NO_ROWS = np.empty(0)


@dataclass(frozen=True, kw_only=True)
class Tops:
    """Largest shear rate [1/s] and shear stress [Pa] of a run, without regard to their signs; 0 where there is none."""

    rate: float
    stress: float


def tops_of(columns: Mapping[str, FloatArray]) -> Tops:
    """Return the tops of a run."""
    largest = [np.abs(columns.get(name, _NO_ROWS)) for name in ("shear_rate", "shear_stress")]
    return Tops(**{name: float(np.nanmax(sizes, initial=0.0)) for name, sizes in zip(("rate", "stress"), largest, strict=True)})


def shape_of(columns: Mapping[str, FloatArray], tops: Tops) -> Shape:
    """Return what a step is by itself.

    Parameters
    ----------
    columns
        Quantity name to values [SI], each of shape (N,).
    tops
        Of the run.
    """
    if is_oscillation(columns):
        return _with_temperature(columns, oscillation_shape(columns))
    known = np.isfinite(columns["shear_rate"]) if "shear_rate" in columns else np.zeros(0, dtype=bool)
    if not known.any():
        return shape_without_rate(columns, tops.stress) or not_told(
            "there is no shear rate" if "shear_rate" not in columns else "no row has a shear rate"
        )
    rate = columns["shear_rate"][known]
    part = {name: values[known] for name, values in columns.items()}
    shape = _with_temperature(part, _rotation(part, rate, tops))
    return replace(shape, points=rate.size, unloaded=_is_unloaded(part, tops))


def _rotation(part: Mapping[str, FloatArray], rate: FloatArray, tops: Tops) -> Shape:
    """Return what the rate, and the stress beside it, make of a step; all rows have a rate."""
    if _crosses_zero(rate, tops):
        return not_told("the direction of rotation changes inside the step")
    if _is_low(rate, tops):
        return _low(part, rate, tops)
    settled = _constant(part, rate)
    if settled is not None:
        return settled
    by_stress = shape_by_stress(part, rate)
    if by_stress.shape is not None:
        return by_stress.shape
    sweep = sweep_shape(rate, _clock(part))
    return replace(sweep, findings=(*sweep.findings, *by_stress.doubt))


def _clock(columns: Mapping[str, FloatArray]) -> FloatArray | None:
    for name in ("time", "step_time"):
        if name in columns:
            time = columns[name]
            if np.isfinite(time).all() and (np.diff(time) > 0.0).all():
                return time
    return None


def _is_unloaded(part: Mapping[str, FloatArray], tops: Tops) -> bool:
    stress = part.get("shear_stress", _NO_ROWS)
    stress = stress[np.isfinite(stress)]
    return bool(stress.size) and bool(np.abs(stress).max() <= UNLOADED_FRACTION * tops.stress)


def _crosses_zero(rate: FloatArray, tops: Tops) -> bool:
    """Tell whether a step turns both ways for more than its noise about zero."""
    least = max(0.05 * float(np.abs(rate).max()), REST_NOISE_FRACTION * tops.rate)
    return bool(np.count_nonzero(rate < -least) >= 2 and np.count_nonzero(rate > least) >= 2)


def _is_low(rate: FloatArray, tops: Tops) -> bool:
    """Tell whether a step stands still, after its first rows, for all that its rate shows."""
    tail = rate[int(SETTLING_PART * rate.size) :]
    for rows in (rate, tail):
        largest = float(np.abs(rows).max())
        if largest <= REST_FRACTION * tops.rate:
            return True
        if largest <= REST_NOISE_FRACTION * tops.rate and spread(rows) > CONSTANT_SPREAD and direction(rows) == 0:
            return True
    return False


def _low(part: Mapping[str, FloatArray], rate: FloatArray, tops: Tops) -> Shape:
    """Return what a step at the rate of a rest is: a rest, or a stress held or ramped below the yield stress."""
    return rising_stress(part, tops.stress) or creeps(part, rate, tops.stress) or Shape(form="rest")


def _constant(part: Mapping[str, FloatArray], rate: FloatArray) -> Shape | None:
    """Return the shape of a step whose rate holds, perhaps after its first rows; or None."""
    wide = spread(rate)
    if wide <= CONSTANT_SPREAD:
        return _level(part, rate, ())
    settling = int(SETTLING_PART * rate.size)
    if settling and spread(rate[settling:]) <= CONSTANT_SPREAD and not level_starts(rate):
        return _level(part, rate[settling:], told(f"the shear rate settles within the first {settling} rows and then holds"))
    if wide <= NOISY_SPREAD and direction(rate) == 0 and rate.size > 3:
        said = told(f"the shear rate scatters by {wide:.0%} about {number(middle(rate), 3)} 1/s", "caution")
        return Shape(form="constant", rate=middle(rate), findings=said)
    return None


def _level(part: Mapping[str, FloatArray], rate: FloatArray, said: tuple[Finding, ...]) -> Shape:
    """Return the shape of a step whose last rows hold a rate."""
    by_stress = shape_by_stress(part, rate, rate_holds=True)
    return Shape(form="constant", rate=middle(rate), stress_quieter=by_stress.quieter, findings=(*said, *by_stress.doubt))


def _with_temperature(columns: Mapping[str, FloatArray], shape: Shape) -> Shape:
    """Return a shape that holds still in all but its temperature as a temperature ramp, or say that the temperature moves."""
    temperature = columns.get("temperature", _NO_ROWS)
    temperature = temperature[np.isfinite(temperature)]
    if temperature.size < 3:
        return shape
    shape = replace(shape, temperature=middle(temperature))
    change = float(temperature[-1] - temperature[0])
    if shape.form not in {"constant", "oscillation"} or abs(change) < TEMPERATURE_CHANGE:
        return shape
    levels = len(level_starts(temperature))
    if levels or direction(temperature):
        said = told(f"the temperature stands at {levels} levels: temperature steps in one step") if levels else ()
        return replace(shape, form="other", kind="temperature_ramp", controlled="temperature", findings=(*shape.findings, *said))
    said = told(f"the temperature moves by {number(change, 3)} K in no plain ramp or steps", "caution")
    return replace(shape, findings=(*shape.findings, *said))
