"""What deviates from the method: each run held against the method block of its test."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from rheokit.base.errors import UnitError, printable
from rheokit.base.finding import Finding, Severity
from rheokit.base.quantities import Amount, parse_amount
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.characteristics import settled_points
from rheokit.reading.preamble import entry, moment
from rheokit.release.method import Held, Method, Ramp
from rheokit.release.span import Span, shown_time

__all__ = ["deviations"]

RATE_TOLERANCE = 0.02
"""Relative; instruments meet a set rate to 1 %."""
TIME_TOLERANCE, LONGEST_TIME_TOLERANCE = 0.05, 0.10
"""Relative; an export shows the times of points and not of the step, so two sampling intervals are allowed, up to the longer one."""
STRAY_TEMPERATURES = 0.05
"""Share of a step's readings that may lie outside the tolerance: the noise of a sensor, not a drift."""


def deviations(run: Run, method: Method, set_temperature: float | None = None) -> tuple[Finding, ...]:
    """Return where a run is not what the method asks for.

    The history counts: the pre-shear and the rest are looked for before the first step that is measured, in this order. What is asked
    for and not shown is as invalid as what was done otherwise; only what is set by hand and seldom exported (geometry, gap, time since
    loading) is then a caution.

    Parameters
    ----------
    run, method
        What was done and what should have been.
    set_temperature
        What the batch file or preamble says the instrument was set to [K].
    """
    before = _before_measuring(run)
    found = (
        *_geometry(run, method.geometry),
        *_temperature_deviation(run, method.temperature, set_temperature),
        *_pre_shear_deviation(before, method.pre_shear),
        *_rest_deviation(before, method.rest),
        *_ramp_deviation(run, method.ramp),
        *_hold_deviation(run, method.hold),
        *_gap_deviation(run, method.gap),
        *_points_deviation(run, method.points),
        *_loading_deviation(run, method.time_since_loading),
    )
    return tuple(finding.at(run.name) for finding in found)


def _before_measuring(run: Run) -> tuple[Step, ...]:
    """Return the steps before the first that is measured: its history."""
    first = next((index for index, step in enumerate(run.steps) if step.kind not in {"shear", "rest", "hold"}), len(run.steps))
    return run.steps[:first]


def _deviates(what: str, seen: str, wanted: str) -> Finding:
    reason = f"method: the {what} was {seen}, the specification asks for {wanted}; repeat the run by the method"
    return Finding(check=_check_name(what), severity="invalid", reason=reason)


def _unsaid(what: str, wanted: str, severity: Severity = "invalid") -> Finding:
    remedy = "confirm it by hand" if severity == "caution" else "export it, or repeat the run by the method"
    reason = f"method: the export does not show the {what}; the specification asks for {wanted}: {remedy}"
    return Finding(check=_check_name(what), severity=severity, reason=reason)


def _check_name(what: str) -> str:
    return f"method_{what.replace('-', '_').replace(' ', '_')}"


def _geometry(run: Run, wanted: str | None) -> tuple[Finding, ...]:
    if wanted is None:
        return ()
    said = entry(run.metadata, "Geometry")
    if said is None:
        return (_unsaid("geometry", wanted, "caution"),)
    return () if _words(said) == _words(wanted) else (_deviates("geometry", printable(said), wanted),)


def _words(text: str) -> list[str]:
    return [word for word in re.split(r"[^a-z0-9]+", text.lower()) if word not in {"", "and"}]


def _temperature_deviation(run: Run, wanted: Amount | None, set_temperature: float | None) -> tuple[Finding, ...]:
    """Hold the readings of every step, not their means, against the tolerance: a drift must not average out."""
    if wanted is None or wanted.tolerance is None:
        return ()
    found = []
    if set_temperature is not None and abs(set_temperature - wanted.value) > wanted.tolerance + 1e-9:
        found.append(_deviates("set temperature", f"{set_temperature - 273.15:.2f} °C", wanted.text))
    steps = [step.columns.get("temperature") for step in run.steps if step.kind != "temperature_ramp"]
    if not steps or any(values is None or not np.isfinite(values).any() for values in steps):
        return (*found, _unsaid("temperature", wanted.text))
    for step, values in zip(run.steps, steps, strict=False):
        assert values is not None
        finite = values[np.isfinite(values)]
        off = np.abs(finite - wanted.value)
        if np.mean(off > wanted.tolerance + 1e-9) > STRAY_TEMPERATURES:
            worst = float(finite[int(np.argmax(off))])
            seen = f"{worst - 273.15:.2f} °C in step {step.number} ({step.kind})"
            return (*found, _deviates("temperature", seen, wanted.text))
    return tuple(found)


def _duration(step: Step) -> tuple[float, float]:
    """Return how long a step lasted [s] and how finely that is seen: the points' times lie inside the step."""
    times = step.columns.get("step_time", step.columns.get("time"))
    if times is None or times.size < 2:
        return float("nan"), float("nan")
    interval = float(np.median(np.diff(times)))
    # A step time counts from the step's start, so that its last value is the duration itself.
    return float(times[-1]) - (0.0 if "step_time" in step.columns else float(times[0]) - interval / 2.0), interval


def _is_near(seen: float, wanted: float, interval: float) -> bool:
    allowed = max(TIME_TOLERANCE * wanted, min(2.0 * interval, LONGEST_TIME_TOLERANCE * wanted))
    return abs(seen - wanted) <= allowed + 1e-9


