"""Creep at several stresses: the limit lies between the highest that creeps to a stop and the lowest that flows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.estimate import Estimate, Interval
from rheokit.base.finding import Finding
from rheokit.base.look import HUES, SOFT
from rheokit.base.run import Step
from rheokit.base.show import number
from rheokit.statistics.student import student_quantile
from rheokit.yielding.drawing import panel, said
from rheokit.yielding.reading_off import LARGEST, LEVEL, YieldReading, countable, not_determined, since_start, stated

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["FLOWS_ABOVE", "STOPS_BELOW", "CreepBracket", "Crept", "creep_bracket"]

STOPS_BELOW, FLOWS_ABOVE = -0.5, -0.2
"""Slopes of log compliance rate over log time in the last part of a step: at a steady flow it is 0, below -1 the strain has a limit.
Between the two settings (our own) a step is undecided, which widens the bracket."""

LAST_PART = 0.25
"""The slope is read from this part of the whole time on."""

STANDS_STILL = 0.02
"""Part of the strain that is still gained, over a factor e of time, up to which a strain that does not move out of its scatter stands."""

_FEWEST = 6
_METHOD = (
    "creep at several stresses: between the highest that creeps to a stop and the lowest that flows, by the slope of log compliance rate "
    "over log time in the last three quarters of the time; the value is the geometric middle"
)

Verdict = Literal["stops", "flows", "undecided"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Crept:
    """Creep under one stress [Pa].

    `time` since its start [s] and `compliance` [1/Pa], (N,); `slope` of log compliance rate over log time with its 95 % ends (NaN where
    the strain stands still); the verdict, and why.
    """

    shear_stress: float
    time: FloatArray
    compliance: FloatArray
    slope: float
    slope_ends: tuple[float, float]
    verdict: Verdict
    reason: str


@dataclass(frozen=True, kw_only=True, eq=False)
class CreepBracket(YieldReading):
    """The bracket, and what each stress did, from the lowest on."""

    steps: tuple[Crept, ...]

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the compliance over time of every stress on the axes given, else on a new figure, and return the axes."""
        ax = panel(ax, ("step_time", "creep_compliance"), logarithmic="both")
        looks = {"stops": (HUES[0], "-"), "flows": (HUES[3], "-"), "undecided": (SOFT, "--")}
        for one in self.steps:
            colour, line = looks[one.verdict]
            seen = one.compliance > 0.0
            ax.plot(one.time[seen], one.compliance[seen], color=colour, linestyle=line, linewidth=1.4)
            ax.annotate(
                f"{number(one.shear_stress, 3)} Pa {one.verdict}", (float(one.time[seen][-1]), float(one.compliance[seen][-1])),
                xytext=(6.0, 0.0), textcoords="offset points", color=colour, verticalalignment="center", annotation_clip=False,
            )  # fmt: skip
        ax.set_xlim(right=4.0 * max(float(one.time[-1]) for one in self.steps))  # room for the words
        ax.text(0.03, 0.96, said(self.stress), transform=ax.transAxes, color=HUES[0], fontweight="bold", verticalalignment="top")
        return ax


def creep_bracket(steps: Sequence[Step], *, rest: float | None = None) -> CreepBracket:
    """Return the bracket that creep at several stresses puts around the yield stress.

    Parameters
    ----------
    steps
        Creep steps with `shear_stress` and `shear_strain`, `creep_compliance` or `shear_rate`, each on a rested sample.
    rest
        How long the sample rested before each [s].

    Returns
    -------
    CreepBracket
        Its stress has an interval and no standard error: a bracket is no normal deviate. Not determined where every stress stops or
        every stress flows, with the bound that gives.

    Raises
    ------
    FitError
        When there are fewer than two steps, or one has too few points.
    """
    if len(steps) < 2:
        raise FitError(f"a bracket needs creep at two stresses or more, not {len(steps)}")
    crept = tuple(sorted((_crept(step) for step in steps), key=lambda one: one.shear_stress))
    estimate = _bracket(crept, rest)
    undecided = [number(one.shear_stress, 3) for one in crept if one.verdict == "undecided"]
    found: tuple[Finding, ...] = ()
    if undecided:
        words = f"creep at {', '.join(undecided)} Pa neither clearly stops nor clearly flows: hold it for longer; the bracket spans it"
        found = (Finding(check="creep_undecided", severity="info", reason=words, value=float(len(undecided)), unit="1"),)
    return CreepBracket(estimates=(estimate,), findings=(*estimate.findings, *found), steps=crept)


