"""Fit and FlowFit: what a fit found, with its uncertainty, its table and its figure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.estimate import Interval
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number, value_and_error
from rheokit.fitting.bands import Band, curve_band, point_band
from rheokit.fitting.bootstrap import Bootstrap, Kind, bootstrap
from rheokit.fitting.drawing import Drawing, Residuals
from rheokit.fitting.ends import parameter_interval
from rheokit.fitting.fitted import Fitted
from rheokit.fitting.profile import profile_interval

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Band", "Fit", "FlowFit"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit(Fitted):
    """A law fitted to points: see `Fitted` for its fields."""

    def band(self, x: ArrayLike, level: float = 0.95) -> Band:
        """Return the confidence band of the curve, point by point, by the delta method with Student's t.

        It is for the curve, not for single new points, and holds parameters that ended at a bound where they are. How far it goes
        beyond the data is one of its findings.

        Parameters
        ----------
        x
            Shape (N, …).
        level
            Probability with which the band covers the true curve at one x.

        Raises
        ------
        FitError
            When the fit has no standard errors; the message says why.
        """
        return curve_band(self, x, level)

    def prediction_band(self, x: ArrayLike, level: float = 0.95, *, deviation: ArrayLike | None = None) -> Band:
        """Return the band in which one new point is to be expected, point by point: wider than that of the curve by a point's scatter.

        Parameters
        ----------
        x, level
            As in `band`.
        deviation
            Standard deviation of a new point, in the unit of y, one number or (N,); needed where those of the points were given, else
            that of the weighting with the scale of the residuals.

        Raises
        ------
        FitError
            As `band`, and when the deviation of a new point cannot be known.
        """
        return point_band(self, x, level, deviation)

    def interval(self, name: str, level: float = 0.95) -> Interval:
        """Return the interval of one parameter by its standard error: Student's t, in the logarithm for what multiplies the curve.

        It ends at a bound, and it is wider where another parameter ended at its own bound. `profile` follows the bend of the law all the
        way, by fitting again.

        Parameters
        ----------
        name
            Of a determined parameter.
        level
            Probability with which such intervals cover the true value; counted in docs/fit_coverage.md.

        Raises
        ------
        FitError
            When the parameter has no standard error; the message says why.
        """
        return parameter_interval(self, name, level)

    def profile(self, name: str, level: float = 0.95) -> Interval:
        """Return the profile likelihood interval of one parameter, which need not be symmetric.

        Everything else is fitted again with the parameter held, and the interval ends where that fit is worse by Student's t squared
        times the scale. At a bound it is one-sided; where the data leave an end open it is infinite, and `reason` says so.

        Parameters
        ----------
        name
            Of a free parameter.
        level
            Probability with which such intervals cover the true value.

        Raises
        ------
        FitError
            When the parameter is fixed, there is no scatter to judge by, or a better fit turns up on the way.
        """
        return profile_interval(self, name, level)

    def bootstrap(self, repeats: int = 1000, *, kind: Kind = "residual", seed: int = 0) -> Bootstrap:
        """Fit resampled points again and return the parameters of all, with their intervals and bands.

        Parameters
        ----------
        repeats
            How many curves, at least 100.
        kind
            `"residual"` deals the scatter anew to the same x, in proportion to the deviations; `"case"` draws whole points anew and so
            trusts neither the law nor the weights, at the price of more points being needed.
        seed
            Of numpy's generator; the same seed gives the same draws.

        Raises
        ------
        FitError
            When there is no scatter to deal anew, or too few repeats.
        """
        return bootstrap(self, repeats, kind, seed)

    def plot(self, ax: Axes | None = None, *, label: str = "") -> Axes:
        """Draw points, curve and 95 % band on the axes given, else on a new figure, and return the axes.

        A label stands at the end of the curve and tells it from others on the same axes; law and parameters are then left out.
        """
        return self._drawing(self._grid(), label).on(ax)

    def plot_residuals(self, ax: Axes | None = None) -> Axes:
        """Draw the residuals over x, as the weighting sees them, with twice the scatter of a point as a tint; return the axes."""
        self._grid()
        label, residuals, deviations = self._weighted()
        scale = self.spread.scale
        tint = deviations * scale if np.isfinite(scale) and scale > 0.0 else None
        labels = self._labels[0], label
        return Residuals(x=self.x, residuals=residuals, deviations=tint, labels=labels, logarithmic=self._logarithmic).on(ax)

    def _weighted(self) -> tuple[str, FloatArray, FloatArray]:
        """Return the residuals as the weighting sees them, with their label and the deviations in the same unit, (N,)."""
        if self.weighting.kind == "relative" and self.weighting.floor == 0.0:
            return "measured / fitted − 1 [%]", 100.0 * self.residuals / self.deviations, np.full(self.y.size, 100.0)
        if self.weighting.kind == "given":
            return "residual over its deviation", self.residuals / self.deviations, np.ones(self.y.size)
        unit = f" [{self.weighting.unit}]" if self.weighting.unit else ""
        return f"measured − fitted{unit}", self.residuals, self.deviations

    @property
    def _labels(self) -> tuple[str, str]:
        return "x", "y" + (f" [{self.weighting.unit}]" if self.weighting.unit else "")

    @property
    def _logarithmic(self) -> bool:
        return False

    def _grid(self) -> FloatArray:
        """Return where the curve is drawn, (M,)."""
        if self.x.ndim != 1:
            raise FitError(f"{self.law.name} has more than one variable, so there is no one curve to draw")
        return np.linspace(self.x.min(), self.x.max(), 200)

    def _drawing(self, x: FloatArray, label: str) -> Drawing:
        return Drawing(
            points=(self.x, self.y),
            curve=(x, self.value(x)),
            band=None if self.no_scatter else (self.band(x).lower, self.band(x).upper),
            name=self.law.name.replace("_", " "),
            label=label,
            formula=self.law.formula,
            parameters=tuple(self._said(name) for name in self.law.names),
            labels=self._labels,
            logarithmic=self._logarithmic,
        )

    def _said(self, name: str) -> tuple[str, str]:
        """Return the symbol of a parameter and what a figure says of it."""
        estimate, parameter = self.parameters[name], self.law.parameter(name)
        value, error = value_and_error(estimate.value, estimate.standard_error)
        unit = "" if estimate.unit in {"", "1"} else f" {estimate.unit}".replace("^n", "ⁿ")
        said = f"= {value} ± {error}{unit}" if error else f"= {value}{unit}" + (" (fixed)" if estimate.method == FIXED else "")
        return parameter.symbol or name.replace("_", " "), said if estimate.determined else "not determined"

    def table(self) -> Table:
        """Return the parameters as a table, with how they were found and what was seen."""
        rows = []
        for name, estimate in self.parameters.items():
            value, error = value_and_error(estimate.value, estimate.standard_error)
            if not estimate.determined:
                value, error = f"({value})", "not determined"
            rows.append((name.replace("_", " "), value, error or "none", estimate.unit, estimate.reason))
        scatter = f"; scatter {self._scatter()}" if np.isfinite(self.spread.scale) else ""
        notes = (
            f"{self.y.size} points, {self.degrees_of_freedom} degrees of freedom{scatter}",
            self.weighting.text,
            *(f"{finding.severity}: {finding}" for finding in self.findings),
        )
        columns = ("parameter", "value", "standard error", "unit", "remark")
        title = self.law.name.replace("_", " ")
        return Table(title=title, columns=columns, rows=tuple(rows), notes=notes, right=("value", "standard error"))

    def _scatter(self) -> str:
        if self.weighting.kind == "relative":
            return f"{number(100.0 * self.spread.scale, 2)} % of the fitted value"
        if self.weighting.kind == "absolute":
            return f"{number(self.spread.scale, 2)} {self.weighting.unit}".rstrip()
        return f"{number((self.sum_of_squares / max(self.degrees_of_freedom, 1)) ** 0.5, 2)} times the deviations given"

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


@dataclass(frozen=True, kw_only=True, eq=False)
class FlowFit(Fit):
    """A flow law fitted to a flow curve: x are shear rates [1/s], y shear stresses [Pa]."""

    def stress(self, shear_rate: ArrayLike) -> FloatArray:
        """Return fitted shear stresses [Pa] at shear rates [1/s], (N,)."""
        return self.value(shear_rate)

    def viscosity(self, shear_rate: ArrayLike) -> FloatArray:
        """Return fitted apparent viscosities [Pa·s] at shear rates [1/s], (N,); NaN at rate zero."""
        rates = np.asarray(shear_rate, dtype=np.float64)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(rates == 0.0, np.nan, self.value(rates) / rates)

    @property
    def _labels(self) -> tuple[str, str]:
        return quantity("shear_rate").label, quantity("shear_stress").label

    @property
    def _logarithmic(self) -> bool:
        return True

    def _grid(self) -> FloatArray:
        return np.geomspace(self.x.min(), self.x.max(), 200)


FIXED = "fixed by the caller"
"""Method of a parameter that was not fitted."""
