"""Scatter of points about lines or parabolas through their neighbours: noise without a model."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray

__all__ = ["scatter_about_neighbours", "scatter_about_parabolas"]

FEWEST = 8
"""Points from which third differences serve: five of them. Below, their degrees of freedom fall to two and less."""


def scatter_about_neighbours(x: FloatArray, y: FloatArray) -> tuple[float, float] | None:
    """Return the standard deviation of single points of a smooth curve, and its degrees of freedom.

    Each inner point is held against the straight line through its two neighbours; the residual's variance is that of a point times
    1 + w² + (1 - w)², w being the place of the point between them. Curvature counts as scatter, so the answer errs on the large side.

    Parameters
    ----------
    x, y
        Shape (N,), sorted by x, finite. Points at equal x are passed over.

    Returns
    -------
    tuple of float, or None
        None for fewer than five points. The degrees of freedom are those of overlapping second differences of white noise:
        m / (1 + 2 (4/9 + 1/36)) for m of them, their autocorrelations being -2/3 and 1/6.
    """
    left, middle, right = x[:-2], x[1:-1], x[2:]
    usable = (left < middle) & (middle < right)
    if x.size < 5 or usable.sum() < 3:
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        place = (middle - left) / (right - left)
    expected = (1.0 - place) * y[:-2] + place * y[2:]
    squares = (y[1:-1] - expected) ** 2 / (1.0 + place**2 + (1.0 - place) ** 2)
    return float(np.sqrt(squares[usable].mean())), float(usable.sum() / (1.0 + 2.0 * (4.0 / 9.0 + 1.0 / 36.0)))


def scatter_about_parabolas(x: FloatArray, y: FloatArray) -> tuple[float, float] | None:
    """Return the standard deviation of single points of a bent curve, and its degrees of freedom.

    Of each four successive points the part is taken that no parabola follows: their third divided difference, its weights scaled to unit
    length. What a bend adds is then far below the noise where a line would take it for noise: on a flow curve of five points a decade in
    logarithmic axes with 0.7 % noise, 40 % too much for lines and nothing for parabolas (docs/reported_coverage.md).

    Parameters
    ----------
    x, y
        Shape (N,), sorted by x, finite. Points at equal x are passed over.

    Returns
    -------
    tuple of float, or None
        As `scatter_about_neighbours`, which answers for fewer than eight points. The degrees of freedom are those of overlapping third
        differences of white noise: m / (1 + 2 (9/16 + 9/100 + 1/400)) for m of them, their autocorrelations being -3/4, 3/10 and -1/20.
    """
    places = np.stack([x[start : x.size - 3 + start] for start in range(4)]) if x.size >= FEWEST else np.zeros((4, 0))
    usable = (np.diff(places, axis=0) > 0.0).all(axis=0)
    if usable.sum() < FEWEST - 3:
        return scatter_about_neighbours(x, y)
    values = np.stack([y[start : y.size - 3 + start] for start in range(4)])[:, usable]
    apart = places[:, None, usable] - places[None, :, usable]
    apart[np.arange(4), np.arange(4)] = 1.0
    weights = 1.0 / apart.prod(axis=1)
    left = (weights * values).sum(axis=0) / np.linalg.norm(weights, axis=0)
    return float(np.sqrt((left**2).mean())), float(usable.sum() / (1.0 + 2.0 * (9.0 / 16.0 + 9.0 / 100.0 + 1.0 / 400.0)))
