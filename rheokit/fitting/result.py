"""Fit and FlowFit: what a fit found, with its uncertainty, its table and its figure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number, value_and_error
from rheokit.fitting.covariance import Spread
from rheokit.fitting.drawing import Drawing
from rheokit.fitting.weighting import Weighting
from rheokit.law import Law
from rheokit.statistics.student import student_quantile

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Band", "Fit", "FlowFit"]

# A point moves along an unseen direction when it does so by more than this part of what it moves along the others.
_NOTICED = 1e-6


class Band(NamedTuple):
    """A confidence band for the curve: its lower and upper edge at each x, both (N,); infinite where the data leave it open."""

    lower: FloatArray
    upper: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit(Carried):
    """A law fitted to points.

    Attributes
    ----------
    law
        What was fitted.
    x, y
        The points used, shapes (N, …) and (N,).
    parameters
        Name to Estimate, in the order of the law.
    deviations
        Standard deviations of the points up to `scale`, (N,).
    spread
        The uncertainty: covariance, scale, and what is not determined.
    weighting
        How the points were weighted.
    findings
        What was seen on the way: rows left out, parameters at a bound, a fit that did not converge.
    converged
        Whether the sum of squares is at a minimum, to rounding, under weights that have settled.
    """

    law: Law
    x: FloatArray
    y: FloatArray
    parameters: Mapping[str, Estimate]
    deviations: FloatArray
    spread: Spread
    weighting: Weighting
    findings: tuple[Finding, ...]
    converged: bool

    def __post_init__(self) -> None:
        object.__setattr__(self, "parameters", MappingProxyType(dict(self.parameters)))
        for name in ("x", "y", "deviations"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, name, values)

    @property
    def values(self) -> FloatArray:
        """Best-fit parameters in the order of the law, (p,)."""
        return np.array([estimate.value for estimate in self.parameters.values()])

    @property
    def covariance(self) -> FloatArray:
        """Covariance of the parameters, (p, p): 0 for what was fixed, NaN for what the data do not determine."""
        return self.spread.covariance

    @property
    def residuals(self) -> FloatArray:
        """Points minus fitted values, in the unit of y, (N,)."""
        return self.y - self.value(self.x)

    @property
    def sum_of_squares(self) -> float:
        """Sum of squares of residuals over deviations: what was minimised."""
        weighted = self.residuals / self.deviations
        return float(weighted @ weighted)

    @property
    def degrees_of_freedom(self) -> int:
        """Points less free parameters."""
        return self.y.size - sum(estimate.method != FIXED for estimate in self.parameters.values())

    def value(self, x: ArrayLike) -> FloatArray:
        """Return the fitted values at x, (N,)."""
        return np.asarray(self.law.value(np.asarray(x, dtype=np.float64), *self.values), dtype=np.float64)

    def band(self, x: ArrayLike, level: float = 0.95) -> Band:
        """Return the confidence band of the curve, point by point, by the delta method with Student's t.

        It is for the curve, not for single new points, and holds parameters that ended at a bound where they are.

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
        if not 0.0 < level < 1.0:
            raise FitError(f"level: {level!r} does not lie between 0 and 1")
        if not (self.converged and self.spread.scale > 0.0):
            reasons = {**self.spread.undetermined, **self.spread.no_error}
            raise FitError(f"{self.law.name} has no band: {next(iter(reasons.values()), 'every parameter is fixed')}")
        at = np.asarray(x, dtype=np.float64)
        jacobian = self.law.jacobian(at, *self.values)
        error = np.sqrt(np.einsum("np,pq,nq->n", jacobian, self.spread.seen, jacobian))
        moved = np.abs(jacobian @ self.spread.unseen).sum(axis=1)
        error = np.where(moved > _NOTICED * np.abs(jacobian * self.values).sum(axis=1), np.inf, error)
        freedom = np.inf if self.weighting.scale == "known" else float(self.degrees_of_freedom)
        half, middle = student_quantile(0.5 + 0.5 * level, freedom) * error, self.value(at)
        return Band(middle - half, middle + half)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw points, curve and 95 % band on the axes given, else on a new figure, and return the axes."""
        if self.x.ndim != 1:
            raise FitError(f"{self.law.name} has more than one variable, so there is no one curve to draw")
        unit = f" [{self.weighting.unit}]" if self.weighting.unit else ""
        return self._drawing(np.linspace(self.x.min(), self.x.max(), 200), ("x", f"y{unit}"), logarithmic=False).on(ax)

    def _drawing(self, x: FloatArray, labels: tuple[str, str], *, logarithmic: bool) -> Drawing:
        return Drawing(
            points=(self.x, self.y),
            curve=(x, self.value(x)),
            band=self.band(x) if self.converged and self.spread.scale > 0.0 else None,
            name=self.law.name.replace("_", " "),
            labels=labels,
            logarithmic=logarithmic,
        )

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

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw points, curve and 95 % band on logarithmic axes, those given or new ones, and return the axes."""
        rates = np.geomspace(self.x.min(), self.x.max(), 200)
        return self._drawing(rates, (quantity("shear_rate").label, quantity("shear_stress").label), logarithmic=True).on(ax)


FIXED = "fixed by the caller"
"""Method of a parameter that was not fitted."""
