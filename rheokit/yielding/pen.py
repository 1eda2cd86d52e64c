"""What a yield value means for the pen, and the two bounds that a refill is worked out with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from rheokit.base.show import number
from rheokit.yielding.order import Placed
from rheokit.yielding.reading_off import interval_of

__all__ = ["USES", "PenBound", "first_stroke_bound", "holding_bound"]

USES: Mapping[str, str] = MappingProxyType(
    {
        "linear_limit_stress": "up to here nothing breaks: handling and vibration leave the gel whole",
        "flow_point_stress": "above it shaking makes the gel a liquid: knocks, transport",
        "static_yield_stress_tangents": "onset of flow under a stress that rises slowly: gas pressure at filling, warming",
        "static_yield_stress_viscosity_maximum": "where the gel begins to give way under a rising stress; of this ramp only",
        "static_yield_stress_peak": "feeding and the first stroke after storage: its upper bound at the longest rest",
        "static_yield_stress_vane": "as the start-up peak, with no wall to slip on",
        "static_yield_stress_growth": "what each tenfold of storage adds to the first stroke",
        "creep_bracket_stress": "holding at rest: its lower bound, where it is the smaller",
        "dynamic_yield_stress": "holding after writing, while the ink is broken: its lower bound, where it is the smaller",
        "stress_at_low_rate": "driving the ink along the feed path at that rate",
    }
)
"""Name of an estimate to what it is for (the holding and first-stroke rules: our own, from what leaks and what skips)."""


@dataclass(frozen=True, kw_only=True)
class PenBound:
    """A stress [Pa] to work a refill out with, or None and the reason; and what it was taken from."""

    use: str
    value: float | None
    taken_from: str
    reason: str = ""

    def __str__(self) -> str:
        if self.value is None:
            return f"{self.use}: no bound, {self.reason}"
        return f"{self.use}: {number(self.value, 3)} Pa, {self.taken_from}"


def holding_bound(placed: Sequence[Placed]) -> PenBound:
    """Return the stress that holding at rest may count on: the lower bound of the smaller of dynamic yield stress and creep bracket."""
    names = ("dynamic_yield_stress", "creep_bracket_stress")
    known = [one for one in placed if one.estimate.name in names and one.estimate.determined]
    if not known:
        return PenBound(
            use="holding at rest", value=None, taken_from="", reason="neither a dynamic yield stress nor a creep bracket is known"
        )
    return _bound("holding at rest", min(known, key=lambda one: one.estimate.value), "lower")


def first_stroke_bound(placed: Sequence[Placed]) -> PenBound:
    """Return the stress that feeding and the first stroke must overcome: the upper bound of the static yield stress at the longest rest."""
    use = "feeding and first stroke"
    names = ("static_yield_stress_peak", "static_yield_stress_vane")
    asked = [one for one in placed if one.estimate.name in names and one.rest is not None]
    known = [one for one in asked if one.estimate.determined]
    if asked and not known:
        last = max(asked, key=lambda one: one.rest or 0.0)
        reason = f"the {last.words} is not determined: {last.estimate.reason}"
        return PenBound(use=use, value=None, taken_from="", reason=reason)
    if not known:
        reason = "no start-up peak or vane says its rest; start up after a rest in the same run, or give rest"
        return PenBound(use=use, value=None, taken_from="", reason=reason)
    longest = max(one.rest or 0.0 for one in known)
    return _bound(use, max((one for one in known if one.rest == longest), key=lambda one: one.estimate.value), "upper")


def _bound(use: str, one: Placed, side: str) -> PenBound:
    held = interval_of(one.estimate)
    if held is None:
        return PenBound(use=use, value=None, taken_from=one.words, reason=f"the {one.words} has no interval: {one.estimate.reason}")
    value = held.lower if side == "lower" else held.upper
    if not value > 0.0:
        return PenBound(use=use, value=None, taken_from=one.words, reason=f"the interval of the {one.words} reaches down to nothing")
    return PenBound(use=use, value=value, taken_from=f"{side} end of the 95 % interval of the {one.words}")
