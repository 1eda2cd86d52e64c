"""What one step is by itself: rest, constant rate, sweep, steady steps, stress programme; the rules say when they are not sure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding, Severity
from rheokit.base.run import Controlled, StepKind
from rheokit.base.show import number
from rheokit.reading.profile import (
    deviation_from_programme,
    direction,
    is_staircase,
    is_straight_in_time,
    middle,
    spread,
)

__all__ = ["Shape", "shape_of", "told"]

REST_FRACTION = 1e-5
"""Of the run's top rate: a step that stays below is a rest. The slowest programmed rates, 0.01 1/s, lie four decades under the usual
top of 100 to 1000 1/s (common practice, no source)."""

REST_NOISE_FRACTION = 1e-3
"""Of the run's top rate: a step that stays below, and keeps neither level nor direction, is a rest read by a noisy encoder."""

CONSTANT_SPREAD = 0.05
"""Spread over level of a constant rate: drives hold a rate to about 1 %, and the slowest ramp of the trade (a decade) spreads over far
more."""

NOISY_SPREAD = 0.3
"""Spread over level up to which a rate without direction is a constant one, badly held: told with a caution."""

STEADY_SECONDS_PER_POINT = 9.0
"""Median time a point from which a monotone sweep counts as steady steps: they are held max(1/rate, 10 s) a point, less a little for
the clock; a ramp of 30 to 60 points in 60 to 180 s takes 1 to 6 s a point (common practice, no source)."""

SWEEP_RATIO = 10.0
"""Top over bottom of a ramp: below a decade the kind is told with a caution."""

STRESS_CONSTANT_SPREAD = 0.02
"""Relative: drives hold a stress to about 1 %."""

PROGRAMME = 0.03
"""Deviation from a programme, over the range, up to which a column can be the controlled one."""

CLEARLY_SMOOTHER = 0.2
"""The stress is taken as controlled when it deviates by less than this part of what the rate deviates by."""

TEMPERATURE_CHANGE = 5.0
"""[K] Across a step at constant rate: shear heating stays below 2 K on a bench instrument, a temperature ramp covers 20 K and more."""

Form = Literal["rest", "constant", "up", "down", "steady", "oscillation", "other"]


@dataclass(frozen=True, kw_only=True)
class Shape:
    """What one step is by itself.

    `rate` [1/s] is the level of a constant step and the last value of a sweep; `kind` is None where the neighbours settle it.
    """

    form: Form
    rate: float = 0.0
    kind: StepKind | None = None
    controlled: Controlled = "rate"
    findings: tuple[Finding, ...] = ()


def told(reason: str, severity: Severity = "info") -> tuple[Finding, ...]:
    """Return one finding about the kind of a step."""
    return (Finding(check="step_kind", severity=severity, reason=reason),)


def _not_told(why: str) -> Shape:
    reason = f"{why}, so the kind of step cannot be told; it is called shear, and no result that needs a kind should use it"
    return Shape(form="other", kind="shear", findings=told(reason, "caution"))


def shape_of(columns: Mapping[str, FloatArray], top_rate: float) -> Shape:
    """Return what a step is by itself.

    Parameters
    ----------
    columns
        Quantity name to values [SI], each of shape (N,).
    top_rate
        Highest shear rate of the run [1/s].
    """
    if "storage_modulus" in columns:
        return _oscillation(columns)
    if "shear_rate" not in columns:
        return _not_told("there is no shear rate")
    known = np.isfinite(columns["shear_rate"])
    if not known.any():
        return _not_told("no row has a shear rate")
    rate = columns["shear_rate"][known]
    if _is_rest(rate, top_rate):
        return Shape(form="rest")
    wide = spread(rate)
    if wide <= CONSTANT_SPREAD or (wide <= NOISY_SPREAD and direction(rate) == 0):
        return _constant(columns, rate, wide)
    time = _clock(columns, known)
    stress = columns["shear_stress"][known] if "shear_stress" in columns else None
    by_stress = None if stress is None or not np.isfinite(stress).all() else _stress_controlled(stress, rate, time)
    return by_stress or _sweep(rate, time)


