"""Bands: where the curve lies, and where one new point would, with what is said about going beyond the data."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.finding import Finding
from rheokit.fitting.fitted import Fitted
from rheokit.fitting.identify import extrapolation

__all__ = ["Band", "curve_band", "gradient_error", "point_band"]

# A point moves along an unseen direction when it does so by more than this part of what it moves along the others.
_NOTICED = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class Band(Carried):
    """A band, point by point; `lower, upper = band` takes its edges.

    Attributes
    ----------
    lower, upper
        The edges at each x, (N,); infinite where the data leave them open.
    level
        Probability with which the band covers at one x.
    findings
        What is to be known before using it: how far it goes beyond the data.
    """

    lower: FloatArray
    upper: FloatArray
    level: float
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        for values in (self.lower, self.upper):
            values.setflags(write=False)

    def __iter__(self) -> Iterator[FloatArray]:
        return iter((self.lower, self.upper))


def curve_band(fitted: Fitted, x: ArrayLike, level: float) -> Band:
    """Return the band for the curve by the delta method with Student's t."""
    at = np.asarray(x, dtype=np.float64)
    return _band(fitted, at, level, _curve_error(fitted, at))


def point_band(fitted: Fitted, x: ArrayLike, level: float, deviation: ArrayLike | None) -> Band:
    """Return the band for one new point: the error of the curve and the scatter of a point, which are independent."""
    at = np.asarray(x, dtype=np.float64)
    if deviation is not None:
        scatter = np.asarray(deviation, dtype=np.float64)
        if not (np.isfinite(scatter) & (scatter > 0.0)).all():
            raise FitError("deviation: a standard deviation is a positive number, in the unit of y")
    elif fitted.weighting.given is not None:
        raise FitError("standard deviations were given for the points alone; say with deviation=... what that of a new point is")
    else:
        scatter = fitted.spread.scale * fitted.weighting.of_fit(fitted.value(at))
    return _band(fitted, at, level, np.hypot(_curve_error(fitted, at), scatter))


def _band(fitted: Fitted, at: FloatArray, level: float, error: FloatArray) -> Band:
    middle, half = fitted.value(at), fitted.quantile(level) * error
    return Band(lower=middle - half, upper=middle + half, level=level, findings=extrapolation(fitted.x, at))


def _curve_error(fitted: Fitted, at: FloatArray) -> FloatArray:
    """Return the standard error of the curve, (N,), infinite where it rests on what the data do not see."""
    return gradient_error(fitted, fitted.law.jacobian(at, *fitted.values))


def gradient_error(fitted: Fitted, gradient: FloatArray) -> FloatArray:
    """Return standard errors (N,) of numbers with these derivatives by the parameters, (N, p), by the delta method.

    Infinite where a number rests on what the data do not see.

    Raises
    ------
    FitError
        When the fit has no standard errors; the message says why.
    """
    if fitted.no_scatter:
        raise FitError(f"{fitted.law.name} has no band: {fitted.no_scatter}")
    error = np.sqrt(np.einsum("np,pq,nq->n", gradient, fitted.spread.seen, gradient))
    moved = np.abs(gradient @ fitted.spread.unseen).sum(axis=1)
    return np.where(moved > _NOTICED * np.abs(gradient * fitted.values).sum(axis=1), np.inf, error)
