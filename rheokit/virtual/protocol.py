"""Protocols of the virtual rheometer: what the drive does, and when a point is recorded.

A protocol is a row of segments. Each segment holds or ramps the apparent shear rate; one exported
step may be made of several segments (the steady steps are).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log
from typing import Literal

import numpy as np

Course = Literal["constant", "linear", "logarithmic"]


@dataclass(frozen=True, kw_only=True)
class Segment:
    """One stretch of a protocol.

    Parameters
    ----------
    step : int
        Number of the exported step it belongs to, from 1.
    duration : float
        [s]
    start_rate, end_rate : float
        Apparent shear rate [1/s] at the two ends; both 0 is a rest, in which the head is free.
    course : {"constant", "linear", "logarithmic"}
        How the rate goes from one to the other.
    recorded : tuple of float
        Times [s] from the start of the segment at which a point is recorded, rising.

    Raises
    ------
    ValueError
        If the duration, a rate, the course or a recorded time makes no sense.
    """

    step: int
    duration: float
    start_rate: float
    end_rate: float
    course: Course
    recorded: tuple[float, ...]

    def __post_init__(self) -> None:
        if not self.duration > 0.0:
            raise ValueError(f"duration is {self.duration} s; it must be above zero")
        if not min(self.start_rate, self.end_rate) >= 0.0:
            raise ValueError(f"rates are {self.start_rate} and {self.end_rate} 1/s; they must be zero or more")
        if self.course == "constant" and self.start_rate != self.end_rate:
            raise ValueError("a constant segment has two different rates")
        if self.course == "logarithmic" and 0.0 in (self.start_rate, self.end_rate):
            raise ValueError("a logarithmic ramp cannot start or end at a rate of zero")
        if list(self.recorded) != sorted(set(self.recorded)):
            raise ValueError("the recorded times do not rise")
        if self.recorded and not (self.recorded[0] >= 0.0 and self.recorded[-1] <= self.duration):
            raise ValueError("a recorded time lies outside the segment")

    @property
    def is_rest(self) -> bool:
        """Whether nothing is sheared."""
        return self.start_rate == 0.0 and self.end_rate == 0.0

    def rate_at(self, time: float) -> float:
        """Apparent shear rate [1/s] at a time [s] from the start of the segment."""
        passed = time / self.duration
        if self.course == "logarithmic":
            return float(self.start_rate * (self.end_rate / self.start_rate) ** passed)
        # Weighted mean of the ends: exact at both, and never negative between them.
        return max(self.start_rate * (1.0 - passed) + self.end_rate * passed, 0.0)

    def rate_change_at(self, time: float) -> float:
        """Change of the apparent shear rate with time [1/s²] at a time [s]; jumps between segments are left out."""
        if self.course == "logarithmic":
            return self.rate_at(time) * log(self.end_rate / self.start_rate) / self.duration
        return (self.end_rate - self.start_rate) / self.duration


@dataclass(frozen=True, kw_only=True)
class Protocol:
    """A named row of segments, run one after the other on one load."""

    name: str
    segments: tuple[Segment, ...]


def evenly(duration: float, points: int, *, at: Literal["ends", "starts"] = "ends") -> tuple[float, ...]:
    """Return the times [s] that divide a duration [s] into equal intervals, at the end or the start of each."""
    first = 1 if at == "ends" else 0
    return tuple(duration * (first + index) / points for index in range(points))


def constant(step: int, rate: float, duration: float, recorded: Iterable[float]) -> Segment:
    """Hold one apparent shear rate [1/s]; a rate of 0 is a rest."""
    return Segment(step=step, duration=duration, start_rate=rate, end_rate=rate, course="constant", recorded=tuple(recorded))


def ramp(
    step: int,
    rates: tuple[float, float],
    duration: float,
    recorded: Iterable[float],
    *,
    course: Course = "linear",
) -> Segment:
    """Ramp the apparent shear rate [1/s] from the first to the second of ``rates``."""
    return Segment(
        step=step,
        duration=duration,
        start_rate=rates[0],
        end_rate=rates[1],
        course=course,
        recorded=tuple(recorded),
    )


def loop_protocol(*, top_rate: float = 100.0, ramp_duration: float = 120.0, rest: float = 300.0, points: int = 60) -> Protocol:
    """Conditioning, rest, up-ramp, hold, down-ramp, and the conditioning once more as a reference point.

    The points of a leg are even in time. The up leg is recorded at the end of each interval and the
    down leg at its start, so both hold the top rate exactly and neither holds a rate of zero.
    """
    return Protocol(
        name="loop",
        segments=(
            constant(1, top_rate, 60.0, evenly(60.0, 20)),
            constant(2, 0.0, rest, evenly(rest, 5)),
            ramp(3, (0.0, top_rate), ramp_duration, evenly(ramp_duration, points)),
            # The end of the hold is the first point of the down leg: recorded there, not twice.
            constant(4, top_rate, 30.0, evenly(30.0, 10)[:-1]),
            ramp(5, (top_rate, 0.0), ramp_duration, evenly(ramp_duration, points, at="starts")),
            constant(6, top_rate, 60.0, evenly(60.0, 20)),
        ),
    )


def stepped(step: int, rates: Sequence[float], dwells: Sequence[float]) -> tuple[Segment, ...]:
    """Hold each rate [1/s] for its dwell [s] and record one point at the end of each."""
    return tuple(constant(step, rate, dwell, (dwell,)) for rate, dwell in zip(rates, dwells, strict=True))


def steady_rates(top_rate: float, bottom_rate: float, points_per_decade: int) -> tuple[float, ...]:
    """Falling shear rates [1/s], even on a logarithmic axis, both ends included."""
    count = round(points_per_decade * np.log10(top_rate / bottom_rate)) + 1
    return tuple(float(rate) for rate in np.geomspace(top_rate, bottom_rate, count))


def steady_protocol(*, top_rate: float = 100.0, bottom_rate: float = 0.1, points_per_decade: int = 5, rest: float = 10.0) -> Protocol:
    """Conditioning, short rest, then falling rates with one point each, all of them in step 3.

    The dwell grows from 15 s at 10 1/s and above to 30 s at 1 1/s and below, since the structure
    answers more slowly at a low rate (common practice, no source).
    """
    rates = steady_rates(top_rate, bottom_rate, points_per_decade)
    dwells = tuple(float(np.clip(30.0 - 15.0 * np.log10(rate), 15.0, 30.0)) for rate in rates)
    return Protocol(
        name="steady",
        segments=(
            constant(1, top_rate, 60.0, evenly(60.0, 10)),
            constant(2, 0.0, rest, evenly(rest, 2)),
            *stepped(3, rates, dwells),
        ),
    )


def recovery_protocol(*, low_rate: float = 0.5, high_rate: float = 100.0) -> Protocol:
    """Rest-shear-recovery step test: 120 s at the low rate, 60 s at the high one, 300 s back at the low one."""
    return Protocol(
        name="recovery",
        segments=(
            constant(1, low_rate, 120.0, evenly(120.0, 40)),
            constant(2, high_rate, 60.0, evenly(60.0, 20)),
            constant(3, low_rate, 300.0, evenly(300.0, 100)),
        ),
    )


def startup_protocol(*, rate: float = 0.1, rest: float = 300.0, duration: float = 120.0) -> Protocol:
    """Conditioning at 100 1/s, rest, then start-up at a low rate [1/s]."""
    return Protocol(
        name="startup",
        segments=(
            constant(1, 100.0, 60.0, evenly(60.0, 20)),
            constant(2, 0.0, rest, evenly(rest, 5)),
            constant(3, rate, duration, evenly(duration, 120)),
        ),
    )