def _clock(columns: Mapping[str, FloatArray], known: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> FloatArray | None:
    for name in ("time", "step_time"):
        if name in columns:
            time = columns[name][known]
            if np.isfinite(time).all() and (np.diff(time) > 0.0).all():
                return time
    return None


def _is_rest(rate: FloatArray, top_rate: float) -> bool:
    largest = float(np.abs(rate).max())
    if largest <= REST_FRACTION * top_rate:
        return True
    return largest <= REST_NOISE_FRACTION * top_rate and spread(rate) > CONSTANT_SPREAD and direction(rate) == 0


def _constant(columns: Mapping[str, FloatArray], rate: FloatArray, wide: float) -> Shape:
    level = middle(rate)
    temperature = columns.get("temperature")
    if temperature is not None and np.isfinite(temperature[[0, -1]]).all():
        change = float(temperature[-1] - temperature[0])
        if abs(change) >= TEMPERATURE_CHANGE and direction(temperature[np.isfinite(temperature)]):
            return Shape(form="other", rate=level, kind="temperature_ramp", controlled="temperature")
    said = told(f"the shear rate scatters by {wide:.0%} about {number(level, 3)} 1/s", "caution") if wide > CONSTANT_SPREAD else ()
    return Shape(form="constant", rate=level, findings=said)


def _stress_controlled(stress: FloatArray, rate: FloatArray, time: FloatArray | None) -> Shape | None:
    """Return the shape when the stress, not the rate, follows a programme."""
    if stress.size < 4:
        return None
    over = np.arange(stress.size, dtype=np.float64) if time is None else time
    off_rate = deviation_from_programme(rate, over)
    if middle(stress) > 0.0 and spread(stress) <= STRESS_CONSTANT_SPREAD:
        return None if off_rate <= PROGRAMME else Shape(form="other", kind="creep", controlled="stress")
    off_stress = deviation_from_programme(stress, over)
    if off_stress > PROGRAMME or off_stress > CLEARLY_SMOOTHER * off_rate:
        return None
    turn = direction(stress)
    if turn == 0:
        return None
    said = told(f"the stress follows a programme ({off_stress:.1%} of its range off it), the rate does not ({off_rate:.0%})")
    return Shape(form="other", kind="stress_ramp" if turn > 0 else "down", controlled="stress", findings=said)


def _sweep(rate: FloatArray, time: FloatArray | None) -> Shape:
    if is_staircase(rate):
        said = told("several rows stand at each rate: steady steps, of which only the last row of each rate is settled", "caution")
        return Shape(form="steady", kind="steady", findings=said)
    turn = direction(rate)
    if turn == 0:
        return _not_told("the shear rate neither holds, rises nor falls from end to end")
    steady, said = _steady_or_ramp(rate, time)
    findings = (*_short_sweep(rate), *said)
    if steady:
        return Shape(form="steady", kind="steady", findings=findings)
    leg: Literal["up", "down"] = "up" if turn > 0 else "down"
    return Shape(form=leg, rate=float(rate[-1]), kind=leg, findings=findings)


def _short_sweep(rate: FloatArray) -> tuple[Finding, ...]:
    first, last = float(rate[0]), float(rate[-1])
    if min(abs(first), abs(last)) * SWEEP_RATIO <= max(abs(first), abs(last)):
        return ()
    return told(f"the shear rate runs from {number(first, 3)} to {number(last, 3)} 1/s only, less than a decade", "caution")


def _steady_or_ramp(rate: FloatArray, time: FloatArray | None) -> tuple[bool, tuple[Finding, ...]]:
    """Tell steady steps of one row a rate from a ramp, by the time a point takes."""
    if time is None:
        return False, told("without a rising time, a ramp and steady steps cannot be told apart; this is called a ramp", "caution")
    pace = middle(np.diff(time))
    if pace < STEADY_SECONDS_PER_POINT:
        return False, ()
    seen = f"one row a rate and {number(pace, 3)} s a point (limit {number(STEADY_SECONDS_PER_POINT, 2)} s)"
    if is_straight_in_time(rate, time):
        return False, told(f"{seen} would do for steady steps, but the rate changes evenly with time: called a ramp")
    return True, told(f"{seen}: steady steps, not a ramp")


_SWEPT: tuple[tuple[str, StepKind, float], ...] = (
    ("shear_strain", "amplitude_sweep", 10.0),
    ("angular_frequency", "frequency_sweep", 3.0),
    ("frequency", "frequency_sweep", 3.0),
)
"""What an oscillation sweeps, the kind of step that is, and the least ratio of its ends."""


def _oscillation(columns: Mapping[str, FloatArray]) -> Shape:
    for name, kind, least in _SWEPT:
        values = columns.get(name, np.empty(0))
        values = values[np.isfinite(values)]
        if values.size and values.min() > 0.0 and values.max() >= least * values.min() and direction(values):
            return Shape(form="other", kind=kind, controlled="strain")
    return Shape(form="oscillation", controlled="strain")
