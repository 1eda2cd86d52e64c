"""The points of a rest-shear-recovery step test made ready: times from the end of the shear, and what inertia spoilt left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import FitError, StepError, printable
from rheokit.base.finding import Finding
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.statistics.scatter import scatter_about_neighbours

__all__ = ["MET", "SPIKE", "TRACKED", "Points", "ReadyTest", "Tracked", "ready_test"]

Tracked = Literal["viscosity", "storage_modulus"]
TRACKED: tuple[Tracked, ...] = get_args(Tracked)

MET = 0.02
"""Relative difference from its later level within which a rate or strain counts as met: instruments hold a set rate to 1 % or better."""
SPIKE = 5.0
"""Scatters by which one of the first points lies above the five after it, where a structure that rebuilds can only rise."""
_FOREMOST, _AFTER = 0.1, 5
_FEWEST = 8


@dataclass(frozen=True, kw_only=True, eq=False)
class Points(Carried):
    """One of the three steps: times [s] from the end of the shear and the tracked quantity, (N,)."""

    time: FloatArray
    values: FloatArray

    def __post_init__(self) -> None:
        for name in ("time", "values"):
            object.__setattr__(self, name, read_only(getattr(self, name), name))


@dataclass(frozen=True, kw_only=True, eq=False)
class ReadyTest(Carried):
    """A step test made ready.

    Attributes
    ----------
    tracked
        What is followed.
    rest, shear, recovery
        The steps; times of rest and shear are negative. `recovery` holds the points that are fitted.
    spoilt
        Points of the recovery step that are left out for inertia.
    steps
        The three steps as they were read.
    findings
        What was put right.
    """

    tracked: Tracked
    rest: Points
    shear: Points
    recovery: Points
    spoilt: Points
    steps: tuple[Step, Step, Step]
    findings: tuple[Finding, ...]


def ready_test(run: Run, tracked: Tracked, step: str | int) -> ReadyTest:
    """Return the three steps of a test made ready.

    Raises
    ------
    StepError
        When the run has not the steps, or they lack what is tracked.
    FitError
        When too few points are left.
    """
    if tracked not in TRACKED:
        raise FitError(f"tracked: {printable(tracked)!r} is not followed in a step test; give one of {', '.join(TRACKED)}")
    back = run.step(step)
    place = run.steps.index(back)
    if place < 2:
        raise StepError(f"{printable(run.name)}: step {back.number} ({back.kind}) has no rest and shear before it; give the recovery step")
    rest, shear = run.steps[place - 2], run.steps[place - 1]
    time, more = _after_shear(back, shear)
    values = _values(back, tracked, wanted=True)
    usable = np.isfinite(time) & np.isfinite(values)
    left_out = int((~usable).sum())
    if left_out:
        said = f"{left_out} of {usable.size} points of the recovery step have no number and are left out"
        more += (Finding(check="rows_left_out", severity="info", reason=said, value=float(left_out), unit="1", source="recovery step"),)
    held = _held(back)
    time, values, held = time[usable], values[usable], held[usable]
    if time.size < _FEWEST:
        raise FitError(f"{printable(run.name)}: the recovery step has {time.size} usable points; a recovery needs at least {_FEWEST}")
    if not (np.diff(time) > 0.0).all() or time[0] < 0.0:
        raise FitError(f"{printable(run.name)}: the times of the recovery step do not rise from the end of the shear")
    first, why = _first_good(time, values, held)
    more += _spoilt_finding(first, time.size, why)
    durations = _length(shear), _length(rest)
    return ReadyTest(
        tracked=tracked,
        rest=Points(time=_own_time(rest) - durations[1] - durations[0], values=_values(rest, tracked)),
        shear=Points(time=_own_time(shear) - durations[0], values=_values(shear, tracked)),
        recovery=Points(time=time[first:], values=values[first:]),
        spoilt=Points(time=time[:first], values=values[:first]),
        steps=(rest, shear, back),
        findings=more,
    )


def _values(step: Step, tracked: Tracked, *, wanted: bool = False) -> FloatArray:
    """Return what is tracked, (N,): NaN where it was not measured."""
    if tracked in step.columns:
        return step.column(tracked)
    if tracked == "viscosity" and {"shear_rate", "shear_stress"} <= set(step.columns):
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(step.shear_rate > 0.0, step.shear_stress / step.shear_rate, np.nan)
    if wanted:
        other = next((name for name in TRACKED if name in step.columns), "")
        remedy = f"; it has {other}: ask with tracked={other!r}" if other else ""
        raise StepError(f"step {step.number} ({step.kind}) has no {tracked.replace('_', ' ')}{remedy}")
    return np.full(len(step), np.nan)


def _own_time(step: Step) -> FloatArray:
    """Return the times from the start of a step, or from its first row where that is not known, (N,)."""
    return step.columns.get("step_time", step.time - step.time[0])


def _length(step: Step) -> float:
    return float(_own_time(step)[-1])


def _after_shear(back: Step, shear: Step) -> tuple[FloatArray, tuple[Finding, ...]]:
    """Return times from the end of the shear: by the step's own clock, else from the last row of the shear step, (N,)."""
    if "step_time" in back.columns and np.isfinite(back.columns["step_time"]).all():
        return back.columns["step_time"], ()
    if back.time[0] > shear.time[-1]:
        return back.time - shear.time[-1], ()
    reason = "the clock starts anew with the recovery step; its times are taken to count from the end of the shear"
    return back.time, (Finding(check="clock_starts_anew", severity="info", reason=reason, source="recovery step"),)


def _held(step: Step) -> FloatArray:
    """Return the rate or strain that the recovery step holds, (N,): NaN where neither was exported."""
    for name in ("shear_rate", "shear_strain"):
        if name in step.columns and np.isfinite(step.columns[name]).any():
            return step.columns[name]
    return np.full(len(step), np.nan)


def _first_good(time: FloatArray, values: FloatArray, held: FloatArray) -> tuple[int, str]:
    """Return the index of the first point that inertia has not spoilt, and by what rule those before it are."""
    first, why = 0, ""
    level = float(np.median(held[held.size // 2 :]))
    met = np.abs(held / level - 1.0) <= MET if np.isfinite(level) and level != 0.0 else np.zeros(held.size, dtype=bool)
    if met[met.size // 2 :].mean() > 0.5:  # else it is too noisy to tell when it was met
        first = int(np.argmax(met))
        why = f"the rate or strain was still more than {number(100.0 * MET, 1)} % off" if first else ""
    front = max(2, round(_FOREMOST * time.size))
    scatter = scatter_about_neighbours(time[front:], values[front:])
    size = max(scatter[0] if scatter else 0.0, 1e-9 * float(np.abs(values).max()))
    for index in range(min(front, time.size - _AFTER - 1) - 1, first - 1, -1):
        if values[index] - float(np.median(values[index + 1 : index + 1 + _AFTER])) > SPIKE * size:
            return index + 1, f"the value lay more than {number(SPIKE, 1)} times the scatter above the five after it, which cannot be"
    return first, why


def _spoilt_finding(count: int, size: int, why: str) -> tuple[Finding, ...]:
    if not count:
        return ()
    said = f"{count} of the first {size} points of the recovery step {'is' if count == 1 else 'are'} left out as spoilt by inertia: {why}"
    return (
        Finding(
            check="inertia",
            severity="caution" if count > _FOREMOST * size else "info",
            reason=said,
            value=float(count),
            limit=_FOREMOST * size,
            unit="1",
            source="recovery step",
        ),
    )
