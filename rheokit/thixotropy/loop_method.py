"""How a loop was measured, as far as its run shows it: areas mean something at one and the same method only.

Ramp, hold at the top, rest and pre-shear all count: the area passes through a maximum as the ramp gets slower, and a rest builds what
the up leg breaks (Phys. Rev. Lett. 110 (2013) 018304 for the maximum).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Condition
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.thixotropy.leg import ready_leg
from rheokit.thixotropy.ramp import POINTS_ALIKE, RAMP_ALIKE, Ramp

__all__ = ["Held", "History", "LoopMethod", "history_of", "loop_method"]

RATE_ALIKE = 0.02
"""Relative; instruments meet a set rate to 1 %."""
TIME_ALIKE = 0.1
"""Relative; an export shows the times of points and not of the step, and a rest may have as few as five of them."""

_HISTORY = frozenset({"shear", "rest", "hold"})


@dataclass(frozen=True, kw_only=True)
class Held:
    """A rate [1/s] held for a time [s], None where the export does not show it."""

    rate: float
    duration: float | None

    def matches(self, other: Held) -> bool:
        """Tell whether two are the same as far as exports show; a time that is not shown matches nothing."""
        if self.duration is None or other.duration is None:
            return False
        near = abs(self.rate - other.rate) <= RATE_ALIKE * max(self.rate, other.rate)
        return near and abs(self.duration - other.duration) <= TIME_ALIKE * max(self.duration, other.duration)

    def __str__(self) -> str:
        time = "a time not shown" if self.duration is None else f"{number(self.duration, 3)} s"
        return f"{number(self.rate, 3)} 1/s for {time}" if self.rate > 0.0 else time


@dataclass(frozen=True, kw_only=True)
class History:
    """What stands around the legs of a loop: hold at the top, rest and pre-shear before it; None where there is none."""

    hold: Held | None
    rest: Held | None
    pre_shear: Held | None

    def differences(self, other: History) -> tuple[str, ...]:
        """Return in what two histories differ, in words."""
        pairs = (
            ("the hold at the top", self.hold, other.hold),
            ("the rest before", self.rest, other.rest),
            ("the pre-shear", self.pre_shear, other.pre_shear),
        )
        return tuple(f"{what} ({_words(one)} and {_words(two)})" for what, one, two in pairs if not _alike(one, two))

    def conditions(self) -> dict[str, Condition]:
        """Return the history as conditions; a time that is not shown is left out, and so matches none."""
        found = {}
        for name, held in (("hold_time", self.hold), ("rest_time", self.rest), ("pre_shear_time", self.pre_shear)):
            duration = 0.0 if held is None else held.duration
            if duration is not None:
                found[name] = _amount(duration, "s", TIME_ALIKE * duration)
        if self.pre_shear is not None:
            found["pre_shear_rate"] = _amount(self.pre_shear.rate, "1/s", RATE_ALIKE * self.pre_shear.rate)
        return found


@dataclass(frozen=True, kw_only=True)
class LoopMethod:
    """The method of a loop: the ramps of both legs, and the history where the whole run is known (else None)."""

    up: Ramp
    down: Ramp
    history: History | None = None

    def differences(self, other: LoopMethod) -> tuple[str, ...]:
        """Return in what two methods differ, in words; nothing when their areas may be compared.

        A history that is known of one loop only is a difference; where it is known of neither, the legs alone are compared.
        """
        found = [f"up leg: {one}" for one in self.up.differences(other.up)]
        found += [f"down leg: {one}" for one in self.down.differences(other.down)]
        if self.history is not None and other.history is not None:
            return (*found, *self.history.differences(other.history))
        if self.history is not other.history:
            found.append("rest, hold and pre-shear, which are known of one of them only: take both from whole runs")
        return tuple(found)

    def require_same(self, other: LoopMethod) -> None:
        """Refuse to compare areas of unlike methods.

        Raises
        ------
        ComparisonError
            Naming everything that differs.
        """
        found = self.differences(other)
        if found:
            raise ComparisonError(f"the loops are of unlike methods, so their areas are not compared; they differ in {'; '.join(found)}")

    def conditions(self, lowest: float, highest: float) -> dict[str, Condition]:
        """Return the method as conditions of an area between two rates [1/s]: to three digits, what a programme sets."""
        span, change = self.up.span, self.up.rate_per_second
        found = {
            "lowest_rate": _amount(lowest, "1/s", RAMP_ALIKE * span),
            "highest_rate": _amount(highest, "1/s", RAMP_ALIKE * span),
            "ramp": _amount(change, "1/s²", 2.0 * RAMP_ALIKE * change),
            "course": Condition(value=self.up.course),
            "points": Condition(value=float(self.up.points), unit="1", within=POINTS_ALIKE * self.up.points),
        }
        return found if self.history is None else {**found, **self.history.conditions()}

    def __str__(self) -> str:
        said = f"ramp {self.up}"
        if self.history is None:
            return said
        held = self.history
        return f"{said}; hold {_words(held.hold)}; rest {_words(held.rest)}; pre-shear {_words(held.pre_shear)}"


def loop_method(run: Run, up: str | int = "up", down: str | int = "down") -> LoopMethod:
    """Return how a loop of a run was measured, as far as the run shows it.

    Parameters
    ----------
    run
        Read by `read_run`.
    up, down
        Kind or number of the legs' steps.

    Raises
    ------
    StepError
        When there is no such step, or more than one of that kind.
    FitError
        When a leg has too few points, runs the wrong way or turns back.
    """
    rising, falling = run.step(up), run.step(down)
    return LoopMethod(
        up=ready_leg(rising, "up", rises=True).ramp,
        down=ready_leg(falling, "down", rises=False).ramp,
        history=history_of(run, rising, falling),
    )


def history_of(run: Run, up: Step, down: Step) -> History:
    """Return what stands between the legs of a loop and before it, back to what was measured last."""
    first, last = run.steps.index(up), run.steps.index(down)
    begin = first
    while begin and run.steps[begin - 1].kind in _HISTORY:
        begin -= 1
    rest = first
    while rest > begin and run.steps[rest - 1].kind == "rest":
        rest -= 1
    sheared = [step for step in run.steps[begin:rest] if step.kind != "rest"]
    return History(hold=_held(run.steps[first + 1 : last]), rest=_held(run.steps[rest:first]), pre_shear=_held(sheared[-1:]))


def _held(steps: Sequence[Step]) -> Held | None:
    """Return what steps one after the other hold, or None where there are none."""
    if not steps:
        return None
    rates = np.concatenate([step.columns.get("shear_rate", np.zeros(0)) if step.kind != "rest" else np.zeros(len(step)) for step in steps])
    rates = rates[np.isfinite(rates)]
    times = [_lasted(step) for step in steps]
    known = [time for time in times if time is not None]
    return Held(rate=float(np.median(rates)) if rates.size else 0.0, duration=sum(known) if len(known) == len(times) else None)


def _lasted(step: Step) -> float | None:
    """Return how long a step lasted [s], or None where the export does not show it."""
    if "step_time" in step.columns:
        times = step.columns["step_time"]
        times = times[np.isfinite(times)]
        return float(times[-1]) if times.size else None
    times = step.columns.get("time", np.zeros(0))
    times = times[np.isfinite(times)]
    # Points stand at one end of their interval: one more interval than there are gaps between them.
    return float(times[-1] - times[0] + np.median(np.diff(times))) if times.size > 1 else None


def _alike(one: Held | None, other: Held | None) -> bool:
    return one.matches(other) if one is not None and other is not None else one is other


def _words(held: Held | None) -> str:
    return "none" if held is None else str(held)


def _amount(value: float, unit: str, within: float) -> Condition:
    return Condition(value=float(f"{value:.2e}"), unit=unit, within=within)
