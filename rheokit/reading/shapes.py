"""What one step is by itself: rest, constant rate, sweep, steady steps, stress programme; the rules say when they are not sure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.reading.oscillation import is_oscillation, oscillation_shape
from rheokit.reading.profile import changes_of, direction, level_starts, middle, spread
from rheokit.reading.shape import CONSTANT_SPREAD, Shape, not_told, told
from rheokit.reading.stress_shapes import UNLOADED_PART, creeps, rising_stress, shape_by_stress, shape_without_rate
from rheokit.reading.sweeps import sweep_shape

__all__ = ["Tops", "shape_of", "tops_of"]

REST_FRACTION = 1e-5
"""Of the run's top rate: a step that stays below is a rest. The slowest programmed rates, 0.01 1/s, lie four decades under the usual
top of 100 to 1000 1/s (common practice, no source)."""

REST_NOISE_FRACTION = 1e-3
"""Of the run's top rate: a step that stays below, and keeps neither level nor direction, is a rest read by a noisy encoder."""

FEW = 4
"""Rows from which noise can be told from a level."""

ABOUT_ZERO = 4.0
"""Standard errors that the mean of noise about zero may be off it; 1 in 10,000 is further off by chance."""

NOISY_SPREAD = 0.3
"""Spread over level up to which a rate without direction is a constant one, badly held: told with a caution."""

SETTLING_PART = 0.2
"""Part of the rows, at the start, in which a drive may still be reaching the rate it then holds."""

TEMPERATURE_CHANGE = 5.0
"""[K] Across a step at constant rate: shear heating stays below 2 K on a bench instrument, a temperature ramp covers 20 K and more."""

_MAY_BE_SET = ("shear_rate", "shear_stress", "shear_strain", "angular_frequency", "frequency")

_NO_ROWS = np.empty(0)


@dataclass(frozen=True, kw_only=True)
class Tops:
    """Largest shear rate [1/s] and shear stress [Pa] of a run, without regard to their signs; 0 where there is none."""

    rate: float
    stress: float


def tops_of(columns: Mapping[str, FloatArray]) -> Tops:
    """Return the tops of a run."""
    largest = [np.abs(columns.get(name, _NO_ROWS)) for name in ("shear_rate", "shear_stress")]
    return Tops(**{name: float(np.fmax.reduce(sizes, initial=0.0)) for name, sizes in zip(("rate", "stress"), largest, strict=True)})


def shape_of(columns: Mapping[str, FloatArray], tops: Tops) -> Shape:
    """Return what a step is by itself.

    Parameters
    ----------
    columns
        Quantity name to values [SI], each of shape (N,).
    tops
        Of the run.
    """
    rows = next((values.size for values in columns.values()), 0)
    gaps = any(name in columns and 0 < np.count_nonzero(np.isfinite(columns[name])) < rows for name in _MAY_BE_SET)
    if is_oscillation(columns):
        return replace(_with_temperature(columns, oscillation_shape(columns)), points=rows, gaps=gaps)
    known = np.isfinite(columns["shear_rate"]) if "shear_rate" in columns else np.zeros(0, dtype=bool)
    if not known.any():
        why = "there is no shear rate" if "shear_rate" not in columns else "no row has a shear rate"
        return replace(shape_without_rate(columns, tops.stress) or not_told(why), points=rows, gaps=gaps)
    part = columns if known.all() else {name: values[known] for name, values in columns.items()}
    rate = part["shear_rate"]
    shape = _with_temperature(part, _rotation(part, rate, tops))
    gaps = gaps or (tops.stress > 0.0 and not np.isfinite(columns["shear_stress"]).any())
    return replace(shape, points=rate.size, gaps=gaps, unloaded=_is_unloaded(part, tops))


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
    if sweep.rate and not by_stress.doubt:
        return sweep
    return replace(sweep, rate=sweep.rate or middle(rate), findings=(*sweep.findings, *by_stress.doubt))


def _clock(columns: Mapping[str, FloatArray]) -> FloatArray | None:
    for name in ("time", "step_time"):
        if name in columns:
            time = columns[name]
            if np.isfinite(time).all() and (changes_of(time) > 0.0).all():
                return time
    return None


def _is_unloaded(part: Mapping[str, FloatArray], tops: Tops) -> bool:
    stress = part.get("shear_stress", _NO_ROWS)
    stress = stress[np.isfinite(stress)]
    return bool(stress.size) and bool(np.abs(stress).max() <= UNLOADED_PART * tops.stress)


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
        if largest <= REST_NOISE_FRACTION * tops.rate and spread(rows) > CONSTANT_SPREAD and _is_about_zero(rows):
            return True
    return False


def _is_about_zero(rate: FloatArray) -> bool:
    """Tell whether rates without direction lie about zero, as an encoder's noise does, and not about a level of their own."""
    if direction(rate) != 0:
        return False
    return rate.size < FEW or abs(float(rate.mean())) <= ABOUT_ZERO * float(rate.std()) / np.sqrt(rate.size)


def _low(part: Mapping[str, FloatArray], rate: FloatArray, tops: Tops) -> Shape:
    """Return what a step at the rate of a rest is: a rest, or a stress held or ramped below the yield stress."""
    still = Shape(form="rest")
    stresses = np.count_nonzero(np.isfinite(part["shear_stress"])) if "shear_stress" in part else rate.size
    if stresses < min(FEW, rate.size):
        still = replace(still, findings=told("too few rows hold a stress: a rest, or a stress ramp below the yield stress", "caution"))
    if rate.size < FEW and np.abs(rate).max() > REST_FRACTION * tops.rate:
        still = replace(
            still, findings=told(f"{rate.size} rows of low rates that do not agree: a rest, or a slow rate badly held", "caution")
        )
    return rising_stress(part, tops.stress) or creeps(part, rate, tops.stress) or still


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
    rows = columns.get("temperature", _NO_ROWS)
    temperature = rows[np.isfinite(rows)]
    still = shape.form in {"constant", "oscillation"}
    if temperature.size < min(3, rows.size) and still and rows.size < FEW:
        said = told("too few rows hold a temperature to see whether it moves", "caution")
        return replace(shape, findings=(*shape.findings, *said))
    if not temperature.size:
        return shape
    shape = replace(shape, temperature=middle(temperature))
    change = float(temperature[-1] - temperature[0])
    if not still or abs(change) < TEMPERATURE_CHANGE:
        return shape
    levels = len(level_starts(temperature))
    if levels or direction(temperature):
        said = told(f"the temperature stands at {levels} levels: temperature steps in one step") if levels else ()
        return replace(shape, form="other", kind="temperature_ramp", controlled="temperature", findings=(*shape.findings, *said))
    said = told(f"the temperature moves by {number(change, 3)} K in no plain ramp or steps", "caution")
    return replace(shape, findings=(*shape.findings, *said))
