"""Batches over time: charts, capability, drift, and what their history allows to say of limits and risk.

An alarm is a signal to look for a cause. It is never a reject: a batch is judged by its specification alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import ComparisonError, printable
from rheokit.base.show import Table, number
from rheokit.base.units import parse_unit
from rheokit.comparison.drift import Drift, drift, drift_words
from rheokit.comparison.history_limits import ProposedLimits, Scale, history_risk, proposed_limits, scale_of
from rheokit.comparison.trend_drawing import draw_values
from rheokit.release.result_rows import ResultRow
from rheokit.statistics.capability import Capability, capability
from rheokit.statistics.charts import Averaged, BoolArray, Individuals, individuals, moving_average, run_rules
from rheokit.statistics.risk import Risk

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Alarm", "RequirementTrend", "Trend", "trend"]

_LEAST = 5
"""Values below which no chart is drawn: its limits would say nothing."""
REACH = 1.645
"""Standard uncertainties by which a result lies inside a limit where its probability of conformity is 0.95."""
RULES = ("beyond 3 s", "two of three beyond 2 s", "four of five beyond 1 s", "eight on one side")
Answer = TypeVar("Answer")


@dataclass(frozen=True, kw_only=True)
class Alarm:
    """One signal: which batch, by which chart; a reason to look for a cause, never to reject."""

    place: int
    batch: str
    chart: str


@dataclass(frozen=True, kw_only=True, eq=False)
class RequirementTrend(Carried):
    """One requirement over time.

    Attributes
    ----------
    requirement, unit, shown_unit
        Which, its SI unit, and the unit in which a person wrote the limits.
    batches, times, values
        In their order, (N,); `times` in days since the first, NaN where one is not known.
    limits
        In force at the last batch [unit], open ends infinite.
    scale
        On which the charts stand.
    chart, averaged, rules
        Single values with moving ranges, and the weighted average, on that scale; run rules (N, 4) where they were asked for.
    alarms
        Signals in their order.
    capability, proposed, risk
        None where the history does not allow them; `reasons` says why, by these names.
    drifts, drift_said
        Of product, standard, check oil and their quotients, and what they say together.
    """

    requirement: str
    unit: str
    shown_unit: str
    batches: tuple[str, ...]
    times: FloatArray
    values: FloatArray
    limits: tuple[float, float]
    scale: Scale
    chart: Individuals
    averaged: Averaged
    rules: BoolArray | None
    alarms: tuple[Alarm, ...]
    capability: Capability | None
    proposed: ProposedLimits | None
    risk: Risk | None
    reasons: Mapping[str, str]
    drifts: tuple[Drift, ...]
    drift_said: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "reasons", MappingProxyType(dict(self.reasons)))

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the single values on the axes given, else on a new figure, and return the axes."""
        ends = ((self.chart.upper, "mean + 3 s"), (self.chart.centre, "mean"), (self.chart.lower, "mean − 3 s"))
        levels = [(self.scale.back(end) * self.shown_factor, words, False) for end, words in ends]
        levels += [(end * self.shown_factor, words, True) for end, words in zip(self.limits, ("lower limit", "upper limit"), strict=True)]
        label = f"{self.requirement} [{self.shown_unit}]" if self.shown_unit else self.requirement
        return draw_values(self.values * self.shown_factor, levels, sorted({alarm.place for alarm in self.alarms}), label, ax)

    @property
    def shown_factor(self) -> float:
        """One SI unit in the unit that is shown."""
        return 1.0 / parse_unit(self.shown_unit or "1").scale_to_si(1.0)

    def shown(self, value: float, digits: int = 4) -> str:
        """Return a value [SI] in the unit in which the limits were written."""
        return f"{number(value * self.shown_factor, digits)} {self.shown_unit}".strip()


