"""Fitted: the numbers of a fit, on which its intervals, bands, figures and comparisons rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.fitting.covariance import Spread
from rheokit.fitting.request import Request
from rheokit.fitting.weighting import Weighting
from rheokit.law import Law
from rheokit.statistics.student import student_quantile

__all__ = ["Fitted"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Fitted(Carried):
    """A law fitted to points.

    Attributes
    ----------
    request
        What was asked: law, points used, bounds, fixed values and starts.
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

    request: Request
    parameters: Mapping[str, Estimate]
    deviations: FloatArray
    spread: Spread
    weighting: Weighting
    findings: tuple[Finding, ...]
    converged: bool

    def __post_init__(self) -> None:
        object.__setattr__(self, "parameters", MappingProxyType(dict(self.parameters)))
        deviations = np.array(self.deviations, dtype=np.float64)
        deviations.setflags(write=False)
        object.__setattr__(self, "deviations", deviations)

    @property
    def law(self) -> Law:
        """What was fitted."""
        return self.request.law

    @property
    def x(self) -> FloatArray:
        """Where the points used lie, (N, …)."""
        return self.request.x

    @property
    def y(self) -> FloatArray:
        """The points used, (N,)."""
        return self.request.y

    @property
    def values(self) -> FloatArray:
        """Best-fit parameters in the order of the law, (p,)."""
        return np.array([estimate.value for estimate in self.parameters.values()])

    @property
    def covariance(self) -> FloatArray:
        """Covariance of the parameters, (p, p): 0 for what was fixed, NaN for what the data do not determine.

        Its scale is that of the residuals, or 1 where the standard deviations were given as known.
        """
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
        return self.y.size - int(self.request.free.sum())

    def value(self, x: ArrayLike) -> FloatArray:
        """Return the fitted values at x, (N,)."""
        return np.asarray(self.law.value(np.asarray(x, dtype=np.float64), *self.values), dtype=np.float64)

    def quantile(self, level: float) -> float:
        """Return how many standard errors an interval of this level reaches to either side: Student's t, normal with a known scale.

        Raises
        ------
        FitError
            When the level does not lie between 0 and 1.
        """
        if not 0.0 < level < 1.0:
            raise FitError(f"level: {level!r} does not lie between 0 and 1")
        freedom = np.inf if self.weighting.scale == "known" else float(self.degrees_of_freedom)
        return student_quantile(0.5 + 0.5 * level, freedom)

    @property
    def no_scatter(self) -> str:
        """Why there is nothing to judge an uncertainty by, or nothing where there is."""
        if self.converged and self.spread.scale > 0.0 and self.request.free.any():
            return ""
        reasons = {**self.spread.undetermined, **self.spread.no_error}
        return next(iter(reasons.values()), "every parameter is fixed")
