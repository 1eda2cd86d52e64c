"""Repeatability and reproducibility from a study: several laboratories (operators, days, instruments) with some results each."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import FitError
from rheokit.base.estimate import Estimate, Interval
from rheokit.base.finding import Finding
from rheokit.base.show import Table, number
from rheokit.statistics.component_interval import MeanSquare, component_interval, satterthwaite
from rheokit.statistics.interlaboratory_drawing import ConsistencyDrawing
from rheokit.statistics.outlying import Outlying, cochran, grubbs
from rheokit.statistics.precision import StatedUncertainty
from rheokit.statistics.student import fisher_quantile, student_quantile

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Laboratory", "PrecisionStudy", "repeatability_and_reproducibility"]

LEVELS = (0.05, 0.01)
"""Probabilities at which h and k are marked."""
LIMIT_FACTOR = 2.8
"""Times a standard deviation: the difference of two results that is exceeded once in twenty (ISO 5725-6:1994, 4.1; 1.96 sqrt(2))."""
FEW = "a standard deviation of few degrees of freedom: its interval is not symmetric"


@dataclass(frozen=True, eq=False, kw_only=True)
class Laboratory(Carried):
    """One laboratory of a study.

    Attributes
    ----------
    name, results
        Its results, (n,).
    mean, standard_deviation
        Of its results; the standard deviation is None for a single one.
    h, k
        Between- and within-laboratory consistency; `k` is None for a single result.
    h_critical, k_critical
        Their critical values at 5 % and at 1 %.
    """

    name: str
    results: FloatArray
    mean: float
    standard_deviation: float | None
    h: float
    k: float | None
    h_critical: tuple[float, float]
    k_critical: tuple[float, float] | None

    def __post_init__(self) -> None:
        object.__setattr__(self, "results", read_only(self.results, "results"))

    @property
    def remark(self) -> str:
        """Which of the two statistics lies beyond its critical value, and at which probability."""
        said = [_beyond("h", abs(self.h), self.h_critical)]
        if self.k is not None and self.k_critical is not None:
            said.append(_beyond("k", self.k, self.k_critical))
        return ", ".join(word for word in said if word)


def _beyond(symbol: str, size: float, critical: tuple[float, float]) -> str:
    level = next((level for level, limit in reversed(list(zip(LEVELS, critical, strict=True))) if size > limit), None)
    return "" if level is None else f"{symbol} beyond {100.0 * level:.0f} %"


@dataclass(frozen=True, kw_only=True)
class PrecisionStudy:
    """Repeatability and reproducibility, with what each laboratory adds to them.

    Attributes
    ----------
    name, unit
        What was measured; every number below is in this unit.
    laboratories
        One after the other; none is left out, whatever the tests say.
    mean
        Of all results.
    within, between
        Mean squares inside and between laboratories, with their degrees of freedom.
    results_each
        Mean number of results a laboratory that stands for the unequal ones.
    outlying
        What Grubbs' test of the means and Cochran's of the scatters saw.
    """

    name: str
    unit: str
    laboratories: tuple[Laboratory, ...]
    mean: float
    within: MeanSquare
    between: MeanSquare
    results_each: float
    outlying: tuple[Outlying, ...]

    @property
    def repeatability(self) -> Estimate:
        """Repeatability standard deviation."""
        return self._deviation("repeatability", [self.within])

    @property
    def reproducibility(self) -> Estimate:
        """Reproducibility standard deviation: between and inside laboratories together."""
        return self._deviation("reproducibility", self._parts(1.0 - 1.0 / self.results_each))

    @property
    def between_laboratories(self) -> Estimate:
        """Standard deviation between laboratories alone, zero where they scatter no more than their results do."""
        return self._deviation("between_laboratories", self._parts(-1.0 / self.results_each))

    def _parts(self, factor: float) -> list[MeanSquare]:
        """Return the parts of a variance: the mean square between laboratories over their results, and so much of that inside."""
        if self.between.value <= self.within.value and factor > 0.0:
            return [self.within]  # laboratories do not differ: one result scatters like any other
        between = MeanSquare(value=self.between.value, degrees_of_freedom=self.between.degrees_of_freedom, factor=1.0 / self.results_each)
        return [between, MeanSquare(value=self.within.value, degrees_of_freedom=self.within.degrees_of_freedom, factor=factor)]

    def _deviation(self, name: str, parts: list[MeanSquare]) -> Estimate:
        size = math.sqrt(max(0.0, math.fsum(part.share for part in parts)))
        low, high = component_interval(parts, 0.95)
        return Estimate(
            name=name,
            value=size,
            unit=self.unit,
            standard_error=None,
            reason=FEW,
            method=f"ISO 5725-2, {len(self.laboratories)} laboratories, {self.results} results",
            interval=Interval(lower=min(math.sqrt(low), size), upper=max(math.sqrt(high), size), level=0.95),
        )

    @property
    def results(self) -> int:
        """Number of all results."""
        return sum(laboratory.results.size for laboratory in self.laboratories)

    @property
    def reproducibility_freedom(self) -> float:
        """Effective degrees of freedom of the reproducibility."""
        return satterthwaite(self._parts(1.0 - 1.0 / self.results_each))

    def stated(self, *, relative: bool = False) -> tuple[StatedUncertainty, StatedUncertainty]:
        """Return repeatability and reproducibility as a precision file states them: absolute, or relative to the mean.

        Raises
        ------
        FitError
            When nothing scatters, or a relative one is asked of a mean that is not positive.
        """
        sizes = (self.repeatability.value, self.reproducibility.value)
        if not sizes[0] > 0.0:
            raise FitError(f"{self.name}: no result differs from another; a finer reading is needed to see a scatter")
        if relative and not self.mean > 0.0:
            raise FitError(f"{self.name}: a relative scatter of a mean of {number(self.mean)} says nothing")
        freedoms = (self.within.degrees_of_freedom, self.reproducibility_freedom)
        scale = self.mean if relative else 1.0
        first, second = (
            StatedUncertainty(**{"relative" if relative else "absolute": size / scale}, degrees_of_freedom=freedom)
            for size, freedom in zip(sizes, freedoms, strict=True)
        )
        return first, second

    @property
    def findings(self) -> tuple[Finding, ...]:
        """A caution for each laboratory that lies apart."""
        return tuple(finding for seen in self.outlying for finding in seen.finding())

    def table(self) -> Table:
        """Return the laboratories as a table, with the precision below it."""
        flags: dict[str, list[str]] = {}
        for seen in self.outlying:
            if seen.verdict:
                flags.setdefault(seen.name, []).append(f"{seen.verdict} ({seen.test})")
        rows = tuple(
            (
                laboratory.name,
                str(laboratory.results.size),
                number(laboratory.mean),
                "one result" if laboratory.standard_deviation is None else number(laboratory.standard_deviation, 3),
                f"{laboratory.h:.2f}",
                "" if laboratory.k is None else f"{laboratory.k:.2f}",
                ", ".join(word for word in (laboratory.remark, *flags.get(laboratory.name, ())) if word),
            )
            for laboratory in self.laboratories
        )
        columns = ("laboratory", "results", "mean", "standard deviation", "h", "k", "remark")
        unit = "" if self.unit == "1" else f" {self.unit}"
        title = f"{self.name.replace('_', ' ')}{f' [{self.unit}]' if unit else ''}: precision of {len(self.laboratories)} laboratories"
        return Table(title=title, columns=columns, rows=rows, notes=self._notes(unit), right=columns[1:6])

    def _notes(self, unit: str) -> tuple[str, ...]:
        said = [f"mean {number(self.mean)}{unit}"]
        freedoms = (self.within.degrees_of_freedom, self.reproducibility_freedom)
        for estimate, freedom in zip((self.repeatability, self.reproducibility), freedoms, strict=True):
            held = estimate.interval
            assert held is not None
            said.append(
                f"{estimate.name} standard deviation {number(estimate.value, 3)}{unit} ({number(freedom, 3)} d.f., 95 % interval "
                f"{number(held.lower, 3)} to {number(held.upper, 3)}); two results differ by more than "
                f"{number(LIMIT_FACTOR * estimate.value, 3)}{unit} once in twenty"
            )
        return (*said, *(str(seen) for seen in self.outlying), "nothing is left out; a person decides on what lies apart")

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw h and k of every laboratory against their critical values; return the axes."""
        return ConsistencyDrawing(
            names=tuple(laboratory.name for laboratory in self.laboratories),
            h=tuple(laboratory.h for laboratory in self.laboratories),
            k=tuple(laboratory.k for laboratory in self.laboratories),
            h_critical=self.laboratories[0].h_critical,
            k_critical=tuple(laboratory.k_critical for laboratory in self.laboratories),
            label=self.name.replace("_", " "),
        ).on(ax)