@dataclass(frozen=True, kw_only=True, eq=False)
class Trend(Carried):
    """All requirements that could be charted, by their id, and why the others could not."""

    requirements: Mapping[str, RequirementTrend]
    left_out: Mapping[str, str]

    def __post_init__(self) -> None:
        for name in ("requirements", "left_out"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))

    def table(self) -> Table:
        """Return one row a requirement."""
        rows = [_row(one) for one in self.requirements.values()]
        columns = ("requirement", "batches", "mean", "s of moving ranges", "Cpk (95 %)", "alarms", "drift")
        notes = ["an alarm is a signal to look for a cause, never a reject", *(f"{name}: {why}" for name, why in self.left_out.items())]
        return Table(title="trend", columns=columns, rows=tuple(rows), notes=tuple(notes), right=columns[1:5])

    def __str__(self) -> str:
        return self.table().text(160)

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _row(one: RequirementTrend) -> tuple[str, ...]:
    held, known = one.chart, one.capability
    index = "none" if known is None else f"{known.cpk:.2f} ({known.cpk_interval[0]:.2f} to {known.cpk_interval[1]:.2f})"
    spread = f"{100.0 * held.standard_deviation:.2g} %" if one.scale.logarithmic else one.shown(held.standard_deviation, 2)
    mean = one.shown(one.scale.back(held.centre))
    batches = list(dict.fromkeys(alarm.batch for alarm in one.alarms))
    alarms = ", ".join(batches[-3:]) + (f" and {len(batches) - 3} before" if len(batches) > 3 else "") if batches else "none"
    return one.requirement, str(one.values.size), mean, spread, index, alarms, one.drift_said


def trend(rows: Iterable[ResultRow], *, requirement: str | None = None, base: int | None = None, use_run_rules: bool = False) -> Trend:
    """Chart the numbers of checks over time.

    Parameters
    ----------
    rows
        In the order of the checks, as `register_rows` or `result_rows` give them.
    requirement
        One of them, or all.
    base
        The first so many batches give the limits of the charts; all without it. Limits from a base do not follow a drift.
    use_run_rules
        Whether the four run rules are applied too: they find a shift sooner, and raise false alarms from one in 370 to one in 92 batches.

    Raises
    ------
    ComparisonError
        When there are no rows, there is no such requirement, or its unit changed on the way.
    """
    held = list(rows)
    if not held:
        raise ComparisonError("there are no numbers to chart: no check that counts is there")
    names = list(dict.fromkeys(row.requirement for row in held if row.role != "check oil"))
    # One reading of the oil may stand for several batches; it counts once.
    oils = list({(row.requirement, row.time, row.value): row for row in held if row.role == "check oil"}.values())
    if requirement is not None:
        if requirement not in names:
            raise ComparisonError(
                f"no check has a requirement {printable(requirement)!r}; there are {', '.join(map(printable, names)) or 'none'}"
            )
        names = [requirement]
    found, left_out = {}, {}
    for name in names:
        product = [row for row in held if row.requirement == name and row.role == "batch"]
        standard = [row for row in held if row.requirement == name and row.role == "standard"]
        values = np.array([row.value for row in product])
        if values.size < _LEAST or not np.abs(np.diff(values[:base])).sum() > 0.0:
            left_out[name] = f"{values.size} batches; a chart needs {_LEAST} that differ"
            continue
        found[name] = _charted(name, _Series(product=product, standard=standard, oils=oils), base, use_run_rules)
    return Trend(requirements=found, left_out=left_out)


@dataclass(frozen=True, kw_only=True)
class _Series:
    """The rows of one requirement, and those of the check oil beside it."""

    product: list[ResultRow]
    standard: list[ResultRow]
    oils: list[ResultRow]


