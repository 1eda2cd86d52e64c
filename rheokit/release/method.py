"""The method block: what the runs of a test must have been, and what deviates."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from rheokit.base.errors import RheokitError, UnitError, printable
from rheokit.base.finding import Finding, Severity
from rheokit.base.quantities import Amount, parse_amount
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.reading.preamble import entry
from rheokit.release.specification_text import MethodText

Parsed = TypeVar("Parsed")

__all__ = ["Held", "Method", "Ramp", "deviations", "method_from"]

RATE_TOLERANCE = 0.02
"""Relative; instruments meet a set rate to 1 %."""
TIME_TOLERANCE, LONGEST_TIME_TOLERANCE = 0.05, 0.10
"""Relative; an export shows the times of points and not of the step, so two sampling intervals are allowed, up to the longer one."""
STRAY_TEMPERATURES = 0.05
"""Share of a step's readings that may lie outside the tolerance: the noise of a sensor, not a drift."""


@dataclass(frozen=True, kw_only=True)
class Held:
    """A rate [1/s] held for a time [s]."""

    rate: float
    duration: float
    text: str


@dataclass(frozen=True, kw_only=True)
class Ramp:
    """A ramp between two rates [1/s] in a time [s]."""

    start: float
    end: float
    duration: float
    text: str


@dataclass(frozen=True, kw_only=True)
class Method:
    """What the runs of one test must have been; what is None is not asked for."""

    loads: int = 1
    geometry: str | None = None
    temperature: Amount | None = None
    pre_shear: Held | None = None
    rest: Amount | None = None
    ramp: Ramp | None = None
    hold: Held | None = None


def method_from(text: MethodText, refuse: Callable[[str, RheokitError], RheokitError]) -> Method:
    """Return the method that a table of a specification describes; `refuse` turns an error into one that names the key."""

    def read(name: str, parse: Callable[[str], Parsed]) -> Parsed | None:
        written = getattr(text, name)
        if written is None:
            return None
        try:
            return parse(written)
        except UnitError as error:
            raise refuse(name, error) from None

    return Method(
        loads=text.loads,
        geometry=text.geometry,
        temperature=read("temperature", _temperature),
        pre_shear=read("pre_shear", _held),
        rest=read("rest", _rest),
        ramp=read("ramp", _ramp),
        hold=read("hold", _held),
    )


def _temperature(text: str) -> Amount:
    amount = parse_amount(text, "temperature")
    if amount.tolerance is None:
        raise UnitError(f"{printable(text)!r} gives no tolerance; write for example '23.0 °C ± 0.2'")
    return amount


def _rest(text: str) -> Amount:
    _positive_time(text)
    return parse_amount(text, "time")


def _held(text: str) -> Held:
    parts = re.split(r"\s+for\s+", text.strip())
    if len(parts) != 2:
        raise UnitError(f"{printable(text)!r} is not a rate held for a time; write for example '100 1/s for 60 s'")
    rate, duration = parse_amount(parts[0], "shear_rate").value, _positive_time(parts[1])
    return Held(rate=rate, duration=duration, text=text.strip())


def _ramp(text: str) -> Ramp:
    matched = re.fullmatch(r"\s*(?P<start>\S+)(?P<start_unit>\s+\S+)?\s+to\s+(?P<end>\S+\s+\S+)\s+in\s+(?P<time>.+?)\s*", text)
    if not matched:
        raise UnitError(f"{printable(text)!r} is not a ramp; write for example '0 to 100 1/s in 120 s'")
    end = parse_amount(matched["end"], "shear_rate")
    start = parse_amount(matched["start"] + (matched["start_unit"] or f" {end.unit.symbol}"), "shear_rate")
    if not 0.0 <= start.value < end.value:
        raise UnitError(f"{printable(text)!r}: a ramp goes from a lower to a higher rate; the down leg is the same backwards")
    return Ramp(start=start.value, end=end.value, duration=_positive_time(matched["time"]), text=text.strip())


def _positive_time(text: str) -> float:
    duration = parse_amount(text, "time").value
    if not duration > 0.0:
        raise UnitError(f"{printable(text)!r}: a time is positive")
    return duration


def deviations(run: Run, method: Method, set_temperature: float | None = None) -> tuple[Finding, ...]:
    """Return where a run is not what the method asks for (invalid), or where its geometry is not said (caution).

    The history counts: the pre-shear and the rest are looked for before the first step that is measured, in this order. What is asked
    for and not shown is as invalid as what was done otherwise.

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
