"""How far repeat loads usually lie apart: what they are held against until the laboratory knows its own repeatability."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.show import number

__all__ = ["REPEAT_LIMITS", "RepeatLimit", "repeat_findings"]

HIGH_RATE = 10.0
"""1/s; from here the limit of the higher rates holds, below it that of the lower. Our own setting, half-way between 1 and 100 1/s."""


@dataclass(frozen=True, kw_only=True)
class RepeatLimit:
    """Range of repeat loads at which they are measured again.

    Attributes
    ----------
    range
        Relative to the mean of the loads, or in the number itself where `in_points`.
    low_rate
        What holds instead below HIGH_RATE, where that differs.
    source
        Where it is from.
    """

    range: float
    in_points: bool = False
    low_rate: float | None = None
    source: str = "common practice, no source"

    def at(self, estimate: Estimate) -> float:
        """Return the limit at the conditions of an estimate."""
        rate = estimate.conditions.get("shear_rate")
        if self.low_rate is None or rate is None or isinstance(rate.value, str) or rate.value >= HIGH_RATE:
            return self.range
        return self.low_rate


_AT_RATE = RepeatLimit(
    range=0.07, low_rate=0.10, source="ASTM D4287: pairs that differ by 7 % or more are repeated; at low rates common practice"
)

REPEAT_LIMITS: Mapping[str, RepeatLimit] = MappingProxyType(
    {
        "viscosity_at_rate": _AT_RATE,
        "stress_at_rate": _AT_RATE,
        "yield_stress": RepeatLimit(range=0.10),
        "dynamic_yield_stress": RepeatLimit(range=0.10),
        "static_yield_stress_peak": RepeatLimit(range=0.20),
        "static_yield_stress_ramp": RepeatLimit(range=0.20),
        "loop_area": RepeatLimit(range=0.20),
        "recovery_at_time": RepeatLimit(range=0.08, in_points=True),
    }
)
"""Characteristic to the usual limit of its repeat loads."""


def repeat_findings(loads: Sequence[Estimate], mean: float) -> tuple[Finding, ...]:
    """Return a caution where loads lie as far apart as their usual limit, or farther."""
    limit = REPEAT_LIMITS.get(loads[0].name)
    if limit is None or (mean == 0.0 and not limit.in_points):
        return ()
    values = [load.value for load in loads]
    apart = (max(values) - min(values)) / (1.0 if limit.in_points else abs(mean))
    allowed = limit.at(loads[0])
    # A pair that is 7 % apart on paper counts, whatever its binary digits.
    if apart < allowed and not math.isclose(apart, allowed, rel_tol=1e-9):
        return ()
    words = "in itself" if limit.in_points else "of their mean"
    reason = (
        f"the loads lie {number(100.0 * apart, 3)} % {words} apart; from {100.0 * allowed:g} % repeats are measured again "
        f"({limit.source}); load fresh sample, or state the repeatability that the laboratory knows"
    )
    return (Finding(check="repeat_loads", severity="caution", reason=reason, value=apart, limit=allowed, unit="1"),)
