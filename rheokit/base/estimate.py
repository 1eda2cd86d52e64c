"""Estimate: the one currency between measuring and judging."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from rheokit.base.carry import Carried
from rheokit.base.errors import ComparisonError, UnitError
from rheokit.base.finding import Finding
from rheokit.base.show import Table, number, value_and_error
from rheokit.base.units import parse_unit

__all__ = ["COMPONENTS", "Condition", "Estimate", "Interval", "Source", "estimates_table"]

COMPONENTS = ("fit", "load", "day", "calibration", "geometry", "temperature", "entered")
"""Names of the parts of an uncertainty budget."""


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where a number comes from: a file by the sha256 of its bytes, the run, the step and the lines read."""

    sha256: str
    run: str
    step: str = ""
    rows: tuple[int, int] | None = None


@dataclass(frozen=True, kw_only=True)
class Interval:
    """An interval that need not be symmetric; an end that the data leave open is infinite and `reason` says why."""

    lower: float
    upper: float
    level: float
    reason: str = ""

    def __post_init__(self) -> None:
        if not 0.0 < self.level < 1.0:
            raise ValueError(f"an interval's level lies between 0 and 1, not {self.level!r}")
        if not self.lower <= self.upper:  # also refuses NaN
            raise ValueError(f"an interval's lower end {self.lower!r} must not exceed its upper end {self.upper!r}")
        if (math.isinf(self.lower) or math.isinf(self.upper)) and not self.reason:
            raise ValueError("an interval with an open end says why")


@dataclass(frozen=True, kw_only=True)
class Condition:
    """One condition under which a number holds: an amount in a unit, or a word.

    `within` is how far apart two such amounts may lie, in `unit`, and still be the same: what a programme sets a motor meets to a
    percent or so.
    """

    value: float | str
    unit: str = ""
    within: float = 0.0

    def matches(self, other: Condition) -> bool:
        """Tell whether two conditions are the same, to one part in a million or to what the wider of the two allows."""
        if isinstance(self.value, str) or isinstance(other.value, str):
            return self.value == other.value and self.unit == other.unit
        allowed = max(self.within, other.within, 1e-12)
        return self.unit == other.unit and math.isclose(self.value, other.value, rel_tol=1e-6, abs_tol=allowed * (1.0 + 1e-9))

    def __str__(self) -> str:
        if isinstance(self.value, str):
            return self.value
        # A temperature is kelvin inside and °C wherever a person reads it.
        shown, unit = (self.value - 273.15, "°C") if self.unit == "K" else (self.value, self.unit)
        return f"{number(shown)}{'' if unit in {'', '1'} else ' ' + unit}"


