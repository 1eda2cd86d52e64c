"""A gauge study: several operators measure the same parts (batches, samples) several times; what scatters is taken apart."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.estimate import Estimate, Interval
from rheokit.base.show import Table, number
from rheokit.statistics.component_interval import MeanSquare, component_interval
from rheokit.statistics.gauge_drawing import GaugeDrawing
from rheokit.statistics.student import fisher_cdf

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["GaugeStudy", "SourceOfScatter", "gauge_study"]

POOLED_ABOVE = 0.25
"""Probability above which an interaction counts as none and is pooled with the repeats: the cautious rule for a test that comes before
another (Bancroft, Biometrics 20 (1964) 427, from memory)."""
DISTINCT = 1.41
"""Times part variation over gauge variation, cut to a whole number: the distinct categories (sqrt 2, as practice rounds it)."""
FEW = "a standard deviation of few degrees of freedom: its interval is not symmetric"
FLAT = 3
"""Axes of a table of measurements: operators, parts, trials."""

VARIATIONS = {
    "equipment_variation": "the same operator again on the same part",
    "operator_variation": "between operators",
    "interaction_variation": "operators that differ from part to part",
    "gauge_variation": "all of the measurement",
    "part_variation": "between parts",
    "total_variation": "measurement and parts",
}
"""The standard deviations of a study, and what each is of."""


@dataclass(frozen=True, kw_only=True)
class SourceOfScatter:
    """One line of the analysis of variance; the ratio and its probability are None where there is nothing to hold it against."""

    name: str
    sum_of_squares: float
    degrees_of_freedom: int
    ratio: float | None = None
    probability: float | None = None

    @property
    def mean_square(self) -> float:
        """Sum of squares over its degrees of freedom."""
        return self.sum_of_squares / self.degrees_of_freedom


@dataclass(frozen=True, eq=False, kw_only=True)
class GaugeStudy(Carried):
    """What a gauge study shows.

    Attributes
    ----------
    name, unit
        What was measured; standard deviations are in this unit.
    operators, parts
        Their names.
    measurements
        Operators by parts by trials, (o, p, t).
    sources
        The analysis of variance: operators, parts, their interaction, repeats; where the interaction was pooled, operators and parts are
        held against the pooled line, which is the last.
    pooled
        Whether the interaction was pooled with the repeats.
    variations
        Name to standard deviation with its 95 % interval, see VARIATIONS.
    """

    name: str
    unit: str
    operators: tuple[str, ...]
    parts: tuple[str, ...]
    measurements: FloatArray
    sources: tuple[SourceOfScatter, ...]
    pooled: bool
    variations: Mapping[str, Estimate]

    def __post_init__(self) -> None:
        held = np.array(self.measurements, dtype=np.float64)
        held.flags.writeable = False
        object.__setattr__(self, "measurements", held)
        object.__setattr__(self, "variations", MappingProxyType(dict(self.variations)))

    @property
    def distinct_categories(self) -> int | None:
        """How many groups of parts the gauge tells apart (from five it serves; common practice); None where it does not scatter at all."""
        gauge, part = self.variations["gauge_variation"].value, self.variations["part_variation"].value
        return int(DISTINCT * part / gauge) if gauge > 0.0 else None

    def gauge_ratio(self, width: float) -> float:
        """Return six standard deviations of the measurement over the width between two limits [`unit`].

        Raises
        ------
        FitError
            When the width is not positive.
        """
        if not width > 0.0:
            raise FitError(f"the width between two limits is positive, not {width!r}")
        return 6.0 * self.variations["gauge_variation"].value / width

    def table(self) -> Table:
        """Return the standard deviations as a table: size, interval, share of the total."""
        total = self.variations["total_variation"].value
        rows = []
        for name, estimate in self.variations.items():
            held = estimate.interval
            assert held is not None
            share = f"{100.0 * estimate.value / total:.1f} %" if total > 0.0 else ""
            interval = f"{number(held.lower, 3)} to {number(held.upper, 3)}"
            rows.append((name.replace("_", " "), number(estimate.value), interval, share, VARIATIONS[name]))
        categories = self.distinct_categories
        notes = (
            f"distinct categories: {'the gauge does not scatter' if categories is None else categories}",
            "shares of standard deviations, which do not add up to 100 %; their squares do",
            self._said_of_interaction(),
        )
        columns = ("standard deviation", f"size{'' if self.unit == '1' else f' [{self.unit}]'}", "95 % interval", "of the total", "of what")
        title = f"{self.name.replace('_', ' ')}: {len(self.operators)} operators, {len(self.parts)} parts, {self._trials} trials"
        return Table(title=title, columns=columns, rows=tuple(rows), notes=notes, right=columns[1:4])

    @property
    def _trials(self) -> int:
        return int(self.measurements.shape[2])

    def _said_of_interaction(self) -> str:
        line = next(source for source in self.sources if source.name == "operators by parts")
        chance = "not tested" if line.probability is None else f"probability {number(line.probability, 2)}"
        what = "is not seen and was pooled with the repeats" if self.pooled else "is kept: operators differ from part to part"
        return f"the interaction of operators and parts ({chance}) {what}"

    def variance_table(self) -> Table:
        """Return the analysis of variance as a table."""
        rows = tuple(
            (
                source.name,
                number(source.sum_of_squares),
                str(source.degrees_of_freedom),
                number(source.mean_square),
                "" if source.ratio is None else number(source.ratio),
                "" if source.probability is None else number(source.probability, 2),
            )
            for source in self.sources
        )
        columns = ("source", "sum of squares", "d.f.", "mean square", "ratio", "probability")
        return Table(title="Analysis of variance", columns=columns, rows=rows, notes=(self._said_of_interaction(),), right=columns[1:])

    def __str__(self) -> str:
        return f"{self.table()}\n\n{self.variance_table()}"

    def _repr_html_(self) -> str:
        return self.table()._repr_html_() + self.variance_table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw every measurement by part and operator; return the axes."""
        label = f"{self.name.replace('_', ' ')}{'' if self.unit == '1' else f' [{self.unit}]'}"
        return GaugeDrawing(operators=self.operators, parts=self.parts, measurements=self.measurements, label=label).on(ax)


