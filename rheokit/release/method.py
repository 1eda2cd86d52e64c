"""The method block: what the runs of a test must have been, and what deviates."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from rheokit.base.errors import RheokitError, UnitError, printable
from rheokit.base.finding import Finding
from rheokit.base.quantities import Amount, parse_amount
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.release.specification_text import MethodText

Parsed = TypeVar("Parsed")

__all__ = ["Held", "Method", "Ramp", "deviations", "method_from"]

RATE_TOLERANCE = 0.02
"""Relative; instruments meet a set rate to 1 %."""
TIME_TOLERANCE = 0.05
"""Relative; and never finer than two sampling intervals, since an export shows the time of points and not of the step."""


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
        rest=read("rest", lambda written: parse_amount(written, "time")),
        ramp=read("ramp", _ramp),
        hold=read("hold", _held),
    )


def _temperature(text: str) -> Amount:
    amount = parse_amount(text, "temperature")
    if amount.tolerance is None:
        raise UnitError(f"{printable(text)!r} gives no tolerance; write for example '23.0 °C ± 0.2'")
    return amount


def _held(text: str) -> Held:
    parts = re.split(r"\s+for\s+", text.strip())
    if len(parts) != 2:
        raise UnitError(f"{printable(text)!r} is not a rate held for a time; write for example '100 1/s for 60 s'")
    return Held(rate=parse_amount(parts[0], "shear_rate").value, duration=parse_amount(parts[1], "time").value, text=text.strip())


def _ramp(text: str) -> Ramp:
    matched = re.fullmatch(r"\s*(?P<start>\S+)(?P<start_unit>\s+\S+)?\s+to\s+(?P<end>\S+\s+\S+)\s+in\s+(?P<time>.+?)\s*", text)
    if not matched:
        raise UnitError(f"{printable(text)!r} is not a ramp; write for example '0 to 100 1/s in 120 s'")
    end = parse_amount(matched["end"], "shear_rate")
    start = parse_amount(matched["start"] + (matched["start_unit"] or f" {end.unit.symbol}"), "shear_rate")
    return Ramp(start=start.value, end=end.value, duration=parse_amount(matched["time"], "time").value, text=text.strip())


def deviations(run: Run, method: Method) -> tuple[Finding, ...]:
    """Return where a run is not what the method asks for (invalid), or does not say (caution)."""
    found = (
        *_geometry(run, method.geometry),
        *_temperature_deviation(run, method.temperature),
        *_held_deviation(run, "pre_shear", "shear", method.pre_shear),
        *_rest_deviation(run, method.rest),
        *_ramp_deviation(run, method.ramp),
        *_held_deviation(run, "hold", "hold", method.hold),
    )
    return tuple(finding.at(run.name) for finding in found)


def _deviates(what: str, seen: str, wanted: str, **numbers: float | str) -> Finding:
    reason = f"method: {what} was {seen}, the specification asks for {wanted}; repeat the run by the method"
    return Finding(check=f"method_{what.replace('-', '_').replace(' ', '_')}", severity="invalid", reason=reason, **numbers)  # type: ignore[arg-type]  # value, limit and unit


def _unsaid(what: str, wanted: str) -> Finding:
    reason = f"method: the export does not show the {what}; the specification asks for {wanted}: confirm it by hand"
    return Finding(check=f"method_{what.replace('-', '_').replace(' ', '_')}", severity="caution", reason=reason)


def _geometry(run: Run, wanted: str | None) -> tuple[Finding, ...]:
    if wanted is None:
        return ()
    said = next((text for key, text in run.metadata.items() if key.strip().lower() == "geometry"), None)
    if said is None:
        return (_unsaid("geometry", wanted),)
    same = said.strip().lower().replace(" ", "-") == wanted.strip().lower().replace(" ", "-")
    return () if same else (_deviates("geometry", printable(said), wanted),)


def _temperature_deviation(run: Run, wanted: Amount | None) -> tuple[Finding, ...]:
    if wanted is None or wanted.tolerance is None:
        return ()
    means = [mean for step in run.steps if step.kind != "temperature_ramp" and (mean := step.mean("temperature")) is not None]
    if not means:
        return (_unsaid("temperature", wanted.text),)
    furthest = max(means, key=lambda mean: abs(mean - wanted.value))
    if abs(furthest - wanted.value) <= wanted.tolerance + 1e-9:
        return ()
    return (_deviates("temperature", f"{furthest - 273.15:.2f} °C", wanted.text, value=furthest, limit=wanted.value, unit="K"),)


def _duration(step: Step) -> tuple[float, float]:
    """Return how long a step lasted [s] and how finely that is seen: the points' times lie inside the step."""
    times = step.columns.get("step_time", step.columns.get("time"))
    if times is None or times.size == 0:
        return float("nan"), float("nan")
    interval = float(np.median(np.diff(times))) if times.size > 1 else 0.0
    # A step time counts from the step's start, so that its last value is the duration itself.
    begin = 0.0 if "step_time" in step.columns else float(times[0]) - interval / 2.0
    return float(times[-1]) - begin, interval


