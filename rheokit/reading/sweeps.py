"""Steps whose shear rate rises or falls: ramps and steady steps, and where the two cannot be told apart."""

from __future__ import annotations

from typing import Literal

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.reading.profile import changes_of, direction, is_straight_in_time, jumps, level_starts, middle
from rheokit.reading.shape import Shape, not_told, told

__all__ = ["sweep_shape"]

STEADY_SECONDS_PER_POINT = 9.0
"""Median time a point from which a monotone sweep counts as steady steps: they are held max(1/rate, 10 s) a point, less a little for
the clock; a ramp of 30 to 60 points in 60 to 180 s takes 1 to 6 s a point (common practice, no source)."""

NEAR_THE_LIMIT = 1.5
"""Factor below that limit within which a ramp is called with a caution."""

GROWING_DWELL = 1.3
"""Longest over shortest time a point from which the points were held: a ramp takes its points evenly, in time or in decades."""

SWEEP_RATIO = 10.0
"""Top over bottom of a ramp: below a decade the kind is told with a caution."""

FEWEST_POINTS = 8
"""A sweep of fewer points is told with a caution: three that rise may be a rate that still settles, and a ramp shows no course."""


def sweep_shape(rate: FloatArray, time: FloatArray | None) -> Shape:
    """Return the shape of a step whose rate does not hold.

    Parameters
    ----------
    rate, time
        [1/s] and [s], each of shape (N,); no time where none rises.
    """
    levels = level_starts(rate)
    if levels:
        seen = f"{rate.size} rows stand at {len(levels)} rates"
        said = told(f"{seen}: steady steps, of which only the last row of each rate is settled", "caution")
        return Shape(form="steady", kind="steady", rate=float(rate[-1]), findings=said)
    turn = direction(rate)
    if turn == 0:
        return not_told("the shear rate neither holds, rises nor falls from end to end")
    steady, said = _steady_or_ramp(rate, time)
    findings = (*_short_sweep(rate), *said)
    if steady:
        return Shape(form="steady", kind="steady", rate=float(rate[-1]), findings=findings)
    leg: Literal["up", "down"] = "up" if turn > 0 else "down"
    return Shape(form=leg, rate=float(rate[-1]), reach=float(abs(rate[-1] - rate[-2])), kind=leg, findings=findings)


def _short_sweep(rate: FloatArray) -> tuple[Finding, ...]:
    first, last = float(rate[0]), float(rate[-1])
    said: tuple[Finding, ...] = ()
    if rate.size < FEWEST_POINTS:
        said = told(f"the sweep has {rate.size} points only; it may be another kind of step", "caution")
    if min(abs(first), abs(last)) * SWEEP_RATIO <= max(abs(first), abs(last)):
        return said
    return (*said, *told(f"the shear rate runs from {number(first, 3)} to {number(last, 3)} 1/s only, less than a decade", "caution"))


def _steady_or_ramp(rate: FloatArray, time: FloatArray | None) -> tuple[bool, tuple[Finding, ...]]:
    """Tell steady steps of one row a rate from a ramp, by the time a point takes."""
    if time is None:
        return False, told("without a rising time, a ramp and steady steps cannot be told apart; this is called a ramp", "caution")
    dwells = changes_of(time)
    pace = middle(dwells)
    steady = pace >= STEADY_SECONDS_PER_POINT
    if steady and is_straight_in_time(rate, time):
        return False, told(
            f"{_pace_in_words(pace)} would do for steady steps, but the rate changes evenly with time: called a ramp", "caution"
        )
    if _dwell_grows(rate, dwells):
        return True, told(f"{_pace_in_words(pace)}, longer the lower the rate: steady steps, not a ramp")
    doubt = ""
    if steady:
        doubt = f"{_pace_in_words(pace)}, each as long: steady steps, or a slow ramp; called steady steps"
    elif jumps(rate):
        doubt = "few of the rows carry most of the change: a ramp, or steady steps of several rows; called a ramp"
    elif pace > STEADY_SECONDS_PER_POINT / NEAR_THE_LIMIT:
        doubt = f"{_pace_in_words(pace)}: a ramp, not steady steps, but the limit is near"
    return steady, told(doubt, "caution") if doubt else ()


def _pace_in_words(pace: float) -> str:
    return f"one row a rate and {number(pace, 3)} s a point (limit {number(STEADY_SECONDS_PER_POINT, 2)} s)"


def _dwell_grows(rate: FloatArray, dwells: FloatArray) -> bool:
    """Tell whether the points take longer towards the low end, as steady steps do and ramps do not."""
    if dwells.size < 8 or not (rate > 0.0).all():
        return False
    quarter = max(3, dwells.size // 4)
    # The shortest: a row that is missing makes one dwell longer, never shorter.
    first, last = float(dwells[:quarter].min()), float(dwells[-quarter:].min())
    slow, quick = (last, first) if rate[-1] < rate[0] else (first, last)
    return (
        slow >= STEADY_SECONDS_PER_POINT and slow >= GROWING_DWELL * quick and middle(dwells) >= STEADY_SECONDS_PER_POINT / NEAR_THE_LIMIT
    )