def gauge_study(
    measurements: ArrayLike,
    *,
    operators: Sequence[str] = (),
    parts: Sequence[str] = (),
    name: str = "result",
    unit: str = "1",
    pooled_above: float = POOLED_ABOVE,
) -> GaugeStudy:
    """Take apart what scatters when operators measure the same parts several times.

    Operators and parts are taken as random, crossed and balanced. Where the interaction of the two is not seen (its probability lies above
    `pooled_above`), it is pooled with the repeats. A component that comes out below zero is zero.

    Parameters
    ----------
    measurements
        Operators by parts by trials, (o, p, t), at least two of each, none missing.
    operators, parts
        Their names; `operator 1`, `part 1` and so on without them.
    name, unit
        What was measured, and in which unit.
    pooled_above
        From 0 (always pooled) to 1 (never).

    Raises
    ------
    FitError
        When the table is of another shape, has a gap, or the names do not fit.

    References
    ----------
    Two-way random-effects analysis of variance, as gauge studies use it (the trade's manual of measurement systems analysis, 4th ed., from
    memory); intervals: `rheokit.statistics.component_interval`.
    """
    table = np.asarray(measurements, dtype=np.float64)
    if table.ndim != FLAT or min(table.shape) < 2:
        raise FitError(f"a gauge study is a table of operators by parts by trials, at least two of each, not of shape {table.shape}")
    if not np.isfinite(table).all():
        raise FitError("a gauge study has a measurement for every operator, part and trial; measure what is missing")
    if not 0.0 <= pooled_above <= 1.0:
        raise FitError(f"a probability lies between 0 and 1, not {pooled_above!r}")
    names = [tuple(given) or tuple(f"{word} {n}" for n in range(1, count + 1)) for given, word, count in _axes(operators, parts, table)]
    if [len(held) for held in names] != list(table.shape[:2]):
        raise FitError(f"{table.shape[0]} operators and {table.shape[1]} parts need as many names")
    sources, pooled = _analysis(table, pooled_above)
    return GaugeStudy(
        name=name,
        unit=unit,
        operators=names[0],
        parts=names[1],
        measurements=table,
        sources=sources,
        pooled=pooled,
        variations=_variations(sources, pooled, table.shape, unit),
    )


def _axes(operators: Sequence[str], parts: Sequence[str], table: FloatArray) -> tuple[tuple[Sequence[str], str, int], ...]:
    return (operators, "operator", table.shape[0]), (parts, "part", table.shape[1])


