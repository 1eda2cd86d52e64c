"""The order that yield values of one ink are expected in, checked on their intervals at like rests.

Linear limit <= flow-point stress <= static peak, and dynamic <= static peak. The linear limit (rested) and the dynamic value (broken) are
not ordered (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding, Severity
from rheokit.base.show import number
from rheokit.yielding.reading_off import interval_of

__all__ = ["LIKE_REST", "LOADS", "WORDS", "OrderCheck", "Placed", "check_order"]

LIKE_REST = 1.2
"""Ratio of two rests up to which they count as one (our own setting)."""

LOADS = 0.02
"""Relative standard deviation between loads by which intervals of unlike runs are widened, twice on either side: what good laboratories
reach (common practice, no source)."""

Outcome = Literal["holds", "cannot be told", "reversed within the intervals", "reversed"]
_SEVERITY: dict[Outcome, Severity] = {"cannot be told": "info", "reversed within the intervals": "caution", "reversed": "invalid"}
_STATIC = ("static_yield_stress_peak", "static_yield_stress_vane")


WORDS: Mapping[str, str] = MappingProxyType(
    {
        "linear_limit_stress": "limit of the linear range",
        "flow_point_stress": "flow point",
        "static_yield_stress_tangents": "static yield stress, ramp tangents",
        "static_yield_stress_viscosity_maximum": "static yield stress, ramp viscosity maximum",
        "static_yield_stress_peak": "static yield stress, start-up peak",
        "static_yield_stress_vane": "static yield stress, vane",
        "creep_bracket_stress": "creep bracket",
        "dynamic_yield_stress": "dynamic yield stress",
        "stress_at_low_rate": "stress at a low rate",
    }
)
"""Name of an estimate to what it is called in a table or sentence."""


@dataclass(frozen=True, kw_only=True)
class Placed:
    """An estimate and the run it is from."""

    estimate: Estimate
    run: str

    @property
    def rest(self) -> float | None:
        """How long the sample rested before [s], where that is stated."""
        held = self.estimate.conditions.get("rest")
        return None if held is None else float(held.value)

    @property
    def name(self) -> str:
        """What it is called: the method, the law or the rate, never a bare yield stress."""
        law, rate = (self.estimate.conditions.get(key) for key in ("law", "shear_rate"))
        words = WORDS.get(self.estimate.name, self.estimate.name.replace("_", " "))
        by = f" by {str(law).replace('_', '-').title()}" if law else ""
        return words + by + (f" at {number(float(rate.value), 3)} 1/s" if rate else "")

    @property
    def words(self) -> str:
        """What it is called in a sentence, with its rest."""
        return self.name + ("" if self.rest is None else f" after a rest of {number(self.rest, 3)} s")


@dataclass(frozen=True, kw_only=True)
class OrderCheck:
    """Whether one value is at most another: the outcome, and why."""

    lesser: str
    greater: str
    outcome: Outcome
    reason: str

    def finding(self) -> Finding | None:
        """Return what is to be said: nothing where the order holds."""
        if self.outcome == "holds":
            return None
        return Finding(check="yield_order", severity=_SEVERITY[self.outcome], reason=self.reason)


def check_order(placed: Sequence[Placed], *, loads: float = LOADS) -> tuple[OrderCheck, ...]:
    """Return every comparison that the expected order asks for.

    Parameters
    ----------
    placed
        Estimates of one ink; those that are not determined are passed over.
    loads
        Relative standard deviation between loads.
    """
    known = [one for one in placed if one.estimate.determined]
    return tuple(_checked(lesser, greater, like, loads) for lesser, greater, like in _pairs(known))


def _pairs(known: Sequence[Placed]) -> Iterator[tuple[Placed, Placed, bool]]:
    """Yield each pair of lesser and greater, and whether they are to be of like rest."""

    def named(*names: str) -> list[Placed]:
        return [one for one in known if one.estimate.name in names]

    for limit in named("linear_limit_stress"):
        yield from ((limit, flow, True) for flow in named("flow_point_stress"))
    static = named(*_STATIC)
    for flow in named("flow_point_stress"):
        like = [peak for peak in static if _alike(flow, peak)]
        yield from ((flow, peak, True) for peak in like or static[-1:])
    longest = max((peak.rest or 0.0 for peak in static), default=0.0)
    for dynamic in named("dynamic_yield_stress"):
        yield from ((dynamic, peak, False) for peak in static if (peak.rest or 0.0) * LIKE_REST >= longest)


def _alike(one: Placed, other: Placed) -> bool:
    if one.rest is None or other.rest is None:
        return False
    return max(one.rest, other.rest) <= LIKE_REST * min(one.rest, other.rest)


def _checked(lesser: Placed, greater: Placed, like: bool, loads: float) -> OrderCheck:
    pair = {"lesser": lesser.words, "greater": greater.words}
    same_sweep = lesser.run == greater.run and lesser.rest is None and greater.rest is None
    if like and not same_sweep and not _alike(lesser, greater):
        words = f"{lesser.words} and {greater.words} are not of like rest, so their order cannot be told: state the rest of both"
        return OrderCheck(**pair, outcome="cannot be told", reason=words)
    ends = [interval_of(one.estimate) for one in (lesser, greater)]
    if ends[0] is None or ends[1] is None:
        words = f"{lesser.words} or {greater.words} has no interval, so their order cannot be told"
        return OrderCheck(**pair, outcome="cannot be told", reason=words)
    wider = 1.0 if lesser.run == greater.run else math.exp(2.0 * loads)
    low, high = (ends[0].lower / wider, ends[0].upper * wider), (ends[1].lower / wider, ends[1].upper * wider)
    shown = f"{lesser.words} ({_span(low)}) and {greater.words} ({_span(high)})"
    if low[0] > high[1]:
        words = f"{shown}: the first is expected at or below the second and lies above it, intervals apart: look for the cause"
        return OrderCheck(**pair, outcome="reversed", reason=words)
    if lesser.estimate.value > greater.estimate.value:
        words = f"{shown}: the first is expected at or below the second; it lies above it, but the intervals overlap"
        return OrderCheck(**pair, outcome="reversed within the intervals", reason=words)
    if low[1] > high[0]:
        return OrderCheck(**pair, outcome="cannot be told", reason=f"{shown}: the intervals overlap, so their order cannot be told")
    return OrderCheck(**pair, outcome="holds", reason=f"{shown}: in the expected order")


def _span(ends: tuple[float, float]) -> str:
    return f"{number(ends[0], 3)} to {number(ends[1], 3)} Pa"
