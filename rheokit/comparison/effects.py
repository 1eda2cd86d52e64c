"""What components and settings do: mixture, factorial and response-surface models by least squares, with what they can and cannot say.

Too few runs, terms that stand for one another and questions outside the region that was tried are refused, not fitted through.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import ComparisonError, FitError, RangeError
from rheokit.base.estimate import Estimate, Interval
from rheokit.base.show import Table, number, value_and_error
from rheokit.comparison.effect_terms import (
    EFFECT_MODELS,
    MIXTURE_TOLERANCE,
    EffectModel,
    Scale,
    check_runs,
    check_terms,
    model_columns,
)
from rheokit.statistics.student import fisher_cdf, student_cdf, student_quantile

__all__ = ["EFFECT_MODELS", "Effects", "LackOfFit", "Scale", "fit_effects"]

_SAME = 1e-8


@dataclass(frozen=True, kw_only=True)
class LackOfFit:
    """Whether the model misses more than repeats scatter: sums of squares, degrees of freedom, and the probability of so much by chance."""

    lack: float
    lack_freedom: int
    pure: float
    pure_freedom: int
    probability: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Effects(Carried):
    """A model of a response over components or settings.

    Attributes
    ----------
    model, scale, response, unit
        What was fitted, on which scale, to what.
    factors
        Names, in the order of the columns of `runs`.
    terms
        Names of the coefficients, as `silica` or `silica × resin`.
    coefficients, standard_errors
        (p,), on the model's scale.
    covariance, inverse
        Of the coefficients, and the same over the square of the scatter: what the runs alone decide; (p, p) each.
    scatter
        Residual standard deviation on the model's scale.
    degrees_of_freedom
        Of the scatter.
    runs
        Factors of every run, (N, k).
    observed, fitted
        On the model's scale, (N,).
    leverage
        (N,); a run with twice the mean leverage or more decides what the model says near it.
    lack_of_fit
        Or None where nothing was repeated, no setting is left over, or repeats do not scatter.
    """

    model: EffectModel
    scale: Scale
    response: str
    unit: str
    factors: tuple[str, ...]
    terms: tuple[str, ...]
    coefficients: FloatArray
    covariance: FloatArray
    inverse: FloatArray
    scatter: float
    degrees_of_freedom: int
    runs: FloatArray
    observed: FloatArray
    fitted: FloatArray
    leverage: FloatArray
    lack_of_fit: LackOfFit | None

    @property
    def standard_errors(self) -> FloatArray:
        """Standard errors of the coefficients, (p,)."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def probabilities(self) -> FloatArray:
        """Two-sided probability of so large a coefficient by chance, (p,)."""
        return np.array(
            [
                2.0 * student_cdf(-abs(float(c / e)), self.degrees_of_freedom)
                for c, e in zip(self.coefficients, self.standard_errors, strict=True)
            ]
        )

    def predict(self, point: Mapping[str, float], *, level: float = 0.95, new_run: bool = True) -> Estimate:
        """Return the response at a point, with the interval of one new run there or of the mean.

        Raises
        ------
        RangeError
            When the point lies outside the region that was tried: beyond the range of a factor, or with more leverage than any run.
        ComparisonError
            When a factor is missing or unknown, or the shares of a mixture do not add up to one.
        """
        x = self._point(point)
        row = model_columns(x[None], self.factors, self.model)[0][0]
        return self._predicted(row, point, level, new_run)

    def mean_and_variance(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the fitted response and the variance of that mean at points (M, k), on the model's scale, (M,) each.

        No range is checked: see `inside`.
        """
        rows, _ = model_columns(np.asarray(points, dtype=np.float64), self.factors, self.model)
        return rows @ self.coefficients, np.einsum("ij,jk,ik->i", rows, self.covariance, rows)

    def inside(self, points: FloatArray) -> NDArray[np.bool_]:
        """Return which points (M, k) lie where was tried, (M,): in the range of every factor, with no more leverage than a run."""
        x = np.asarray(points, dtype=np.float64)
        within = ((x >= self.runs.min(axis=0) - _SAME) & (x <= self.runs.max(axis=0) + _SAME)).all(axis=1)
        rows, _ = model_columns(x, self.factors, self.model)
        reach = np.einsum("ij,jk,ik->i", rows, self.inverse, rows)
        return np.asarray(within & (reach <= self.leverage.max() * (1.0 + _SAME)))

    def _predicted(self, row: FloatArray, point: Mapping[str, float], level: float, new_run: bool) -> Estimate:
        centre = float(row @ self.coefficients)
        variance = float(row @ self.covariance @ row) + (self.scatter**2 if new_run else 0.0)
        reach = student_quantile(0.5 + 0.5 * level, self.degrees_of_freedom) * variance**0.5
        ends = np.array([centre - reach, centre, centre + reach])
        low, value, high = np.exp(ends) if self.scale == "logarithmic" else ends
        error = (value if self.scale == "logarithmic" else 1.0) * variance**0.5
        shown = ", ".join(f"{name} {number(held)}" for name, held in point.items())
        return Estimate(
            name=self.response,
            value=float(value),
            unit=self.unit,
            standard_error=float(error),
            degrees_of_freedom=float(self.degrees_of_freedom),
            components={"fit": float(error)},
            interval=Interval(lower=float(low), upper=float(high), level=level),
            method=f"{self.model.replace('_', ' ')} model on {self.observed.size} runs at {shown}; {'one new run' if new_run else 'mean'}",
        )

    def _point(self, point: Mapping[str, float]) -> FloatArray:
        unknown = [name for name in point if name not in self.factors]
        missing = [name for name in self.factors if name not in point]
        if unknown or missing:
            raise ComparisonError(f"the model takes {', '.join(self.factors)}; {', '.join(unknown + missing)} does not fit")
        x = np.array([float(point[name]) for name in self.factors])
        if self.model.startswith("mixture") and abs(x.sum() - 1.0) > MIXTURE_TOLERANCE:
            raise ComparisonError(f"the shares add up to {x.sum():.6g}, not to 1")
        low, high = self.runs.min(axis=0), self.runs.max(axis=0)
        for name, value, one, other in zip(self.factors, x, low, high, strict=True):
            if not one - _SAME <= value <= other + _SAME:
                raise RangeError(f"{name} {number(value)} lies outside the {number(one)} to {number(other)} that was tried")
        if not self.inside(x[None])[0]:
            raise RangeError("the point lies outside the region that was tried, though inside the range of every factor")
        return x

    def table(self) -> Table:
        """Return the coefficients as a table."""
        rows = []
        for name, value, error, chance in zip(self.terms, self.coefficients, self.standard_errors, self.probabilities, strict=True):
            shown, spread = value_and_error(float(value), float(error))
            rows.append((name, shown, spread, f"{chance:.2g}"))
        notes = [
            f"{self.observed.size} runs, {self.degrees_of_freedom} degrees of freedom; residual scatter {number(self.scatter, 3)}"
            + (" of the logarithm" if self.scale == "logarithmic" else f" {self.unit}")
        ]
        if self.lack_of_fit is None:
            notes.append(self._no_lack_of_fit())
        else:
            verdict = "the model misses more than repeats scatter" if self.lack_of_fit.probability < 0.05 else "no lack of fit is seen"
            notes.append(f"{verdict} (p = {self.lack_of_fit.probability:.2g})")
        heavy = np.flatnonzero(self.leverage >= 2.0 * self.leverage.mean())
        if heavy.size and self.leverage.max() < 1.0 - _SAME:
            notes.append(f"runs with twice the mean leverage: {', '.join(str(index + 1) for index in heavy)}")
        columns = ("term", "coefficient", "standard error", "p")
        title = f"{self.response}: {self.model.replace('_', ' ')}"
        return Table(title=title, columns=columns, rows=tuple(rows), notes=tuple(notes), right=columns[1:])

    def _no_lack_of_fit(self) -> str:
        """Say why it cannot be told whether the model misses more than runs scatter."""
        places = len(np.unique(np.round(self.runs, 9), axis=0))
        if places == len(self.runs):
            return "nothing was repeated: whether the model misses more than runs scatter cannot be told; repeat three to five runs"
        if places <= len(self.terms):
            return f"{places} different settings for {len(self.terms)} terms: whether the model misses more cannot be told; add settings"
        return "repeats do not scatter at all: whether the model misses more than they do cannot be told; are they copies?"

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def fit_effects(
    runs: Mapping[str, ArrayLike],
    observed: ArrayLike,
    *,
    response: str,
    unit: str = "1",
    model: EffectModel = "main_effects",
    scale: Scale = "logarithmic",
) -> Effects:
    """Fit a model of a response over components or settings by least squares.

    Parameters
    ----------
    runs
        Factor name to its values, (N,); shares of 1 for a mixture.
    observed
        The response of each run, (N,), positive on the logarithmic scale.
    response, unit
        What it is.
    model, scale
        As in `EFFECT_MODELS` and `Scale`.

    Raises
    ------
    FitError
        When there are too few runs, terms that cannot be told apart (they are named), or a response that has no logarithm.
    ComparisonError
        When the shares of a mixture do not add up to one.

    References
    ----------
    Scheffé, J. R. Stat. Soc. B 20 (1958) 344 (from memory); lack of fit: NIST/SEMATECH e-Handbook 4.4.4.6 (from memory).
    """
    factors = tuple(runs)
    if model not in EFFECT_MODELS:
        raise FitError(f"{model!r} is no model of effects; they are {', '.join(EFFECT_MODELS)}")
    x = np.column_stack([read_only(runs[name], name) for name in factors])
    y = read_only(observed, response)
    check_runs(x, y, factors, model, scale)
    matrix, terms = model_columns(x, factors, model)
    check_terms(matrix, terms, y.size)
    level = np.log(y) if scale == "logarithmic" else y
    inverse = np.linalg.inv(matrix.T @ matrix)
    coefficients = np.linalg.lstsq(matrix, level, rcond=None)[0]
    residual = level - matrix @ coefficients
    freedom = y.size - len(terms)
    scatter = float(np.sqrt(residual @ residual / freedom))
    return Effects(
        model=model,
        scale=scale,
        response=response,
        unit=unit,
        factors=factors,
        terms=terms,
        coefficients=read_only(coefficients, "coefficients"),
        covariance=np.asarray(inverse * scatter**2, dtype=np.float64),
        inverse=np.asarray(inverse, dtype=np.float64),
        scatter=scatter,
        degrees_of_freedom=freedom,
        runs=x,
        observed=level,
        fitted=level - residual,
        leverage=np.einsum("ij,jk,ik->i", matrix, inverse, matrix),
        lack_of_fit=_lack_of_fit(x, level, residual, len(terms)),
    )


def _lack_of_fit(x: FloatArray, level: FloatArray, residual: FloatArray, terms: int) -> LackOfFit | None:
    """Divide the residual into the scatter of repeats and what the model misses."""
    places, group = np.unique(np.round(x, 9), axis=0, return_inverse=True)
    group = group.reshape(-1)
    means = np.bincount(group, weights=level) / np.bincount(group)
    pure = float(((level - means[group]) ** 2).sum())
    pure_freedom, lack_freedom = level.size - len(places), len(places) - terms
    if pure_freedom == 0 or lack_freedom <= 0 or pure == 0.0:
        return None
    lack = max(float(residual @ residual) - pure, 0.0)
    ratio = (lack / lack_freedom) / (pure / pure_freedom)
    return LackOfFit(
        lack=lack,
        lack_freedom=lack_freedom,
        pure=pure,
        pure_freedom=pure_freedom,
        probability=1.0 - fisher_cdf(ratio, lack_freedom, pure_freedom),
    )