@dataclass(frozen=True, kw_only=True)
class Estimate(Carried):
    """A number with everything needed to judge it.

    Attributes
    ----------
    name, value, unit
        What it is, its best-fit number (always a number, also when it is not determined) and its unit.
    standard_error
        Standard uncertainty in `unit`, or None; then `reason` says why there is none.
    degrees_of_freedom
        Of the standard error (`inf` where it is known), or None without one.
    method
        How it was obtained, in words a record can print.
    conditions
        Name to Condition: rate, step, temperature, ramp, flow index and so on.
    components
        The budget: standard uncertainty by part (see COMPONENTS), in `unit`; their squares add up to that of `standard_error`.
    interval
        An interval that is better than the symmetric one, where there is one.
    determined
        False when the data do not determine the number; `reason` says why and the number is not to be used.
    sources, findings
        What it came from, and what was seen on the way.

    Raises
    ------
    ValueError
        When a part contradicts another: a negative or zero error, an error without degrees of freedom, a missing reason.
    """

    name: str
    value: float
    unit: str
    standard_error: float | None
    method: str
    degrees_of_freedom: float | None = None
    conditions: Mapping[str, Condition] = field(default_factory=dict)
    components: Mapping[str, float] = field(default_factory=dict)
    interval: Interval | None = None
    determined: bool = True
    reason: str = ""
    sources: tuple[Source, ...] = ()
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        for frozen in ("conditions", "components"):
            object.__setattr__(self, frozen, MappingProxyType(dict(getattr(self, frozen))))
        if not math.isfinite(self.value):
            raise ValueError(f"estimate {self.name!r}: the value {self.value!r} is no number; leave the estimate out and say why")
        if not self.method:
            raise ValueError(f"estimate {self.name!r} names no method")
        if not self.determined and not self.reason:
            raise ValueError(f"estimate {self.name!r} is not determined and gives no reason")
        self._check_error()

    def _check_error(self) -> None:
        error, freedom = self.standard_error, self.degrees_of_freedom
        if error is None:
            if not self.reason:
                raise ValueError(f"estimate {self.name!r} has no standard error and gives no reason")
            if freedom is not None or self.components:
                raise ValueError(f"estimate {self.name!r} has no standard error, so neither degrees of freedom nor a budget")
            return
        if not (math.isfinite(error) and error > 0.0):
            raise ValueError(f"estimate {self.name!r}: a standard error is positive, not {error!r}; give None and a reason instead")
        if freedom is None or not freedom > 0.0:
            raise ValueError(f"estimate {self.name!r}: a standard error needs its degrees of freedom, not {freedom!r}")
        if self.components:
            total = math.hypot(*self.components.values())
            unknown = [part for part in self.components if part not in COMPONENTS]
            if unknown or min(self.components.values()) < 0.0 or not math.isclose(total, error, rel_tol=1e-9):
                raise ValueError(f"estimate {self.name!r}: the budget {dict(self.components)} does not add up to {error!r}")

    @property
    def relative_standard_error(self) -> float | None:
        """Standard error over the magnitude of the value, or None where there is none."""
        return None if self.standard_error is None or self.value == 0.0 else self.standard_error / abs(self.value)

    def require_comparable(self, other: Estimate) -> None:
        """Refuse a comparison with an estimate of another name, unit or condition.

        Raises
        ------
        ComparisonError
            Naming the first thing that differs.
        """
        if self.name != other.name:
            raise ComparisonError(f"{self.name} is not compared with {other.name}")
        if self.unit != other.unit:
            raise ComparisonError(f"{self.name} in {self.unit} is not compared with one in {other.unit}; convert one of them first")
        for key in sorted({*self.conditions, *other.conditions}):
            mine, theirs = self.conditions.get(key), other.conditions.get(key)
            if mine is None or theirs is None or not mine.matches(theirs):
                raise ComparisonError(f"{self.name}: the condition {key} differs ({mine or 'not given'} and {theirs or 'not given'})")

    def in_unit(self, text: str) -> Estimate:
        """Return the same estimate in another unit of the same dimension.

        Raises
        ------
        UnitError
            When the units measure different things, or one of them has an offset (°C, °F).
        """
        old, new = parse_unit(self.unit), parse_unit(text)
        if old.dimension != new.dimension or old.offset or new.offset:
            raise UnitError(f"{self.name}: {self.unit!r} cannot be turned into {text!r}")

        def turn(amount: float) -> float:
            return amount if math.isinf(amount) else new.from_si(old.to_si(amount))

        held = self.interval
        return replace(
            self,
            unit=text,
            value=turn(self.value),
            standard_error=None if self.standard_error is None else turn(self.standard_error),
            components={part: turn(size) for part, size in self.components.items()},
            interval=held and replace(held, lower=turn(held.lower), upper=turn(held.upper)),
        )

    def table(self) -> Table:
        """Return the estimate as a table of one row."""
        return estimates_table((self,))

    def __str__(self) -> str:
        value, error = value_and_error(self.value, self.standard_error)
        unit = "" if self.unit in {"", "1"} else f" {self.unit}"
        said = f"{self.name.replace('_', ' ')} {value}{unit}" + (f", standard error {error}{unit}" if error else "")
        return said + (f" (not determined: {self.reason})" if not self.determined else f" ({self.reason})" if self.reason else "")

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def estimates_table(estimates: Iterable[Estimate], title: str = "") -> Table:
    """Return estimates as a table: what, value, standard error, unit, conditions, method; a missing error bar says why."""
    rows = []
    for estimate in estimates:
        value, error = value_and_error(estimate.value, estimate.standard_error)
        if not estimate.determined:
            value, error = f"({value})", "not determined"
        conditions = ", ".join(f"{key.replace('_', ' ')} {held}" for key, held in estimate.conditions.items())
        said = estimate.reason or estimate.method
        rows.append((estimate.name.replace("_", " "), value, error or "none", estimate.unit, conditions, said))
    columns = ("quantity", "value", "standard error", "unit", "conditions", "method or reason")
    return Table(title=title, columns=columns, rows=tuple(rows), right=("value", "standard error"))
