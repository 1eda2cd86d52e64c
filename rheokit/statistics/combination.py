"""Loads of one batch combined to one number: random effects, with the scatter between loads and inside them kept apart."""

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
from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.show import Table, number, value_and_error
from rheokit.statistics.combination_drawing import LoadsDrawing
from rheokit.statistics.outlying import Outlying, cochran, grubbs
from rheokit.statistics.student import student_quantile

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["CombinedLoads", "combine_loads"]

MOST_STEPS = 1100
"""Newton's steps rise to the answer from below, at worst doubling it each time: from a variance of 1e-300 to one takes 1000 of them."""


@dataclass(frozen=True, eq=False, kw_only=True)
class CombinedLoads(Carried):
    """The loads of one batch as one number.

    Attributes
    ----------
    name, unit
        What was measured; every number below is in this unit.
    load_names, values, standard_errors, weights
        Of the loads, (N,); without standard errors their scatter inside is not known apart, and the weights are equal. Weights add up
        to one.
    value, standard_error, degrees_of_freedom
        Weighted mean, its standard error and the degrees of freedom of that. The error is None where the loads give the same number and
        nothing is known of their scatter inside.
    between
        Standard deviation between loads, beyond that inside them.
    outlying
        What Grubbs' and Cochran's tests saw; loads are flagged and never dropped.
    """

    name: str
    unit: str
    load_names: tuple[str, ...]
    values: FloatArray
    standard_errors: FloatArray | None
    weights: FloatArray
    value: float
    standard_error: float | None
    degrees_of_freedom: float
    between: float
    outlying: tuple[Outlying, ...]

    def __post_init__(self) -> None:
        for held in ("values", "weights", "standard_errors"):
            if getattr(self, held) is not None:
                object.__setattr__(self, held, read_only(getattr(self, held), held))

    @property
    def components(self) -> dict[str, float]:
        """The parts of the standard error: `load`, of the scatter between loads, and `fit`, of that inside them."""
        if self.standard_error is None:
            return {}
        if self.standard_errors is None:
            return {"load": self.standard_error}
        inside = float(np.linalg.norm(self.weights * self.standard_errors))
        beyond = math.sqrt(max(0.0, (self.standard_error - inside) * (self.standard_error + inside)))
        # What rounding leaves of loads that agree is no part.
        return {name: size for name, size in (("load", beyond), ("fit", inside)) if size > 1e-7 * self.standard_error}

    @property
    def findings(self) -> tuple[Finding, ...]:
        """A caution for each load that lies apart."""
        return tuple(finding for seen in self.outlying for finding in seen.finding())

    @property
    def estimate(self) -> Estimate:
        """The number as an Estimate with its budget."""
        known = self.standard_error is not None
        return Estimate(
            name=self.name,
            value=self.value,
            unit=self.unit,
            standard_error=self.standard_error,
            degrees_of_freedom=self.degrees_of_freedom if known else None,
            components=self.components,
            method=self.method,
            reason="" if known else "the loads give the same number, and their scatter inside is not known",
            findings=self.findings,
        )

    @property
    def method(self) -> str:
        """How the number was obtained."""
        count = len(self.load_names)
        if self.standard_errors is None:
            return f"mean of {count} loads; standard error from the scatter between them"
        return f"mean of {count} loads weighted by their scatter between (Mandel-Paule) and inside; Student's t with {count - 1} d.f."

    def interval(self, level: float = 0.95) -> tuple[float, float]:
        """Return the interval of the batch value.

        Raises
        ------
        FitError
            When no standard error is known.
        """
        if self.standard_error is None:
            raise FitError(f"{self.name}: {self.estimate.reason}; there is no interval")
        half = student_quantile(0.5 + 0.5 * level, self.degrees_of_freedom) * self.standard_error
        return self.value - half, self.value + half

    def table(self) -> Table:
        """Return the loads and what they combine to as a table."""
        flags = {seen.index: f"{seen.verdict} ({seen.test})" for seen in self.outlying if seen.verdict}
        rows = []
        for place, name in enumerate(self.load_names):
            error = None if self.standard_errors is None else float(self.standard_errors[place])
            value, shown = value_and_error(float(self.values[place]), error)
            rows.append((name, value, shown or "not known", f"{100.0 * self.weights[place]:.0f} %", flags.get(place, "")))
        value, shown = value_and_error(self.value, self.standard_error)
        rows.append(("combined", value, shown or "not known", "", f"{number(self.degrees_of_freedom, 3)} d.f."))
        unit = "" if self.unit == "1" else f" {self.unit}"
        notes = [f"standard deviation between loads {number(self.between, 2)}{unit}", self.method]
        if self.standard_error is not None:
            low, high = (number(end) for end in self.interval())
            notes.insert(0, f"95 % interval {low} to {high}{unit}")
        columns = ("load", "value", "standard error", "weight", "remark")
        title = f"{self.name.replace('_', ' ')}{f' [{self.unit}]' if unit else ''}, {len(self.load_names)} loads"
        return Table(title=title, columns=columns, rows=tuple(rows), notes=tuple(notes), right=columns[1:4])

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw every load with its interval, and the combined number with its own; return the axes."""
        return LoadsDrawing(
            names=self.load_names,
            values=self.values,
            halves=None if self.standard_errors is None else student_quantile(0.975, math.inf) * self.standard_errors,
            flagged=tuple(any(seen.verdict and seen.index == place for seen in self.outlying) for place in range(self.values.size)),
            value=self.value,
            interval=None if self.standard_error is None else self.interval(),
            label=f"{self.name.replace('_', ' ')}{'' if self.unit == '1' else f' [{self.unit}]'}",
        ).on(ax)


def combine_loads(
    values: ArrayLike,
    standard_errors: ArrayLike | None = None,
    *,
    degrees_of_freedom: ArrayLike | None = None,
    load_names: Sequence[str] = (),
    name: str = "result",
    unit: str = "1",
) -> CombinedLoads:
    """Combine the loads of one batch to one number with an honest interval.

    Each load differs from the batch by a scatter between loads (one for all of them, not known beforehand) and by its own scatter inside
    (its standard error). The scatter between is the one at which the weighted squares of the loads have their expectation
    (Mandel-Paule), zero where the scatter inside explains all; weights are the inverses of the two variances together. The interval is
    Student's with one degree of freedom less than there are loads, also where the loads happen to agree: two loads that agree
    are no proof that loads do not scatter. So the interval covers 95 % where the scatter between loads rules, and more where it does not.

    Of the usual moment estimators this one solves its own equation: the squares over their degrees of freedom are then one, so that the
    correction of Hartung and Knapp changes nothing, and never makes an interval narrower than the errors inside allow. Weights that are
    unequal are themselves found from the loads; the standard error is therefore no smaller than the one from what the loads lie off
    their mean, each with its leverage taken out. For equal weights the two are the same.

    Parameters
    ----------
    values
        What each load gave, (N,), at least two.
    standard_errors
        Of each load from its own points, (N,), positive; None where they are not known.
    degrees_of_freedom
        Of those standard errors, (N,); with them their sizes are held against each other (Cochran).
    load_names
        Of the loads; `load 1` and so on without them.
    name, unit
        What was measured, and in which unit.

    Raises
    ------
    FitError
        For fewer than two loads, or numbers that are none.

    References
    ----------
    Paule & Mandel, J. Res. Natl. Bur. Stand. 87 (1982) 377; DerSimonian & Kacker, Contemp. Clin. Trials 28 (2007) 105 (the iteration);
    Röver, Knapp & Friede, BMC Med. Res. Methodol. 15 (2015) 99 (never below one); MacKinnon & White, J. Econometrics 29 (1985) 305 (the
    leverage). All from memory; the coverage is simulated in the tests and written down in docs/loads_coverage.md.
    """
    results = _numbers(values, "values")
    count = results.size
    if count < 2:
        raise FitError(f"{count} load has no scatter between loads; combine at least two")
    names = tuple(load_names) or tuple(f"load {place}" for place in range(1, count + 1))
    errors = None if standard_errors is None else _numbers(standard_errors, "standard errors")
    if len(names) != count or (errors is not None and errors.size != count):
        raise FitError(f"{count} loads need as many names and standard errors")
    if errors is not None and not (errors > 0.0).all():
        raise FitError("the standard error of a load is positive; leave all of them out where one is not known")
    between, weights = _between(results, errors)
    tests = [grubbs(results.tolist(), names)]
    if errors is not None and degrees_of_freedom is not None:
        freedoms = _numbers(degrees_of_freedom, "degrees of freedom")
        if freedoms.size != count or not (freedoms > 0.0).all():
            raise FitError(f"{count} loads need as many positive degrees of freedom")
        tests.append(cochran(errors.tolist(), freedoms.tolist(), names))
    error = _error(results, between, weights, errors)
    return CombinedLoads(
        name=name,
        unit=unit,
        load_names=names,
        values=results,
        standard_errors=errors,
        weights=weights,
        value=float(weights @ results),
        standard_error=error if error > 0.0 else None,
        degrees_of_freedom=float(count - 1),
        between=between,
        outlying=tuple(seen for seen in tests if seen is not None),
    )


def _numbers(given: ArrayLike, what: str) -> FloatArray:
    found = np.atleast_1d(np.asarray(given, dtype=np.float64))
    if found.ndim != 1 or np.isnan(found).any() or (what != "degrees of freedom" and not np.isfinite(found).all()):
        raise FitError(f"the {what} of loads are one finite number for each")
    return found


def _error(values: FloatArray, between: float, weights: FloatArray, errors: FloatArray | None) -> float:
    """Return the larger of two standard errors: from the two scatters, and from how far the loads lie off their mean."""
    inside = 0.0 if errors is None else float(np.linalg.norm(weights * errors))
    expected = math.hypot(between * float(np.linalg.norm(weights)), inside)
    scale = float(np.ptp(values))
    if not scale > 0.0:
        return expected
    others = np.array([float(np.delete(weights, place).sum()) for place in range(weights.size)])
    away = weights * (values - weights @ values) / scale
    return max(expected, scale * float(np.linalg.norm(away / np.sqrt(np.maximum(others, np.finfo(np.float64).tiny)))))


def _between(values: FloatArray, errors: FloatArray | None) -> tuple[float, FloatArray]:
    """Return the standard deviation between loads and the weights of the loads, which add up to one."""
    count = values.size
    equal = np.full(count, 1.0 / count)
    scale = float(np.ptp(values))
    if errors is None:
        return scale and scale * float(np.std(values / scale, ddof=1)), equal
    scale = max(scale, float(errors.max()))
    y, variances = (values - values.mean()) / scale, (errors / scale) ** 2
    between = 0.0
    for _ in range(MOST_STEPS):
        weights = 1.0 / (variances + between)
        away = y - (weights @ y) / weights.sum()
        squares = weights * away**2
        excess = float(squares.sum()) - (count - 1)
        if excess <= 1e-12 * count:
            break
        most = float(weights.max())  # taken out, so that the square of a large weight stays a number
        between += excess / float(weights / most @ squares) / most
    return scale * math.sqrt(between), weights / weights.sum()
