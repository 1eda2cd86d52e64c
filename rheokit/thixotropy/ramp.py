"""How a leg's rate was swept, from the points recorded, and in what two sweeps differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.show import number

__all__ = ["POINTS_ALIKE", "RAMP_ALIKE", "Course", "Ramp", "ramp_of"]

Course = Literal["linear", "logarithmic", "other"]

RAMP_ALIKE = 0.02
"""Part of the span by which the ends of two ramps, and of the duration by which their durations, may differ and still be alike."""
POINTS_ALIKE = 0.1
"""Part by which their numbers of points may: a row lost here and there."""

# Root mean square distance from a straight course, as part of its span, up to which it is one. A logarithmic ramp over a decade is
# 0.19 from a linear one.
_STRAIGHT = 0.05


@dataclass(frozen=True, kw_only=True)
class Ramp:
    """How the rate was swept: lowest and highest rate [1/s], duration [s], number of points and course, from the points recorded."""

    lowest_rate: float
    highest_rate: float
    duration: float
    points: int
    course: Course

    @property
    def span(self) -> float:
        """Highest less lowest rate [1/s]."""
        return self.highest_rate - self.lowest_rate

    @property
    def rate_per_second(self) -> float:
        """Mean change of the rate per second [1/s²]."""
        return self.span / self.duration

    def differences(self, other: Ramp) -> tuple[str, ...]:
        """Return in what two ramps differ: range, duration, course and number of points, each in words."""
        found = []
        ends = (self.lowest_rate - other.lowest_rate, self.highest_rate - other.highest_rate)
        if max(map(abs, ends)) > RAMP_ALIKE * max(self.span, other.span):
            found.append(f"the range of rates ({self._range} and {other._range})")
        if abs(self.duration - other.duration) > RAMP_ALIKE * max(self.duration, other.duration):
            found.append(f"the duration ({number(self.duration)} and {number(other.duration)} s)")
        if self.course != other.course or self.course == "other":
            found.append(f"the course ({_said(self.course)} and {_said(other.course)})")
        if abs(self.points - other.points) > POINTS_ALIKE * max(self.points, other.points):
            found.append(f"the number of points ({self.points} and {other.points})")
        return tuple(found)

    @property
    def _range(self) -> str:
        return f"{number(self.lowest_rate)} to {number(self.highest_rate)} 1/s"

    def __str__(self) -> str:
        course = "" if self.course == "linear" else f", {_said(self.course)}"
        return f"{self._range} in {number(self.duration)} s{course}"


def ramp_of(time: FloatArray, rate: FloatArray) -> Ramp:
    """Return the ramp of points in the order of their times [s], (N,), with rates [1/s] that rise or fall."""
    return Ramp(
        lowest_rate=float(rate.min()),
        highest_rate=float(rate.max()),
        duration=float(time[-1] - time[0]),
        points=rate.size,
        course=_course(time, rate),
    )


def _course(time: FloatArray, rate: FloatArray) -> Course:
    """Return whether the rate, or its logarithm, is straight over the time: the straighter of the two, if it is straight at all."""
    off: dict[Course, float] = {"linear": _off_straight(time, rate)}
    if rate.min() > 0.0:
        off["logarithmic"] = _off_straight(time, np.log(rate))
    best = min(off, key=lambda course: off[course])
    return best if off[best] <= _STRAIGHT else "other"


def _off_straight(time: FloatArray, values: FloatArray) -> float:
    """Return the root mean square distance from the straight line between the ends, as part of the span."""
    passed = (time - time[0]) / (time[-1] - time[0])
    span = values[-1] - values[0]
    return float(np.sqrt(np.mean(((values - values[0]) / span - passed) ** 2)))


def _said(course: Course) -> str:
    return "neither linear nor logarithmic" if course == "other" else course
