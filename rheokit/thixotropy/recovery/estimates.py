"""Estimates read off a step test: a ratio, or the time at which the law passes a level, with the uncertainty of the choice of the law."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from rheokit.base.errors import FitError
from rheokit.base.estimate import Condition, Estimate, Interval
from rheokit.base.quantities import quantity
from rheokit.base.show import number
from rheokit.thixotropy.recovery.course import Course
from rheokit.thixotropy.recovery.crossing import Crossing, crossing, passing
from rheokit.thixotropy.recovery.uncertainty import LEVEL, Mix, ratio_error, ratio_interval

__all__ = ["Asked", "passing_estimate", "ratio_estimate"]

_PARTED = 10.0
"""How far laws that describe the points alike may differ in a number, over the number and its error, before it says nothing."""
_PART = "laws that describe the points alike part company there: it lies where nothing was measured"
_ON_THE_LAW = "the points lie on the law to rounding, so there is no scatter to take an error from"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What is asked for: its name, how it is called in a sentence, its conditions, and why it is not determined, or nothing."""

    name: str
    words: str
    conditions: dict[str, Condition] = field(default_factory=dict)
    reason: str = ""


def ratio_estimate(course: Course, asked: Asked, read: Callable[[Course], tuple[Mix, Mix]]) -> Estimate:
    """Return one number over another, both read off a course.

    Raises
    ------
    FitError
        When the number below is zero.
    """
    above, below = read(course)
    if below.value == 0.0:
        raise FitError(f"{asked.words}: shear took nothing away, so it is nothing over nothing")

    def ratio(other: Course) -> float:
        one, two = read(other)
        return one.value / two.value

    error, freedom = ratio_error(course.known, above, below)
    interval = ratio_interval(course.known, above, below) if 0.0 < error < math.inf else None
    open_ended = interval.reason if interval is not None else ""
    asked = replace(asked, reason=asked.reason or open_ended)
    return _estimate(course, asked, above.value / below.value, (error, freedom), interval=interval, between=course.between_laws(ratio))


def passing_estimate(course: Course, asked: Asked, level: Callable[[Course], Mix]) -> Estimate:
    """Return when the law passes a level that is itself read off a course."""
    mark = level(course)
    found = crossing(
        lambda time: (course.at(time) - mark).value, lambda time: course.known.reach(course.at(time) - mark), course.first, course.last
    )

    def when(other: Course) -> float:
        height = level(other).value
        return passing(lambda time: other.at(time).value - height, other.first, other.last)

    gap = course.at(found.time) - mark
    error, slope = course.known.error(gap), course.slope(found.time)
    ends = (found.lower, found.upper) if math.isfinite(error) else (0.0, math.inf)
    opened = f"the upper end is open: {asked.words} may not have been reached by {number(course.last, 3)} s" if math.isinf(ends[1]) else ""
    inside = found.when == "inside" and slope > 0.0
    return _estimate(
        course,
        replace(asked, reason=asked.reason or _why_not(found, asked.words, course) or opened),
        found.time,
        (error / slope if inside else math.inf, course.known.freedom(gap) if 0.0 < error < math.inf else math.inf),
        interval=Interval(lower=ends[0], upper=ends[1], level=LEVEL, reason=opened) if error else None,
        between=course.between_laws(when) if inside else 0.0,
    )


def _why_not(found: Crossing, words: str, course: Course) -> str:
    if found.when == "before":
        return f"{words} was passed before the first point at {number(course.first, 3)} s"
    if found.when == "after":
        return f"{words} was not reached by {number(course.last, 3)} s, the last time measured"
    return ""


def _estimate(
    course: Course, asked: Asked, value: float, error: tuple[float, float], *, interval: Interval | None, between: float
) -> Estimate:
    """Return the estimate; what the laws differ by widens error and interval alike."""
    size, freedom = error
    usable = 0.0 < size < math.inf
    parted = usable and between > _PARTED * max(abs(value), size)
    if parted:
        return _estimate(course, replace(asked, reason=asked.reason or _PART), value, (math.inf, freedom), interval=None, between=0.0)
    if usable and between > 0.0:
        factor = math.hypot(1.0, between / size)
        size, interval = factor * size, _widened(interval, value, factor)
    missing = "" if usable else _ON_THE_LAW if size == 0.0 else "the data do not determine it"
    reason = asked.reason or course.misfit
    return Estimate(
        name=asked.name,
        value=value,
        unit=quantity(asked.name).unit,
        standard_error=size if usable else None,
        degrees_of_freedom=freedom if usable else None,
        components={"fit": size} if usable else {},
        interval=interval,
        method=_method(course),
        conditions={**asked.conditions, **_setting(course)},
        determined=not reason and (usable or size == 0.0),
        reason=reason or missing,
    )


def _widened(interval: Interval | None, value: float, factor: float) -> Interval | None:
    """Return an interval with both sides longer; a time does not begin before the shear ends."""
    if interval is None:
        return None
    lower, upper = (value + factor * (end - value) for end in (interval.lower, interval.upper))
    return replace(interval, lower=max(lower, 0.0) if interval.lower >= 0.0 else lower, upper=upper)


def _method(course: Course) -> str:
    law, points = course.fit.law.name.replace("_", " "), course.test.recovery.time.size
    chosen = "chosen by AICc, the other laws by their weights in the error" if course.rivals else "as asked for"
    return (
        f"{law} law of the {course.words}, {chosen}, over {points} points from the end of the shear; rest and end of the shear by lines "
        "through the last third of their steps"
    )


def _setting(course: Course) -> dict[str, Condition]:
    """Return what was tracked and, to two digits, the rates or strains of recovery and shear: what a programme sets."""
    found = {"tracked": Condition(value=course.test.tracked)}
    _, shear, back = course.test.steps
    name, unit = ("shear_rate", "1/s") if "shear_rate" in back.columns else ("shear_strain", "1")
    for which, step in ((name, back), (f"{name}_of_shear", shear)):
        values = step.columns.get(name, np.empty(0))
        values = values[np.isfinite(values) & (values > 0.0)]
        if values.size:
            found[which] = Condition(value=float(f"{np.median(values):.1e}"), unit=unit)
    return found