def _bracket(crept: tuple[Crept, ...], rest: float | None) -> Estimate:
    conditions = stated("creep bracket", rest=rest)
    stopped = [one.shear_stress for one in crept if one.verdict == "stops"]
    flowed = [one.shear_stress for one in crept if one.verdict == "flows"]
    lower, upper = max(stopped, default=0.0), min(flowed, default=math.inf)
    name, common = "creep_bracket_stress", {"method": _METHOD, "conditions": conditions}
    if stopped and flowed and lower < upper:
        return Estimate(
            name=name, value=math.sqrt(lower * upper), unit="Pa", standard_error=None, conditions=conditions, method=_METHOD,
            interval=Interval(lower=lower, upper=upper, level=LEVEL), reason="a bracket: the limit lies anywhere between its ends",
        )  # fmt: skip
    if stopped and flowed:
        reason = f"{number(upper, 3)} Pa flows while {number(lower, 3)} Pa stops: the samples were not alike, or slipped; repeat them"
        return not_determined(name, math.sqrt(lower * upper), "Pa", reason=reason, lower=upper, upper=lower, **common)  # type: ignore[arg-type]
    reason = "no stress flows: creep at a higher one" if stopped else "no stress creeps to a stop: creep at a lower one"
    if not stopped and not flowed:
        reason = "no stress clearly stops or flows: hold each for longer"
    value = lower if stopped else upper if flowed else crept[0].shear_stress
    return not_determined(name, value, "Pa", reason=reason, lower=lower, upper=upper, **common)  # type: ignore[arg-type]


def _crept(step: Step) -> Crept:
    held = step.shear_stress[countable(step.shear_stress)]
    if not held.size:
        raise FitError(f"creep step {step.number} holds no stress")
    stress = float(np.median(held))
    time = since_start(step, step.time)
    compliance = _compliance(step, time, stress)
    kept = countable(time) & (np.abs(compliance) < LARGEST)
    time, compliance = time[kept], compliance[kept]
    late = time >= LAST_PART * time.max(initial=0.0)
    if late.sum() < _FEWEST:
        raise FitError(
            f"creep at {number(stress, 3)} Pa has {int(late.sum())} points in the last three quarters of its time; it needs {_FEWEST}"
        )
    slope, ends, verdict, reason = _judged(np.log(time[late]), compliance[late])
    return Crept(shear_stress=stress, time=time, compliance=compliance, slope=slope, slope_ends=ends, verdict=verdict, reason=reason)


def _compliance(step: Step, time: FloatArray, stress: float) -> FloatArray:
    """Return strain over stress [1/Pa]; without a strain the rate is added up."""
    if "creep_compliance" in step.columns:
        return step.column("creep_compliance")
    if "shear_strain" in step.columns:
        return step.column("shear_strain") / stress
    rate = np.nan_to_num(step.shear_rate)
    return np.cumsum(rate * np.diff(time, prepend=0.0)) / stress


def _judged(u: FloatArray, compliance: FloatArray) -> tuple[float, tuple[float, float], Verdict, str]:
    """Return the slope of log compliance rate over log time u, its ends, the verdict and why.

    Through the compliance over u goes a parabola; with its slope p and bend q in the middle the compliance rate is p/t and its slope in
    log-log axes q/p - 1.
    """
    middle = 0.5 * (u[0] + u[-1])
    design = np.vander(u - middle, 3, increasing=True)
    coefficients = np.linalg.lstsq(design, compliance, rcond=None)[0]
    freedom = u.size - 3
    rest = compliance - design @ coefficients
    covariance = float(rest @ rest) / freedom * np.linalg.inv(design.T @ design)
    reach = student_quantile(0.5 + 0.5 * LEVEL, float(freedom))
    level, gain, bend = (float(value) for value in coefficients)
    gain_error = math.sqrt(float(covariance[1, 1]))
    if gain <= reach * gain_error:
        if gain + reach * gain_error <= STANDS_STILL * level:
            return math.nan, (math.nan, math.nan), "stops", "the strain stands still within its scatter"
        return math.nan, (math.nan, math.nan), "undecided", "the strain scatters more than it moves"
    slope = 2.0 * bend / gain - 1.0
    by = np.array([0.0, -2.0 * bend / gain**2, 2.0 / gain])
    error = math.sqrt(float(by @ covariance @ by))
    ends = (slope - reach * error, slope + reach * error)
    verdict: Verdict = "stops" if ends[1] < STOPS_BELOW else "flows" if ends[0] > FLOWS_ABOVE else "undecided"
    if verdict == "undecided" and gain + reach * gain_error <= STANDS_STILL * level:
        return slope, ends, "stops", "the strain gains next to nothing any more"
    return slope, ends, verdict, f"slope of log compliance rate {number(ends[0], 2)} to {number(ends[1], 2)}"
