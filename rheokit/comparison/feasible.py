"""What a candidate must meet before anything is weighed: hard limits, each on the unfavourable bound, at every temperature of interest."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from rheokit.base.carry import Carried
from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.show import Table, number
from rheokit.statistics.student import student_quantile

__all__ = ["Candidates", "HardLimit", "LimitLine", "Window", "feasible_window", "require_one_kind", "unfavourable_bounds"]

Candidates = Mapping[str, Mapping[str, Estimate]]
"""Candidate to its numbers: the name of a line (`viscosity-100`, or `yield-stress @ 60 °C`) to its Estimate."""

UNMATCHED = frozenset({"time"})
"""Conditions that need not agree between candidates: when a number was typed in."""
TEMPERATURE_WITHIN = 0.5
"""How far from a temperature of interest a measurement may have been set [K]."""


@dataclass(frozen=True, kw_only=True)
class HardLimit:
    """Limits of one line, in the unit of its Estimates.

    `temperatures` [K] are those at which they hold; none means where the line was measured. Numbers of one line at several temperatures
    stand under `line`, `line @ cold` and so on; which is which is read from the temperature that each Estimate carries.
    """

    line: str
    lower: float = -math.inf
    upper: float = math.inf
    unit: str = "1"
    temperatures: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not self.lower < self.upper or (math.isinf(self.lower) and math.isinf(self.upper)):
            raise ComparisonError(f"{self.line}: a hard limit needs a lower end below its upper end, one of them finite")

    @property
    def words(self) -> str:
        """The limits as a person says them."""
        unit = "" if self.unit == "1" else f" {self.unit}"
        if math.isinf(self.lower):
            return f"at most {number(self.upper)}{unit}"
        return f"at least {number(self.lower)}{unit}" if math.isinf(self.upper) else f"{number(self.lower)} to {number(self.upper)}{unit}"


@dataclass(frozen=True, kw_only=True)
class LimitLine:
    """One candidate against one limit: the bounds that count, and whether both lie inside; `reason` says why not."""

    line: str
    temperature: float | None
    limit: HardLimit
    estimate: Estimate | None
    lowest: float
    highest: float
    met: bool
    reason: str


@dataclass(frozen=True, kw_only=True, repr=False)
class Window(Carried):
    """Which candidates lie inside the window: all limits met, none missing."""

    level: float
    lines: Mapping[str, tuple[LimitLine, ...]]

    @property
    def feasible(self) -> tuple[str, ...]:
        """Candidates that meet every limit."""
        return tuple(name for name, lines in self.lines.items() if all(line.met for line in lines))

    def table(self) -> Table:
        """Return each candidate with what keeps it out."""
        rows = []
        for name, lines in self.lines.items():
            failed = [line.reason for line in lines if not line.met]
            mark, reason = ("○ outside", "; ".join(failed)) if failed else ("● inside", "every limit is met")
            rows.append((mark, name, f"{len(lines) - len(failed)} of {len(lines)}", reason))
        note = f"each limit is held against the unfavourable end of the {100.0 * self.level:g} % interval"
        return Table(title="hard limits", columns=("window", "candidate", "limits met", "reason"), rows=tuple(rows), notes=(note,))

    def __str__(self) -> str:
        return str(self.table())

    __repr__ = __str__  # the fields themselves fill pages

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def unfavourable_bounds(estimate: Estimate, level: float = 0.95) -> tuple[float, float]:
    """Return the ends of an Estimate's interval: its own where it has one of that level, else by its standard error and Student's t.

    Raises
    ------
    ComparisonError
        When it is not determined, or has neither an interval nor a standard error.
    """
    if not estimate.determined:
        raise ComparisonError(f"{estimate.name} is not determined ({estimate.reason})")
    held = estimate.interval
    if held is not None and math.isclose(held.level, level):
        return held.lower, held.upper
    if estimate.standard_error is None or estimate.degrees_of_freedom is None:
        raise ComparisonError(f"{estimate.name} has no error ({estimate.reason}); no bound can be held against a limit")
    reach = student_quantile(0.5 + 0.5 * level, estimate.degrees_of_freedom) * estimate.standard_error
    return estimate.value - reach, estimate.value + reach


def feasible_window(candidates: Candidates, limits: Sequence[HardLimit], *, level: float = 0.95) -> Window:
    """Hold every candidate against every limit at every temperature of interest, on the unfavourable bound.

    Raises
    ------
    ComparisonError
        When there is nothing to hold, an Estimate stands in another unit than its limit, or a line is no comparable number across
        candidates: a consistency at unequal flow index, a loop area of another method.
    """
    if not candidates or not limits:
        raise ComparisonError("a window needs candidates and at least one hard limit")
    for limit in limits:
        for temperature in limit.temperatures or (None,):
            held = [found for numbers in candidates.values() if (found := _at(numbers, limit.line, temperature)) is not None]
            require_one_kind(held)
    lines = {
        name: tuple(_line(numbers, limit, temperature, level) for limit in limits for temperature in limit.temperatures or (None,))
        for name, numbers in candidates.items()
    }
    return Window(level=level, lines=lines)


def require_one_kind(estimates: Sequence[Estimate]) -> None:
    """Refuse estimates that are not one kind of number: another unit or condition, or consistencies not at one flow index.

    Raises
    ------
    ComparisonError
        Naming what differs.
    """
    for estimate in estimates:
        if estimate.name == "consistency" and "flow_index" not in estimate.conditions:
            raise ComparisonError("a consistency is compared only at one flow index; fix it in every fit and name it as a condition")
    first = [_plain(estimate) for estimate in estimates[:1]]
    for estimate in estimates[1:]:
        first[0].require_comparable(_plain(estimate))


def _plain(estimate: Estimate) -> Estimate:
    return replace(estimate, conditions={key: held for key, held in estimate.conditions.items() if key not in UNMATCHED})


def _temperature(estimate: Estimate) -> float | None:
    for key in ("temperature", "set_temperature"):
        held = estimate.conditions.get(key)
        if isinstance(held, Condition) and isinstance(held.value, float | int):
            return float(held.value)
    return None


def _at(numbers: Mapping[str, Estimate], line: str, temperature: float | None) -> Estimate | None:
    if temperature is None:
        return numbers.get(line)
    for key, estimate in numbers.items():
        measured = _temperature(estimate)
        if key.split(" @ ")[0] == line and measured is not None and abs(measured - temperature) <= TEMPERATURE_WITHIN:
            return estimate
    return None


def _line(numbers: Mapping[str, Estimate], limit: HardLimit, temperature: float | None, level: float) -> LimitLine:
    estimate = _at(numbers, limit.line, temperature)
    where = limit.line if temperature is None else f"{limit.line} at {number(temperature - 273.15)} °C"
    low, high, reason = math.nan, math.nan, f"{where} was not measured"
    if estimate is not None:
        if estimate.unit != limit.unit:
            raise ComparisonError(f"{where} is measured in {estimate.unit} and limited in {limit.unit}; convert one of them first")
        try:
            low, high = unfavourable_bounds(estimate, level)
            reason = _reason(where, low, high, limit)
        except ComparisonError as error:
            reason = f"{where}: {error}"
    met = not reason
    return LimitLine(
        line=limit.line, temperature=temperature, limit=limit, estimate=estimate, lowest=low, highest=high, met=met, reason=reason
    )


def _reason(where: str, low: float, high: float, limit: HardLimit) -> str:
    unit = "" if limit.unit == "1" else f" {limit.unit}"
    if low < limit.lower:
        return f"{where} may be as low as {number(low)}{unit}, below {number(limit.lower)}"
    return f"{where} may be as high as {number(high)}{unit}, above {number(limit.upper)}" if high > limit.upper else ""