def _pre_shear_deviation(before: Sequence[Step], wanted: Held | None) -> tuple[Finding, ...]:
    if wanted is None:
        return ()
    step = next((step for step in reversed(before) if step.kind == "shear"), None)
    return (_deviates("pre-shear", "not there", wanted.text),) if step is None else _held_deviation(step, "pre-shear", wanted)


def _hold_deviation(run: Run, wanted: Held | None) -> tuple[Finding, ...]:
    if wanted is None:
        return ()
    step = next((step for step in run.steps if step.kind == "hold"), None)
    return (_deviates("hold", "not there", wanted.text),) if step is None else _held_deviation(step, "hold", wanted)


def _held_deviation(step: Step, what: str, wanted: Held) -> tuple[Finding, ...]:
    rate = float(np.nanmedian(step.shear_rate))
    duration, interval = _duration(step)
    if np.isnan(duration):
        return (_unsaid(f"{what} time", wanted.text),)
    if abs(rate - wanted.rate) <= RATE_TOLERANCE * wanted.rate and _is_near(duration, wanted.duration, interval):
        return ()
    return (_deviates(what, f"{number(rate, 3)} 1/s for {number(duration, 3)} s", wanted.text),)


def _rest_deviation(before: Sequence[Step], wanted: Amount | None) -> tuple[Finding, ...]:
    if wanted is None:
        return ()
    if not before or before[-1].kind != "rest":
        return (_deviates("rest", "not there right before the measured step", wanted.text),)
    duration, interval = _duration(before[-1])
    if np.isnan(duration):
        return (_unsaid("rest time", wanted.text),)
    return () if _is_near(duration, wanted.value, interval) else (_deviates("rest", f"{number(duration, 3)} s", wanted.text),)


def _ramp_deviation(run: Run, wanted: Ramp | None) -> tuple[Finding, ...]:
    if wanted is None:
        return ()
    found: list[Finding] = []
    for step in run.steps:
        if step.kind not in {"up", "down"}:
            continue  # a missing leg is said where a requirement needs it
        low, top = float(np.nanmin(step.shear_rate)), float(np.nanmax(step.shear_rate))
        duration, interval = _duration(step)
        if np.isnan(duration):
            found.append(_unsaid("ramp time", wanted.text))
            continue
        # The first and last point may stand one interval inside the ramp.
        allowed = max(RATE_TOLERANCE * wanted.end, (wanted.end - wanted.start) * min(2.0 * interval / wanted.duration, 0.1))
        right = abs(top - wanted.end) <= allowed and abs(low - wanted.start) <= allowed
        if not (right and _is_near(duration, wanted.duration, interval)):
            seen = f"{number(low, 3)} to {number(top, 3)} 1/s in {number(duration, 3)} s ({step.kind} leg)"
            found.append(_deviates("ramp", seen, wanted.text))
    return tuple(found)


def _gap_deviation(run: Run, wanted: Amount | None) -> tuple[Finding, ...]:
    """Hold the gap in the preamble, and where the export has a column of it every reading, against the tolerance."""
    if wanted is None or wanted.tolerance is None:
        return ()
    seen = [values[np.isfinite(values)] for step in run.steps if (values := step.columns.get("gap")) is not None]
    said = entry(run.metadata, "Gap")
    if said is not None:
        try:
            seen.append(np.array([parse_amount(said, "gap").value]))
        except UnitError:
            return (_deviates("gap", f"{printable(said)!r}, which is no length", wanted.text),)
    gaps = np.concatenate(seen) if seen else np.empty(0)
    if gaps.size == 0:
        return (_unsaid("gap", wanted.text, "caution"),)
    worst = float(gaps[int(np.argmax(np.abs(gaps - wanted.value)))])
    if abs(worst - wanted.value) <= wanted.tolerance * (1.0 + 1e-9):
        return ()
    return (_deviates("gap", f"{number(wanted.unit.from_si(worst))} {wanted.unit.symbol}", wanted.text),)


def _points_deviation(run: Run, wanted: int | None) -> tuple[Finding, ...]:
    """Count the points of each leg and sweep that a number can be read from."""
    if wanted is None:
        return ()
    found = []
    for step in run.steps:
        if step.kind in {"up", "down", "steady"} and {"shear_rate", "shear_stress"} <= set(step.columns):
            count = settled_points(step).shear_rate.size
            if count < wanted:
                found.append(_deviates("number of points", f"{count} in step {step.number} ({step.kind})", f"at least {wanted}"))
    return tuple(found)


def _loading_deviation(run: Run, wanted: Span | None) -> tuple[Finding, ...]:
    """Hold the time between loading and measuring, stated or from the two times of day, against the span."""
    if wanted is None:
        return ()
    what = "time since loading"
    said = entry(run.metadata, "Time since loading")
    loaded, measured = moment(entry(run.metadata, "Loaded") or ""), moment(entry(run.metadata, "Measured") or "")
    if said is not None:
        try:
            waited = parse_amount(said, "time").value
        except UnitError:
            return (_deviates(what, f"{printable(said)!r}, which is no time", wanted.text),)
    elif loaded is not None and measured is not None:
        waited = (measured - loaded).total_seconds()
    else:
        return (_unsaid(what, wanted.text, "caution"),)
    return () if wanted.holds(waited) else (_deviates(what, shown_time(waited), wanted.text),)
