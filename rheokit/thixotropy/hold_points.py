"""The points of a hold made ready: those at the held rate, over the time since the hold began."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.finding import Finding, Severity
from rheokit.base.run import Step
from rheokit.base.show import number

__all__ = ["FEWEST_POINTS", "HoldPoints", "hold_points"]

FEWEST_POINTS = 6
"""Fewest points of a hold: the exponential law has three parameters, and its scatter is to be seen."""
RATE_TOLERANCE = 0.02
"""Relative; instruments meet a set rate to 1 %."""
SETTLING_PART = 0.2
"""Part of the points, at the start, in which a drive may still be reaching the rate."""
STRAY_PART = 0.05
"""Part of the other points that may be off the rate: the noise of an encoder, not another rate."""


@dataclass(frozen=True, kw_only=True, eq=False)
class HoldPoints:
    """Times since the hold began [s], shear rates [1/s] and stresses [Pa], (N,); `unsteady` says why the rate was not held, or nothing."""

    time: FloatArray
    rate: FloatArray
    stress: FloatArray
    findings: tuple[Finding, ...]
    unsteady: str


def hold_points(step: Step, begin: float | None) -> HoldPoints:
    """Return the points of a hold; `begin` is when it began on the clock of the run [s], else the step itself says so.

    Raises
    ------
    FitError
        When fewer than six points are left, or a stress or the rate is not positive.
    """
    time, findings = _since(step, begin)
    rate, stress = step.shear_rate, step.shear_stress
    usable = np.isfinite(time) & np.isfinite(rate) & np.isfinite(stress) & (time > 0.0)
    out = int((~usable).sum())
    if out:
        reason = f"{out} of {usable.size} points have no number or stand at the start itself, and are left out"
        findings += (_finding("rows_left_out", "caution" if out > 0.1 * usable.size else "info", reason, float(out)),)
    order = np.argsort(time[usable], kind="stable")
    time, rate, stress = time[usable][order], rate[usable][order], stress[usable][order]
    if time.size < FEWEST_POINTS:
        raise FitError(f"step {step.number} ({step.kind}) has {time.size} usable points; a hold needs at least {FEWEST_POINTS}")
    if not (stress > 0.0).all():
        raise FitError(f"step {step.number} ({step.kind}) has stresses that are not positive; the torque is lost or its sign is wrong")
    level = float(np.median(rate))
    if not level > 0.0:
        raise FitError(f"step {step.number} ({step.kind}) is held at {number(level)} 1/s and shears nothing; give the hold at the top rate")
    off = np.abs(rate - level) > RATE_TOLERANCE * abs(level)
    settling = int(np.argmin(off)) if off[0] else 0
    if 0 < settling <= SETTLING_PART * off.size and off.size - settling >= FEWEST_POINTS:
        reason = f"the first {settling} of {off.size} points are not yet at {number(level)} 1/s and are left out"
        findings += (_finding("rate_settling", "info", reason, float(settling)),)
        time, rate, stress, off = time[settling:], rate[settling:], stress[settling:], off[settling:]
    unsteady = _unsteady(rate, off, level)
    if unsteady:
        findings += (_finding("rate_not_held", "invalid", unsteady, float(off.mean())),)
    return HoldPoints(time=time, rate=rate, stress=stress, findings=findings, unsteady=unsteady)


def _since(step: Step, begin: float | None) -> tuple[FloatArray, tuple[Finding, ...]]:
    """Return the times since the hold began [s]."""
    if begin is not None:
        return step.time - begin, ()
    if "step_time" in step.columns:
        return step.columns["step_time"], ()
    time = step.time
    known = np.sort(time[np.isfinite(time)])
    if known.size < 2:
        return time, ()
    interval = float(np.median(np.diff(known)))
    reason = (
        f"the export has no step time: the hold is taken to begin {number(interval, 3)} s, one interval, before its first point; "
        "give begin where it is known"
    )
    return time - (known[0] - interval), (_finding("begin_taken", "info", reason, interval),)


def _unsteady(rate: FloatArray, off: NDArray[np.bool_], level: float) -> str:
    """Say why the rate was not held, or nothing."""
    if off.mean() <= STRAY_PART:
        return ""
    span = f"{number(float(rate.min()), 3)} to {number(float(rate.max()), 3)} 1/s"
    share = f"{off.mean():.0%} of the points are more than {RATE_TOLERANCE:.0%} off {number(level, 3)} 1/s"
    return f"the rate was not held ({span}; {share}); a fall of the stress is then no breakdown"


def _finding(check: str, severity: Severity, reason: str, value: float) -> Finding:
    return Finding(check=check, severity=severity, reason=reason, value=value, unit="1")
