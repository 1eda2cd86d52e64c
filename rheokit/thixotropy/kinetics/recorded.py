"""A recorded load: the rate as it was run, step after step, and the stresses that were measured on the way.

Between points a ramp is taken as straight, or as straight in the logarithm of the rate where that fits better; at a held rate each point
tells the rate since the one before. When a step began, if no column says so, follows from the course: a ramp from where its line meets
the rate before it, a held step one interval before its first point; in either case between the points around it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.finding import Finding
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.thixotropy.kinetics.history import RateHistory, rate_history

__all__ = ["RecordedLoad", "recorded_load"]

# A step whose rate goes over more than this part of its highest is a ramp; below, a motor's noise.
_RAMPS = 0.1
_USED_KINDS = ("up", "down", "hold", "rest", "shear", "recovery", "startup", "steady")


@dataclass(frozen=True, kw_only=True, eq=False)
class RecordedLoad(Carried):
    """One load, ready for a fit.

    Attributes
    ----------
    name
        Of the run.
    history
        The course of the rate with every usable point.
    stress
        Shear stress [Pa] at those points, (N,).
    kinds
        Kind of the step of each point, (N,).
    findings
        What was left out.
    """

    name: str
    history: RateHistory
    stress: FloatArray
    kinds: tuple[str, ...]
    findings: tuple[Finding, ...] = ()


def recorded_load(run: Run | Sequence[Step], name: str = "") -> RecordedLoad:
    """Return a run, or steps of one load in their order, as a recorded load.

    Rows without a time, rate or stress, with a rate or stress of zero or less, and those of a rest are no points of a fit; they still
    tell the course of the rate.

    Raises
    ------
    FitError
        When a step is not one of shear at a known rate, times do not rise, or no point is left.
    """
    steps = tuple(run.steps if isinstance(run, Run) else run)
    label = name or (run.name if isinstance(run, Run) else "load")
    if not steps:
        raise FitError(f"{label}: no steps")
    for step in steps:
        if step.kind not in _USED_KINDS:
            raise FitError(
                f"{label}: step {step.number} is {step.kind.replace('_', ' ')}; structure kinetics need a known shear rate in every step"
            )
    courses = [_Course(step, label) for step in steps]
    for before, here in pairwise(courses):
        here.begin_after(before)
    courses[0].begin_first()
    return _assembled(label, courses)


class _Course:
    """The course of the rate in one step: times and rates of its rows, which are ramped or held, and when it began."""

    def __init__(self, step: Step, label: str) -> None:
        time, rate, stress = step.time, step.shear_rate, step.shear_stress
        told = np.isfinite(time) & np.isfinite(rate) & (rate >= 0.0)
        if not told.any():
            raise FitError(f"{label}: step {step.number} ({step.kind}) has no row with a time and a rate")
        self.step, self.kind = step.number, step.kind
        self.time, self.rate, self.stress = time[told], rate[told], stress[told]
        if (np.diff(self.time) <= 0.0).any():
            raise FitError(f"{label}: the times of step {step.number} ({step.kind}) do not rise; give them in the order of measurement")
        self.left_out = int((~told).sum())
        own = step.columns.get("step_time")
        self.began = float(self.time[0] - own[told][0]) if own is not None and np.isfinite(own[told][0]) else np.nan
        spread = self.rate.max() - self.rate.min()
        self.ramps = step.kind in {"up", "down"} or (step.kind not in {"steady", "rest"} and spread > _RAMPS * self.rate.max())
        self.logarithmic = self.ramps and self._is_logarithmic()
        self.before: float | None = None

    def _is_logarithmic(self) -> bool:
        """Tell whether the logarithm of the rate is straighter in time than the rate itself."""
        if self.time.size < 3 or self.rate.min() <= 0.0:
            return False
        sizes = []
        for values in (self.rate, np.log(self.rate)):
            line = np.polynomial.Polynomial.fit(self.time, values, 1)(self.time)
            sizes.append(float(np.abs(values - line).max() / np.ptp(values)) if np.ptp(values) > 0.0 else 0.0)
        return sizes[1] < sizes[0]

    @property
    def interval(self) -> float:
        """Usual time between rows [s], 0 for a single one."""
        return float(np.median(np.diff(self.time))) if self.time.size > 1 else 0.0

    def continued(self, time: float, *, first: bool) -> float:
        """Return the rate [1/s] at a time before the first or after the last row, by the line through the two rows there."""
        at = 0 if first else -1
        if not self.ramps or self.time.size < 2:
            return float(self.rate[at])
        one, other = (0, 1) if first else (-2, -1)
        place = (time - self.time[one]) / (self.time[other] - self.time[one])
        if self.logarithmic:
            return float(self.rate[one] * (self.rate[other] / self.rate[one]) ** place)
        return max(float(self.rate[one] + (self.rate[other] - self.rate[one]) * place), 0.0)

    def begin_first(self) -> None:
        if not np.isfinite(self.began):
            self.began = float(self.time[0]) - self.interval

    def begin_after(self, before: _Course) -> None:
        last, first = float(before.time[-1]), float(self.time[0])
        if first < last:
            raise FitError(f"step {self.step} ({self.kind}) begins at {number(first)} s, before the end of step {before.step}")
        began = self.began
        if not np.isfinite(began) and self.ramps and self.time.size > 1:
            began = self._meets(float(before.rate[-1]))
        if not np.isfinite(began):
            began = first - self.interval if self.interval else last
        self.began = min(max(began, last), first)

    def _meets(self, rate: float) -> float:
        """Return when the line through the first two rows has a rate."""
        values = np.log([*self.rate[:2], rate]) if self.logarithmic and rate > 0.0 else np.array([*self.rate[:2], rate])
        slope = (values[1] - values[0]) / (self.time[1] - self.time[0])
        return float(self.time[0] + (values[2] - values[0]) / slope) if slope != 0.0 else np.nan


def _assembled(label: str, courses: Sequence[_Course]) -> RecordedLoad:
    """Lay the courses end to end."""
    edges: list[float] = [courses[0].began]
    start: list[float] = []
    end: list[float] = []
    logs: list[bool] = []
    points: list[tuple[int, float, float, int, str]] = []
    for index, course in enumerate(courses):
        finish = courses[index + 1].began if index + 1 < len(courses) else float(course.time[-1])
        times = course.time.tolist()
        rates = course.rate.tolist()
        before = course.continued(course.began, first=True)
        for at, rate, stress in zip(times, rates, course.stress.tolist(), strict=True):
            if at > edges[-1]:
                edges.append(at)
                start.append(before if course.ramps else rate)
                end.append(rate)
                logs.append(course.logarithmic)
            before = rate
            if np.isfinite(stress) and stress > 0.0 and rate > 0.0:
                points.append((len(start), rate, stress, course.step, course.kind))
        if finish > edges[-1]:
            edges.append(finish)
            start.append(before)
            end.append(course.continued(finish, first=False))
            logs.append(course.logarithmic)
    if not points:
        raise FitError(f"{label}: no row with a positive rate and stress")
    recorded, rate_at, stresses, numbers, kinds = zip(*points, strict=True)
    rows = sum(course.time.size + course.left_out for course in courses if course.kind != "rest")
    lost = rows - sum(kind != "rest" for kind in kinds)
    history = rate_history(
        np.diff(edges), np.array(start), np.array(end), logarithmic=_usable_logs(start, end, logs),
        recorded=np.array(recorded, dtype=np.intp), rate=np.array(rate_at), step=np.array(numbers, dtype=np.intp),
    )  # fmt: skip
    findings: tuple[Finding, ...] = ()
    if lost:
        reason = f"{lost} of {rows} points of {label} have no positive rate and stress and are left out"
        findings = (
            Finding(check="rows_left_out", severity="caution" if lost > 0.1 * rows else "info", reason=reason, value=float(lost), unit="1"),
        )
    return RecordedLoad(name=label, history=history, stress=np.array(stresses), kinds=tuple(kinds), findings=findings)


def _usable_logs(start: Sequence[float], end: Sequence[float], logs: Sequence[bool]) -> NDArray[np.bool_]:
    return np.array(logs, dtype=bool) & (np.array(start) > 0.0) & (np.array(end) > 0.0)
