"""A bridging study: the same batches on two instruments, and what the new one reads beside the old one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import FitError
from rheokit.base.estimate import Condition, Estimate, Interval
from rheokit.base.finding import Finding
from rheokit.base.show import Table, number, value_and_error
from rheokit.statistics.both_axes import LineOfBoth, line_of_both
from rheokit.statistics.bridging_drawing import BridgeDrawing, DifferencesDrawing
from rheokit.statistics.outlying import Outlying, grubbs
from rheokit.statistics.student import chi_square_quantile, student_quantile

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["FEWEST_PAIRS", "BridgingStudy", "bridging_study"]

FEWEST_PAIRS = 10
"""Paired batches below which a bias is not told from chance; common practice, no source."""
AGREEMENT = 1.96
"""Standard deviations between which 95 % of normal differences lie."""


@dataclass(frozen=True, eq=False, kw_only=True)
class BridgingStudy(Carried):
    """What a new instrument reads beside an old one.

    Attributes
    ----------
    name, unit, instruments, batches
        What was measured, in which unit, the names of the old and the new instrument and of the batches.
    old, new
        Results, (N,).
    old_errors, new_errors
        Standard deviations of a result, (N,): as stated, or from the scatter about the line where only their ratio was stated.
    line
        New over old, with the variances that these errors give it.
    inflation
        Factor on its standard errors: the scatter about the line over that stated, never below one.
    stated
        Whether the errors were stated, and not only their ratio.
    outlying
        What Grubbs' test of the differences saw; a batch is flagged and never dropped.
    """

    name: str
    unit: str
    instruments: tuple[str, str]
    batches: tuple[str, ...]
    old: FloatArray
    new: FloatArray
    old_errors: FloatArray
    new_errors: FloatArray
    line: LineOfBoth
    inflation: float
    stated: bool
    outlying: Outlying | None

    def __post_init__(self) -> None:
        for held in ("old", "new", "old_errors", "new_errors"):
            object.__setattr__(self, held, read_only(getattr(self, held), held))

    @property
    def degrees_of_freedom(self) -> float:
        """Of the line: two less than there are batches."""
        return float(self.old.size - 2)

    @property
    def constant_bias(self) -> Estimate:
        """Intercept of the line: what the new instrument would read of nothing."""
        return self._estimate("constant_bias", self.line.intercept, self.unit, math.sqrt(float(self.line.variance_at(0.0))))

    @property
    def proportional_bias(self) -> Estimate:
        """Slope of the line less one."""
        error = math.sqrt(self.line.slope_variance)
        found = self._estimate("proportional_bias", self.line.slope - 1.0, "1", error)
        held = found.interval
        assert held is not None
        if held.lower <= -1.0 <= held.upper:
            reason = "the batches span too little: the slope of the line is not told from zero; take batches that differ more"
            return self._estimate("proportional_bias", self.line.slope - 1.0, "1", error, reason)
        return found

    def bias_at(self, value: float) -> Estimate:
        """Return what the new instrument reads more than the old one where the old one reads `value` [`unit`]."""
        bias = self.line.intercept + (self.line.slope - 1.0) * value
        found = self._estimate("bias", bias, self.unit, math.sqrt(float(self.line.variance_at(value))))
        low, high = float(self.old.min()), float(self.old.max())
        if low <= value <= high:
            return found
        reason = f"{number(value)} lies outside the batches, {number(low)} to {number(high)}: an extrapolation"
        return self._estimate("bias", bias, self.unit, math.sqrt(float(self.line.variance_at(value))), reason)

    def _estimate(self, name: str, value: float, unit: str, error: float, undetermined: str = "") -> Estimate:
        half = student_quantile(0.975, self.degrees_of_freedom) * error * self.inflation
        return Estimate(
            name=name,
            value=value,
            unit=unit,
            standard_error=error * self.inflation,
            degrees_of_freedom=self.degrees_of_freedom,
            method=f"line with errors in both axes through {self.old.size} batches",
            conditions={"quantity": Condition(value=self.name), "instruments": Condition(value=" to ".join(self.instruments))},
            interval=Interval(lower=value - half, upper=value + half, level=0.95),
            determined=not undetermined,
            reason=undetermined,
        )

    @property
    def mean_difference(self) -> Estimate:
        """Mean of new less old, by the scatter of the differences alone."""
        differences = self.new - self.old
        error = float(differences.std(ddof=1)) / math.sqrt(differences.size)
        freedom = float(differences.size - 1)
        middle, half = float(differences.mean()), student_quantile(0.975, freedom) * error
        known = error > 0.0
        return Estimate(
            name="mean_difference",
            value=middle,
            unit=self.unit,
            standard_error=error if known else None,
            degrees_of_freedom=freedom if known else None,
            method=f"mean of {differences.size} differences",
            reason="" if known else "every difference is the same: no scatter is seen",
            interval=Interval(lower=middle - half, upper=middle + half, level=0.95) if known else None,
        )

    @property
    def limits_of_agreement(self) -> tuple[float, float]:
        """Between which 95 % of the differences new less old lie; true only where there is no proportional bias."""
        differences = self.new - self.old
        middle, width = float(differences.mean()), AGREEMENT * float(differences.std(ddof=1))
        return middle - width, middle + width

    @property
    def limit_error(self) -> float:
        """Standard error of either limit of agreement (Bland & Altman, Lancet 327 (1986) 307, from memory)."""
        count = self.old.size
        return float((self.new - self.old).std(ddof=1)) * math.sqrt(1.0 / count + AGREEMENT**2 / (2.0 * (count - 1)))

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Cautions: a batch that lies apart, more scatter about the line than was stated."""
        found = list(self.outlying.finding()) if self.outlying else []
        limit = math.sqrt(chi_square_quantile(0.95, self.degrees_of_freedom) / self.degrees_of_freedom)
        if self.stated and self.inflation > limit:
            reason = (
                f"the batches scatter {number(self.inflation, 2)} times as much about the line as the errors stated allow (critical "
                f"{number(limit, 3)}): the two instruments differ from batch to batch, or the errors are larger"
            )
            found.append(Finding(check="scatter_about_line", severity="caution", reason=reason, value=self.inflation, limit=limit))
        return tuple(found)

    def table(self) -> Table:
        """Return the biases as a table; what is seen is said in words."""
        low, middle, high = (float(value) for value in (self.old.min(), np.median(self.old), self.old.max()))
        estimates = [
            (self.constant_bias, "constant bias"),
            (self.proportional_bias, "proportional bias"),
            *((self.bias_at(value), f"bias at {number(value)}") for value in (low, middle, high)),
            (self.mean_difference, "mean difference"),
        ]
        rows = []
        for estimate, name in estimates:
            value, error = value_and_error(estimate.value, estimate.standard_error)
            held = estimate.interval
            interval = f"{number(held.lower, 3)} to {number(held.upper, 3)}" if held else ""
            rows.append((name, value, error or "none", "" if estimate.unit == "1" else estimate.unit, interval, _verdict(estimate)))
        ends = " to ".join(number(end, 3) for end in self.limits_of_agreement)
        half = student_quantile(0.975, self.old.size - 1.0) * self.limit_error
        notes = (
            f"limits of agreement {ends}, either known to ±{number(half, 2)} (95 %); they hold where there is no proportional bias",
            f"line: {self.instruments[1]} = {number(self.line.intercept)} + {number(self.line.slope)} × {self.instruments[0]}",
            *(str(finding) for finding in self.findings),
        )
        columns = ("what", "value", "standard error", "unit", "95 % interval", "verdict")
        title = f"{self.name.replace('_', ' ')}: {self.instruments[1]} beside {self.instruments[0]}, {self.old.size} batches"
        return Table(title=title, columns=columns, rows=tuple(rows), notes=notes, right=columns[1:3])

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw new over old with the line, its 95 % band and the line of equal readings; return the axes."""
        low, high = float(self.old.min()), float(self.old.max())
        grid = np.linspace(low - 0.05 * (high - low), high + 0.05 * (high - low), 61)
        factor = student_quantile(0.975, self.degrees_of_freedom) * self.inflation
        return BridgeDrawing(
            points=(self.old, self.new),
            errors=(self.old_errors, self.new_errors),
            grid=grid,
            heights=self.line.intercept + self.line.slope * grid,
            halves=factor * np.sqrt(np.asarray(self.line.variance_at(grid))),
            instruments=self.instruments,
            label=f"{self.name.replace('_', ' ')}{'' if self.unit == '1' else f' [{self.unit}]'}",
        ).on(ax)

    def plot_differences(self, ax: Axes | None = None) -> Axes:
        """Draw new less old over the mean of both with the mean difference and the limits of agreement; return the axes."""
        held = self.mean_difference.interval
        return DifferencesDrawing(
            means=0.5 * (self.old + self.new),
            differences=self.new - self.old,
            middle=self.mean_difference.value,
            interval=(held.lower, held.upper) if held else None,
            limits=self.limits_of_agreement,
            instruments=self.instruments,
            label=self.name.replace("_", " "),
            unit="" if self.unit == "1" else f" [{self.unit}]",
        ).on(ax)


def _verdict(estimate: Estimate) -> str:
    held = estimate.interval
    if not estimate.determined or held is None:
        return f"not determined: {estimate.reason}"
    return "not told from none" if held.lower <= 0.0 <= held.upper else "seen"


def bridging_study(
    old: ArrayLike,
    new: ArrayLike,
    *,
    old_errors: ArrayLike | None = None,
    new_errors: ArrayLike | None = None,
    variance_ratio: float | None = None,
    batches: Sequence[str] = (),
    instruments: tuple[str, str] = ("old instrument", "new instrument"),
    name: str = "result",
    unit: str = "1",
) -> BridgingStudy:
    """Compare two instruments on the same batches, each with an error of its own.

    Either the standard deviation of a result is stated for both instruments, or the ratio of their variances; the line, its bias and its
    intervals follow from the errors in both axes. With stated errors the intervals are those or wider, where the batches scatter more.

    Parameters
    ----------
    old, new
        Results of the two instruments, (N,), at least ten batches, in the same order.
    old_errors, new_errors
        Standard deviations of a result, one for all or (N,).
    variance_ratio
        Variance of a new result over that of an old one, where only that is known; 1 where both scatter alike.
    batches, instruments
        Their names.
    name, unit
        What was measured, and in which unit.

    Raises
    ------
    FitError
        For fewer than ten pairs, without a statement of the errors, or where no line settles.

    References
    ----------
    `rheokit.statistics.both_axes` for the line; Bland & Altman, Lancet 327 (1986) 307 for the differences (from memory).
    """
    first, second = (np.atleast_1d(np.asarray(held, dtype=np.float64)) for held in (old, new))
    if first.ndim != 1 or first.shape != second.shape or not (np.isfinite(first).all() and np.isfinite(second).all()):
        raise FitError("a bridging study has one finite result of each instrument for every batch")
    if first.size < FEWEST_PAIRS:
        raise FitError(f"{first.size} paired batches are too few for a bridging study; measure at least {FEWEST_PAIRS} on both instruments")
    labels = tuple(batches) or tuple(f"batch {place}" for place in range(1, first.size + 1))
    if len(labels) != first.size:
        raise FitError(f"{first.size} batches need as many names")
    stated = variance_ratio is None
    errors = _errors(old_errors, new_errors, variance_ratio, first.size)
    line = line_of_both(first, second, *errors)
    scatter = math.sqrt(line.sum_of_squares / (first.size - 2))
    if not (stated or scatter > 0.0):
        raise FitError("the batches lie on one line, so that nothing is seen of their scatter; state old_errors and new_errors")
    return BridgingStudy(
        name=name,
        unit=unit,
        instruments=instruments,
        batches=labels,
        old=first,
        new=second,
        old_errors=errors[0] * (1.0 if stated else scatter),
        new_errors=errors[1] * (1.0 if stated else scatter),
        line=line,
        inflation=max(1.0, scatter) if stated else scatter,
        stated=stated,
        outlying=grubbs((second - first).tolist(), [f"difference of {label}" for label in labels]),
    )


def _errors(old: ArrayLike | None, new: ArrayLike | None, ratio: float | None, count: int) -> tuple[FloatArray, FloatArray]:
    if ratio is not None:
        if old is not None or new is not None:
            raise FitError("state either the errors of both instruments or the ratio of their variances, not both")
        if not 0.0 < ratio < math.inf:
            raise FitError(f"the ratio of two variances is positive, not {ratio!r}")
        return np.ones(count), np.full(count, math.sqrt(ratio))
    if old is None or new is None:
        raise FitError(
            "say how both instruments scatter: old_errors and new_errors (standard deviations of a result), or variance_ratio "
            "(1 where both scatter alike)"
        )
    first, second = (np.asarray(held, dtype=np.float64) for held in (old, new))
    for held in (first, second):
        if held.shape not in {(), (count,)} or not (np.isfinite(held).all() and (held > 0.0).all()):
            raise FitError("the error of an instrument is one positive standard deviation, or one for each batch")
    return np.broadcast_to(first, count).copy(), np.broadcast_to(second, count).copy()