def repeatability_and_reproducibility(laboratories: Mapping[str, ArrayLike], *, name: str = "result", unit: str = "1") -> PrecisionStudy:
    """Return the precision that a study of one material shows; the numbers of results may differ.

    Whatever is between the groups is what the reproducibility holds: laboratories, operators, instruments or days.

    Parameters
    ----------
    laboratories
        Name to its results, (n,) each, of one material. At least three, and in all at least two that repeat another.
    name, unit
        What was measured, and in which unit.

    Raises
    ------
    FitError
        When there are too few laboratories or results, or a result is no number.

    References
    ----------
    ISO 5725-2:1994, 7.3 (h, k, Cochran, Grubbs) and 7.4 (means and variances, unequal numbers), from memory.
    """
    held = {label: np.atleast_1d(np.asarray(results, dtype=np.float64)) for label, results in laboratories.items()}
    for label, results in held.items():
        if results.ndim != 1 or results.size == 0 or not np.isfinite(results).all():
            raise FitError(f"{label}: the results of a laboratory are one finite number after the other")
    count, total = len(held), sum(results.size for results in held.values())
    if count < 3:
        raise FitError(f"{count} laboratories; between fewer than three no scatter is to be seen")
    if total <= count:
        raise FitError("no laboratory repeated a result; without repeats there is no repeatability")
    numbers = np.array([results.size for results in held.values()], dtype=np.float64)
    means = np.array([results.mean() for results in held.values()])
    mean = float(numbers @ means / total)
    inside = math.fsum(float(((results - results.mean()) ** 2).sum()) for results in held.values())
    within = MeanSquare(value=inside / (total - count), degrees_of_freedom=float(total - count))
    between = MeanSquare(value=float(numbers @ (means - mean) ** 2) / (count - 1), degrees_of_freedom=float(count - 1))
    found = _laboratories(held, within.value)
    repeated = [laboratory for laboratory in found if laboratory.standard_deviation is not None]
    tests = (
        grubbs(means.tolist(), tuple(held)),
        cochran(
            [laboratory.standard_deviation or 0.0 for laboratory in repeated],
            [laboratory.results.size - 1.0 for laboratory in repeated],
            [laboratory.name for laboratory in repeated],
        ),
    )
    return PrecisionStudy(
        name=name,
        unit=unit,
        laboratories=found,
        mean=mean,
        within=within,
        between=between,
        results_each=(total - float((numbers**2).sum()) / total) / (count - 1),
        outlying=tuple(seen for seen in tests if seen is not None),
    )


