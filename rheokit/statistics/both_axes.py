"""A straight line through points with errors in both axes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError

__all__ = ["LineOfBoth", "line_of_both"]

MOST_STEPS = 500
SETTLED = 1e-14
"""Relative change of the slope at which it stands."""


@dataclass(frozen=True, kw_only=True)
class LineOfBoth:
    """A line y = intercept + slope x, and what is known of it from the errors stated.

    Attributes
    ----------
    slope, intercept
        Of the line.
    centre
        Where on the x axis intercept and slope are not correlated.
    centre_variance, slope_variance
        Variances of the height of the line there, and of its slope.
    sum_of_squares
        Weighted squares of the distances; their expectation is the number of points less two.
    """

    slope: float
    intercept: float
    centre: float
    centre_variance: float
    slope_variance: float
    sum_of_squares: float

    def variance_at(self, x: float | FloatArray) -> float | FloatArray:
        """Return the variance of the height of the line."""
        return self.centre_variance + (x - self.centre) ** 2 * self.slope_variance


def line_of_both(x: FloatArray, y: FloatArray, x_error: FloatArray, y_error: FloatArray) -> LineOfBoth:
    """Return the most likely line through points with independent normal errors in both axes.

    Parameters
    ----------
    x, y
        Points, (N,), at least three, not all at one x.
    x_error, y_error
        Their standard deviations, (N,), positive.

    Raises
    ------
    FitError
        When the slope does not settle: the points do not rise or fall with each other.

    References
    ----------
    York, Evensen, Lopez Martinez & De Basabe Delgado, Am. J. Phys. 72 (2004) 367 (the equations, without correlation; from memory). For
    equal errors of all points it is the line of Deming.
    """
    # In units of the points' own spread, so that no square is lost.
    x_scale, y_scale = float(np.ptp(x)), float(np.ptp(y))
    if not (x_scale > 0.0 and y_scale > 0.0):
        raise FitError("the points lie on a line along an axis; batches that differ are needed")
    u, v = (x - x.mean()) / x_scale, (y - y.mean()) / y_scale
    u_weight, v_weight = (x_scale / x_error) ** 2, (y_scale / y_error) ** 2
    slope = _deming(u, v, float(u_weight.mean() / v_weight.mean()))
    for _ in range(MOST_STEPS):
        weights, at, before = *_adjusted(u, v, u_weight, v_weight, slope), slope
        middle, height = (float(weights @ held / weights.sum()) for held in (u, v))
        slope = float(weights * at @ (v - height) / (weights * at @ (u - middle)))
        if abs(slope - before) <= SETTLED * abs(slope):
            break
    else:
        raise FitError("no line settles through the points: the two do not rise or fall with each other")
    weights, at = _adjusted(u, v, u_weight, v_weight, slope)
    total = float(weights.sum())
    middle, height = (float(weights @ held) / total for held in (u, v))
    intercept = height - slope * middle
    adjusted = middle + at
    centre = float(weights @ adjusted) / total
    slope_variance = 1.0 / float(weights @ (adjusted - centre) ** 2)
    true_slope = slope * y_scale / x_scale
    return LineOfBoth(
        slope=true_slope,
        intercept=float(y.mean()) + intercept * y_scale - true_slope * float(x.mean()),
        centre=float(x.mean()) + centre * x_scale,
        centre_variance=y_scale**2 / total,
        slope_variance=slope_variance * (y_scale / x_scale) ** 2,
        sum_of_squares=float(weights @ (v - intercept - slope * u) ** 2),
    )


def _deming(u: FloatArray, v: FloatArray, ratio: float) -> float:
    """Return the slope for one ratio of the variance of v to that of u; u and v are centred."""
    uu, vv, uv = float(u @ u), float(v @ v), float(u @ v)
    if uv == 0.0:
        raise FitError("no line settles through the points: the two do not rise or fall with each other")
    along = vv - ratio * uu
    return (along + math.hypot(along, 2.0 * math.sqrt(ratio) * uv)) / (2.0 * uv)


def _adjusted(u: FloatArray, v: FloatArray, u_weight: FloatArray, v_weight: FloatArray, slope: float) -> tuple[FloatArray, FloatArray]:
    """Return the weight of each point across the line, and its most likely place on the x axis from the weighted mean."""
    weights = u_weight * v_weight / (u_weight + slope**2 * v_weight)
    middle, height = weights @ u / weights.sum(), weights @ v / weights.sum()
    return weights, weights * ((u - middle) / v_weight + slope * (v - height) / u_weight)
