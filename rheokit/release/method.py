"""The method block: what the runs of a test must have been."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeVar

from rheokit.base.errors import RheokitError, UnitError, printable
from rheokit.base.quantities import Amount, parse_amount
from rheokit.release.span import Span, span_of_time
from rheokit.release.specification_text import MethodText

Parsed = TypeVar("Parsed")

__all__ = ["Correction", "Held", "Method", "Ramp", "method_from"]

Correction = Literal["local", "global", "single point", "none"]
"""How the stress of parallel plates becomes the true one at the rim."""


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
    gap: Amount | None = None
    points: int | None = None
    time_since_loading: Span | None = None
    correction: Correction | None = None


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
        gap=read("gap", _gap),
        points=text.points,
        time_since_loading=read("time_since_loading", span_of_time),
        correction=text.correction,
    )


def _temperature(text: str) -> Amount:
    amount = parse_amount(text, "temperature")
    if amount.tolerance is None:
        raise UnitError(f"{printable(text)!r} gives no tolerance; write for example '23.0 °C ± 0.2'")
    return amount


def _gap(text: str) -> Amount:
    amount = parse_amount(text, "gap")
    if amount.tolerance is None or not amount.value > 0.0:
        raise UnitError(f"{printable(text)!r} is no gap with a tolerance; write for example '500 µm ± 5'")
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
