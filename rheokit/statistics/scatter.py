"""Scatter of points about the line through their neighbours: noise without a model."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray

__all__ = ["scatter_about_neighbours"]


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
