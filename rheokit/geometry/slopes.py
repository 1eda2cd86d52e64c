"""Slopes in log-log of measured points, as weights on the logarithms, so that the error of every point is carried through them."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import GeometryError

__all__ = ["SlopeRule", "logarithms", "slope_at", "slope_weights"]

SlopeRule = Literal["local", "smoothed", "global"]
"""`local`: the slope at each point from its two neighbours; `smoothed`: from the least-squares parabola through all points within a
factor of two of it, or the nearest three; `global`: one straight line in log-log through all points."""

SMOOTHED_OVER = math.log(2.0)
"""Half width, in ln x, of what `smoothed` takes together.

On a ramp of sixty even points with 0.6 % of noise on each, the last two leave 0.5 of the slope at the top uncertain, this 0.02 (0.6 % of
the stress at a rim). What it misses of the bending of a Bingham or Herschel-Bulkley curve is below 0.2 % of that stress: the tests compute
it.
"""
SAME_PLACE = 0.01
"""Span, in ln x, below which points lie at one place: a set rate is met to 1 %."""


def slope_weights(x: FloatArray, rule: SlopeRule) -> FloatArray:
    """Return the weights W, shape (N, N), for which `W @ y` is the slope of y over x at every point.

    The local slope is that of the parabola through a point and its two neighbours, and of the straight line at the two ends; the smoothed
    one is that of the least-squares parabola around the point, the global one that of the least-squares line.

    Raises
    ------
    GeometryError
        For fewer than three points, points at one place, or an unknown rule.
    """
    if x.size < 3:
        raise GeometryError(f"a slope needs at least three points, not {x.size}")
    if rule == "global":
        away = x - x.mean()
        return np.tile(away / (away @ away), (x.size, 1))
    if rule == "smoothed":
        return np.array([_parabola_weights(x, place) for place in x.tolist()])
    if rule != "local":
        raise GeometryError(f"a slope is taken by the rule 'local', 'smoothed' or 'global', not {rule!r}")
    steps = np.diff(x)
    if not (np.all(steps > 0.0) or np.all(steps < 0.0)):
        raise GeometryError("local slopes need points whose rates rise or fall throughout; sort them, or average those at one rate")
    weights = np.zeros((x.size, x.size))
    weights[0, :2] = np.array([-1.0, 1.0]) / steps[0]
    weights[-1, -2:] = np.array([-1.0, 1.0]) / steps[-1]
    before, after = steps[:-1], steps[1:]
    inner = np.arange(1, x.size - 1)
    weights[inner, inner - 1] = -after / (before * (before + after))
    weights[inner, inner] = (after - before) / (before * after)
    weights[inner, inner + 1] = before / (after * (before + after))
    return weights


def slope_at(x: FloatArray, y: FloatArray, place: float) -> float:
    """Return the slope of y over x around a place by the rule `smoothed`.

    Raises
    ------
    GeometryError
        For fewer than three points, or all at one place.
    """
    if x.size < 3:
        raise GeometryError(f"a slope needs at least three points, not {x.size}")
    return float(_parabola_weights(x, place) @ y)


def _parabola_weights(x: FloatArray, place: float) -> FloatArray:
    """Return the weights, shape (N,), of the slope at a place of the least-squares parabola through the points around it."""
    away = x - place
    distance = np.abs(away)
    # The third nearest is always in: a parabola needs it.
    near = distance <= max(SMOOTHED_OVER, float(np.sort(distance)[2])) * (1.0 + 1e-9)
    if not np.ptp(away[near]) > SAME_PLACE:
        raise GeometryError("three points lie at one rate, which has no slope; average points at one rate")
    weights = np.zeros(x.size)
    weights[near] = np.linalg.pinv(np.vander(away[near], 3, increasing=True))[1]
    return weights


def logarithms(what: str, values: FloatArray) -> FloatArray:
    """Return the natural logarithms of measured values.

    Raises
    ------
    GeometryError
        When one of them is not positive.
    """
    if not np.all(values > 0.0):
        place = int(np.argmin(values > 0.0)) + 1
        raise GeometryError(f"the {what} of point {place} is not positive; leave out the points where nothing flows")
    return np.log(values)