def _laboratories(held: Mapping[str, FloatArray], variance: float) -> tuple[Laboratory, ...]:
    """Return every laboratory with its h and k; where nothing scatters both are zero."""
    means = np.array([results.mean() for results in held.values()])
    spread, middle, count = float(means.std(ddof=1)), float(means.mean()), len(held)
    first, second = (_h_critical(level, count) for level in LEVELS)
    found = []
    freedom = sum(results.size - 1 for results in held.values())
    for label, results in held.items():
        deviation = float(results.std(ddof=1)) if results.size > 1 else None
        others = freedom - (results.size - 1)
        limits = tuple(_k_critical(level, results.size - 1, others) for level in LEVELS) if deviation is not None and others else None
        found.append(
            Laboratory(
                name=label,
                results=results,
                mean=float(results.mean()),
                standard_deviation=deviation,
                h=(float(results.mean()) - middle) / spread if spread > 0.0 else 0.0,
                k=None if deviation is None else deviation / math.sqrt(variance) if variance > 0.0 else 0.0,
                h_critical=(first, second),
                k_critical=None if limits is None else (limits[0], limits[1]),
            )
        )
    return tuple(found)


def _h_critical(level: float, count: int) -> float:
    t = student_quantile(1.0 - 0.5 * level, count - 2)
    return (count - 1) * t / math.sqrt(count * (t * t + count - 2))


def _k_critical(level: float, freedom: int, others: int) -> float:
    """Return the critical ratio of one standard deviation to that of all, itself among them."""
    ratio = fisher_quantile(1.0 - level, freedom, others)
    return math.sqrt(ratio * (freedom + others) / (freedom * ratio + others))