def _is_near(seen: float, wanted: float, interval: float) -> bool:
    return abs(seen - wanted) <= max(TIME_TOLERANCE * wanted, 2.0 * interval) + 1e-9


def _held_deviation(run: Run, what: str, kind: str, wanted: Held | None) -> tuple[Finding, ...]:
    if wanted is None:
        return ()
    step = next((step for step in run.steps if step.kind == kind), None)
    name = what.replace("_", "-")
    if step is None:
        return (_deviates(name, "not there", wanted.text),)
    rate = float(np.nanmedian(step.shear_rate))
    duration, interval = _duration(step)
    if abs(rate - wanted.rate) <= RATE_TOLERANCE * wanted.rate and (np.isnan(duration) or _is_near(duration, wanted.duration, interval)):
        return (_unsaid(f"{name} time", wanted.text),) if np.isnan(duration) else ()
    return (_deviates(name, f"{number(rate, 3)} 1/s for {number(duration, 3)} s", wanted.text),)


def _rest_deviation(run: Run, wanted: Amount | None) -> tuple[Finding, ...]:
    if wanted is None:
        return ()
    step = next((step for step in run.steps if step.kind == "rest"), None)
    if step is None:
        return (_unsaid("rest", wanted.text),)
    duration, interval = _duration(step)
    if np.isnan(duration):
        return (_unsaid("rest", wanted.text),)
    if _is_near(duration, wanted.value, interval):
        return ()
    return (_deviates("rest", f"{number(duration, 3)} s", wanted.text, value=duration, limit=wanted.value, unit="s"),)


def _ramp_deviation(run: Run, wanted: Ramp | None) -> tuple[Finding, ...]:
    if wanted is None:
        return ()
    found: list[Finding] = []
    for kind in ("up", "down"):
        step = next((step for step in run.steps if step.kind == kind), None)
        if step is None:
            continue  # the missing leg is said where a requirement needs it
        top, low = float(np.nanmax(step.shear_rate)), float(np.nanmin(step.shear_rate))
        duration, interval = _duration(step)
        step_rate = wanted.end * 2.0 * interval / wanted.duration if not np.isnan(interval) else 0.0
        right_rates = abs(top - wanted.end) <= max(RATE_TOLERANCE * wanted.end, step_rate) and abs(low - wanted.start) <= max(
            RATE_TOLERANCE * wanted.end, step_rate
        )
        if np.isnan(duration):
            found.append(_unsaid("ramp time", wanted.text))
        elif not (right_rates and _is_near(duration, wanted.duration, interval)):
            seen = f"{number(low, 3)} to {number(top, 3)} 1/s in {number(duration, 3)} s ({kind} leg)"
            found.append(_deviates("ramp", seen, wanted.text))
    return tuple(found)