def _charted(name: str, series: _Series, base: int | None, with_rules: bool) -> RequirementTrend:
    product, standard = series.product, series.standard
    units = {row.unit for row in (*product, *standard)}
    if len(units) > 1:
        raise ComparisonError(
            f"{printable(name)}: the unit changes between checks ({', '.join(sorted(units))}); chart each series by itself"
        )
    values = np.array([row.value for row in product])
    scale = scale_of(values)
    held = np.log(values) if scale.logarithmic else values
    chart = individuals(held, base=None if base is None else held[:base])
    averaged = moving_average(held, target=chart.centre, standard_deviation=chart.standard_deviation)
    rules = run_rules((held - chart.centre) / chart.standard_deviation) if with_rules else None
    last = product[-1]
    limits = (-math.inf if last.lower is None else last.lower, math.inf if last.upper is None else last.upper)
    known, reasons = _known(values, product, scale, limits, chart)
    days = _days(product)
    drifts = _drifts(series)
    return RequirementTrend(
        requirement=name, unit=last.unit, shown_unit=last.shown_unit, batches=tuple(row.batch for row in product), times=days,
        values=values, limits=limits, scale=scale, chart=chart, averaged=averaged, rules=rules,
        alarms=_alarms(product, chart, averaged, rules), capability=known[0], proposed=known[1], risk=known[2], reasons=reasons,
        drifts=drifts, drift_said=drift_words(drifts),
    )  # fmt: skip


def _known(
    values: FloatArray, product: list[ResultRow], scale: Scale, limits: tuple[float, float], chart: Individuals
) -> tuple[tuple[Capability | None, ProposedLimits | None, Risk | None], dict[str, str]]:
    """Return what the history allows, and why it does not allow the rest."""
    reasons: dict[str, str] = {}

    def ask(name: str, find: Callable[[], Answer]) -> Answer | None:
        try:
            return find()
        except ValueError as error:
            reasons[name] = str(error)
            return None

    held = np.log(values) if scale.logarithmic else values
    lower, upper = (scale.to(end) for end in limits)
    sides = (math.isfinite(limits[0]), math.isfinite(limits[1]))
    index = ask("capability", lambda: capability(float(held.mean()), float(held.std(ddof=1)), held.size, lower=lower, upper=upper))
    proposed = ask("proposed", lambda: proposed_limits(values, scale, sides=sides if any(sides) else (True, True)))
    if chart.outside.any():
        reasons["settled"] = "the chart shows values beyond its limits: find their causes before limits are taken from this history"
    errors = [row.standard_error for row in product]
    if None in errors:
        reasons["risk"] = "not every result states its uncertainty"
        return (index, proposed, None), reasons
    sizes = np.array(errors, dtype=np.float64)
    return (index, proposed, ask("risk", lambda: history_risk(values, sizes, scale, limits=limits, reach=REACH))), reasons


def _alarms(product: list[ResultRow], chart: Individuals, averaged: Averaged, rules: BoolArray | None) -> tuple[Alarm, ...]:
    marks = [("single value", chart.outside), ("moving range", chart.range_outside), ("weighted average", averaged.outside)]
    if rules is not None:
        marks += [(name, rules[:, place]) for place, name in enumerate(RULES) if place > 0]
    found = [(int(place), name) for name, mark in marks for place in np.flatnonzero(mark)]
    return tuple(Alarm(place=place, batch=product[place].batch, chart=name) for place, name in sorted(found, key=lambda one: one[0]))


def _days(rows: list[ResultRow]) -> FloatArray:
    """Return the days since 1970 at which rows were measured, NaN where that is not known."""
    return np.array([datetime.fromisoformat(row.time).timestamp() / 86_400.0 if row.time else math.nan for row in rows])


def _drifts(known: _Series) -> tuple[Drift, ...]:
    """Return the drift of each, and of the quotients of those measured in one check."""
    series = {"product": known.product, "standard": known.standard, "check oil": known.oils}
    found = [_slope(name, rows, [row.value for row in rows]) for name, rows in series.items()]
    for top, bottom in (("product", "standard"), ("standard", "check oil")):
        under = {row.batch: row.value for row in series[bottom]}
        paired = [row for row in series[top] if under.get(row.batch, 0.0) > 0.0]
        found.append(_slope(f"{top} over {bottom}", paired, [row.value / under[row.batch] for row in paired]))
    return tuple(found)


def _slope(name: str, rows: list[ResultRow], values: list[float]) -> Drift:
    days = _days(rows)
    kept = np.isfinite(days)
    return drift(name, days[kept], np.array(values)[kept])
