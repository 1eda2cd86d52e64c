"""What a decision rule leaves of the limits: the values that are accepted and those that are rejected, with the uncertainty stated."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from rheokit.release.decision import Outcome, by_rule
from rheokit.release.specification import DecisionRule, Requirement
from rheokit.statistics.budget import Budget, Part
from rheokit.statistics.risk import Zone

__all__ = ["accepted_zone", "kept_zone", "leaves_nothing", "stated_budget", "typical_value"]

PROBES = 200
"""Places between two limits at which the rule is tried, where their middle is not accepted."""
HALVINGS = 80
DOUBLINGS = 200


def stated_budget(line: Requirement, value: float, loads: int) -> Budget | None:
    """Return the budget of the mean of so many loads at a value [SI], from what the requirement states; None without a repeatability."""
    if line.repeatability is None:
        return None
    known = line.repeatability
    load = Part(size=known.standard_deviation(value) / math.sqrt(loads), degrees_of_freedom=known.degrees_of_freedom)
    others = {
        name: Part(size=part.standard_deviation(value), degrees_of_freedom=part.degrees_of_freedom) for name, part in line.parts.items()
    }
    return Budget(parts={"load": load, **others})


def typical_value(line: Requirement) -> float:
    """Return the middle of two limits, or the only one [SI]."""
    if line.lower and line.upper:
        return 0.5 * (line.lower.value + line.upper.value)
    return line.lower_value if line.lower else line.upper_value


def outcome_at(line: Requirement, rule: DecisionRule, loads: int, value: float) -> Outcome:
    """Return what the rule makes of a value, with the uncertainty that the requirement states at it."""
    budget = stated_budget(line, value, loads)
    if budget is None or not budget.standard_uncertainty > 0.0:
        return "inconclusive"
    return by_rule(line, value, budget.standard_uncertainty, budget.degrees_of_freedom, rule)[0]


def leaves_nothing(line: Requirement, rule: DecisionRule, loads: int) -> bool:
    """Tell whether no value could conform.

    Without a known repeatability that is not a matter of the limits, and a result that is typed in may bring a smaller uncertainty.
    """
    if line.repeatability is None or line.characteristic.needs == "entered":
        return False
    return _accepted(line, rule, loads) is None


def _accepted(line: Requirement, rule: DecisionRule, loads: int) -> float | None:
    return next((value for value in _probes(line) if outcome_at(line, rule, loads, value) == "conforming"), None)


def _probes(line: Requirement) -> Iterator[float]:
    """Yield values at which a requirement may be met: the middle first, then a grid; beside one limit ever further away."""
    middle = typical_value(line)
    yield middle
    if line.lower and line.upper:
        width = line.upper.value - line.lower.value
        yield from (line.lower.value + width * place / PROBES for place in range(PROBES + 1))
        return
    inward = 1.0 if line.lower else -1.0
    scale = abs(middle) or 1.0
    yield from (middle + inward * scale * 2.0**power for power in range(-20, 40))


def accepted_zone(line: Requirement, rule: DecisionRule, loads: int) -> Zone | None:
    """Return between which values [SI] the outcome is `conforming`, or None where it never is."""
    inner = _accepted(line, rule, loads)
    if inner is None:
        return None

    def accepted(value: float) -> bool:
        return outcome_at(line, rule, loads, value) == "conforming"

    lower = _edge(accepted, inner, line.lower_value) if line.lower else -math.inf
    upper = _edge(accepted, inner, line.upper_value) if line.upper else math.inf
    return lower, upper


def kept_zone(line: Requirement, rule: DecisionRule, loads: int) -> Zone:
    """Return beyond which values [SI] the outcome is `not conforming`; an end is infinite where it never is."""

    def kept(value: float) -> bool:
        return outcome_at(line, rule, loads, value) != "not conforming"

    ends = []
    for limit, outward in ((line.lower, -1.0), (line.upper, 1.0)):
        if limit is None:
            ends.append(outward * math.inf)
            continue
        step = 1e-3 * (abs(limit.value) or 1.0)
        far = next((at for power in range(DOUBLINGS) if not kept(at := limit.value + outward * step * 2.0**power)), None)
        ends.append(outward * math.inf if far is None else _edge(kept, limit.value, far))
    return ends[0], ends[1]


def _edge(holds: Callable[[float], bool], inside: float, outside: float) -> float:
    """Return the last value towards `outside` at which something holds that holds at `inside`."""
    if holds(outside):
        return outside
    for _ in range(HALVINGS):
        middle = 0.5 * (inside + outside)
        if holds(middle):
            inside = middle
        else:
            outside = middle
    return inside
