"""The stress overshoot of a start-up: static yield stress after the rest before it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.curve import FloatArray, HasLeg
from rheokit.base.errors import FitError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.look import HUES
from rheokit.base.show import number
from rheokit.statistics.student import student_quantile
from rheokit.yielding.drawing import level_line, open_marks, panel
from rheokit.yielding.parabola import Top, top_of
from rheokit.yielding.reading_off import LEVEL, YieldReading, countable, not_determined, positive, since_start, stated

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["REACH", "StressOvershoot", "static_yield_stress_peak", "stress_overshoot"]

REACH = 1.6
"""Factor of time on either side of the peak over which the parabola goes: it misses the peak of a spring that yields by 2 parts in
10 000, and takes in some twenty points where forty are recorded a decade."""

_FEWEST = 8
_TAIL = 0.2
_NAME = "static_yield_stress_peak"
_METHOD = "peak of the stress overshoot at start-up, by a parabola through the points around it in the logarithm of time"


@dataclass(frozen=True, kw_only=True, eq=False)
class StressOvershoot(YieldReading):
    """The stress overshoot of a start-up.

    Attributes
    ----------
    time, shear_stress
        The points, since the start [s] and [Pa], (N,).
    peak_time
        Where the peak lies [s].
    fitted_time, fitted_stress
        The parabola, where it was fitted, (M,); empty where there is no peak.
    """

    time: FloatArray
    shear_stress: FloatArray
    peak_time: float
    fitted_time: FloatArray
    fitted_stress: FloatArray

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw points, parabola and peak with its interval on the axes given, else on a new figure, and return the axes."""
        ax = panel(ax, ("step_time", "shear_stress"), logarithmic="x")
        open_marks(ax, self.time, self.shear_stress)
        ax.plot(self.fitted_time, self.fitted_stress, color=HUES[0], linewidth=2.8, zorder=4)
        level_line(ax, self.stress, HUES[0], across=(float(self.time[0]), float(self.time[-1])))
        return ax


def static_yield_stress_peak(step: HasLeg, *, rest: float | None = None) -> StressOvershoot:
    """Return the static yield stress as the peak of the stress overshoot when a rested sample is started at a low rate.

    Parameters
    ----------
    step
        Anything with `time` [s], `shear_rate` [1/s] and `shear_stress` [Pa], (N,); the rate is held.
    rest
        How long the sample rested before [s]; without it the number compares with none.

    Returns
    -------
    StressOvershoot
        Its stress is not determined, with the bound that the data give, where the stress still rises at the end, where the peak lies
        before the first points, or where no fall after it stands out of the scatter.

    Raises
    ------
    FitError
        When there are too few points.
    """
    rate = np.asarray(step.shear_rate, dtype=np.float64)
    held = float(np.median(rate[np.isfinite(rate)])) if np.isfinite(rate).any() else math.nan
    time = since_start(step, np.asarray(step.time, dtype=np.float64))
    return stress_overshoot(time, step.shear_stress, shear_rate=held if held > 0.0 else None, rest=rest)


def stress_overshoot(
    time: FloatArray,
    shear_stress: FloatArray,
    *,
    shear_rate: float | None = None,
    rest: float | None = None,
    name: str = _NAME,
    what: tuple[str, str] = ("start-up peak", ""),
) -> StressOvershoot:
    """Return the peak of a stress [Pa] over the time [s] since the start, both (N,), as `static_yield_stress_peak` does.

    `name` and `what`, the word of its condition and the end of its method, are those of the torque's owner where a vane turns.

    Raises
    ------
    FitError
        When there are too few points.
    """
    time, stress = np.asarray(time, dtype=np.float64), np.asarray(shear_stress, dtype=np.float64)
    kept = countable(time, stress)
    if kept.sum() < _FEWEST:
        raise FitError(f"the start-up has {int(kept.sum())} points with a positive time and stress; a peak needs at least {_FEWEST}")
    order = np.argsort(time[kept], kind="stable")
    time, stress = time[kept][order], stress[kept][order]
    top = top_of(np.log(time), stress, math.log(REACH))
    found = _estimate(top, (time, stress), name, what[1], stated(what[0], rest=rest, shear_rate=shear_rate))
    shown = found.determined
    return StressOvershoot(
        estimates=(found,),
        findings=found.findings,
        time=time,
        shear_stress=stress,
        peak_time=math.exp(top.place) if shown else float(time[np.argmax(stress)]),
        fitted_time=np.exp(top.at) if shown else np.empty(0),
        fitted_stress=top.curve if shown else np.empty(0),
    )


def _estimate(top: Top, points: tuple[FloatArray, FloatArray], name: str, more: str, conditions: dict[str, Condition]) -> Estimate:
    """Return the peak of points (time, stress), or why it is not determined."""
    time, stress = points
    highest = float(stress.max())
    reason, lower, upper = _why_not(top, time, stress)
    if reason:
        return not_determined(
            name, highest, "Pa", reason=reason, method=_METHOD + more, conditions=conditions, lower=lower, upper=upper
        )  # fmt: skip
    return positive(
        name, top.height, "Pa", relative_error=top.height_error / top.height, degrees_of_freedom=float(top.degrees_of_freedom),
        method=f"{_METHOD}; error from their scatter about it{more}", conditions=conditions,
    )  # fmt: skip


def _why_not(top: Top, time: FloatArray, stress: FloatArray) -> tuple[str, float, float]:
    """Return why there is no peak, or nothing, and the bounds on it that the points give."""
    highest, last = float(stress.max()), number(float(time[-1]), 3)
    tail = stress[-max(3, round(_TAIL * stress.size)) :]
    scatter = max(top.scatter, 0.0)
    if top.where == "end":
        return (
            f"the stress still rises, or has just stopped rising, where the step ends at {last} s; start for longer",
            _below(stress, scatter),
            math.inf,
        )
    if top.where == "start":
        first = number(float(time[0]), 3)
        return f"the highest stress is that of the first points, at {first} s; record earlier points", _below(stress, scatter), math.inf
    if top.where == "flat":
        return "the stress has no single peak", 0.0, highest + 2.0 * scatter
    fall = top.height - float(tail.mean())
    error = math.hypot(top.height_error, scatter / math.sqrt(tail.size))
    if top.degrees_of_freedom < 1 or fall <= student_quantile(0.5 + 0.5 * LEVEL, top.degrees_of_freedom) * error:
        return f"no fall after the peak stands out of the scatter ({number(max(fall, 0.0), 2)} Pa)", 0.0, highest + 2.0 * scatter
    return "", 0.0, math.inf


def _below(stress: FloatArray, scatter: float) -> float:
    """Return a stress that the peak reaches for sure: the highest less twice the scatter of a point."""
    return max(float(stress.max()) - 2.0 * scatter, 0.0)
