"""Slopes in log-log of measured points, as weights on the logarithms, so that the error of every point is carried through them."""

from __future__ import annotations

from typing import Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import GeometryError

__all__ = ["SlopeRule", "logarithms", "slope_weights"]

SlopeRule = Literal["local", "global"]
"""`local`: the slope at each point from its neighbours; `global`: one straight line in log-log through all points."""


def slope_weights(x: FloatArray, rule: SlopeRule) -> FloatArray:
    """Return the weights W, shape (N, N), for which `W @ y` is the slope of y over x at every point.

    The local slope is that of the parabola through a point and its two neighbours, and of the straight line at the two ends; the
    global one is that of the least-squares line.

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
    if rule != "local":
        raise GeometryError(f"a slope is taken by the rule 'local' or 'global', not {rule!r}")
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