def _analysis(table: FloatArray, pooled_above: float) -> tuple[tuple[SourceOfScatter, ...], bool]:
    o, p, t = table.shape
    cells, by_operator, by_part, mean = table.mean(2), table.mean((1, 2)), table.mean((0, 2)), table.mean()
    crossed = cells - by_operator[:, None] - by_part + mean
    operators = SourceOfScatter(name="operators", sum_of_squares=_squares(by_operator - mean) * p * t, degrees_of_freedom=o - 1)
    parts = SourceOfScatter(name="parts", sum_of_squares=_squares(by_part - mean) * o * t, degrees_of_freedom=p - 1)
    both = SourceOfScatter(name="operators by parts", sum_of_squares=_squares(crossed) * t, degrees_of_freedom=(o - 1) * (p - 1))
    repeats = SourceOfScatter(name="repeats", sum_of_squares=_squares(table - cells[..., None]), degrees_of_freedom=o * p * (t - 1))
    both = _held_against(both, repeats)
    pooled = both.probability is not None and both.probability > pooled_above
    joint = SourceOfScatter(
        name="repeats, pooled",
        sum_of_squares=both.sum_of_squares + repeats.sum_of_squares,
        degrees_of_freedom=both.degrees_of_freedom + repeats.degrees_of_freedom,
    )
    against = joint if pooled else both
    lines = (_held_against(operators, against), _held_against(parts, against), both, repeats)
    return (*lines, joint) if pooled else lines, pooled


def _squares(values: FloatArray) -> float:
    return float((values**2).sum())


def _held_against(source: SourceOfScatter, other: SourceOfScatter) -> SourceOfScatter:
    """Return a source with the ratio of its mean square to another's, unless that one is zero."""
    if not other.mean_square > 0.0:
        return source
    ratio = source.mean_square / other.mean_square
    return SourceOfScatter(
        name=source.name,
        sum_of_squares=source.sum_of_squares,
        degrees_of_freedom=source.degrees_of_freedom,
        ratio=ratio,
        # The upper tail as the lower one of the inverse, so that a tiny one keeps its digits.
        probability=fisher_cdf(1.0 / ratio, other.degrees_of_freedom, source.degrees_of_freedom) if ratio > 0.0 else 1.0,
    )


def _variations(sources: Sequence[SourceOfScatter], pooled: bool, shape: tuple[int, ...], unit: str) -> dict[str, Estimate]:
    """Return the standard deviations from the expectations of the mean squares."""
    o, p, t = shape
    operators, parts, crossed, repeats = sources[:4]
    error = sources[-1]
    against = error if pooled else crossed

    def part(source: SourceOfScatter, factor: float) -> MeanSquare:
        return MeanSquare(value=source.mean_square, degrees_of_freedom=float(source.degrees_of_freedom), factor=factor)

    made: dict[str, list[MeanSquare]] = {"equipment_variation": [part(error, 1.0)]}
    made["operator_variation"] = [part(operators, 1.0 / (p * t)), part(against, -1.0 / (p * t))]
    if not pooled:
        made["interaction_variation"] = [part(crossed, 1.0 / t), part(repeats, -1.0 / t)]
    variances = {name: max(0.0, math.fsum(one.share for one in held)) for name, held in made.items()}
    gauge = _sum_of(*made.values())
    made["gauge_variation"] = gauge
    variances["gauge_variation"] = math.fsum(variances.values())
    made["part_variation"] = [part(parts, 1.0 / (o * t)), part(against, -1.0 / (o * t))]
    variances["part_variation"] = max(0.0, math.fsum(one.share for one in made["part_variation"]))
    made["total_variation"] = _sum_of(gauge, made["part_variation"])
    variances["total_variation"] = variances["gauge_variation"] + variances["part_variation"]
    return {name: _deviation(name, variances[name], made[name], unit) for name in VARIATIONS if name in made}


def _sum_of(*components: Sequence[MeanSquare]) -> list[MeanSquare]:
    """Return the mean squares of several components, each once, with its factors added up."""
    factors: dict[tuple[float, float], float] = {}
    for held in components:
        for one in held:
            key = (one.value, one.degrees_of_freedom)
            factors[key] = factors.get(key, 0.0) + one.factor
    return [MeanSquare(value=value, degrees_of_freedom=freedom, factor=factor) for (value, freedom), factor in factors.items() if factor]


def _deviation(name: str, variance: float, parts: Sequence[MeanSquare], unit: str) -> Estimate:
    size = math.sqrt(variance)
    low, high = (math.sqrt(end) for end in component_interval(parts, 0.95))
    return Estimate(
        name=name,
        value=size,
        unit=unit,
        standard_error=None,
        reason=FEW,
        method="two-way random-effects analysis of variance; modified large-sample interval",
        interval=Interval(lower=min(low, size), upper=max(high, size), level=0.95),
    )
