"""Linear least squares inside a box, for many problems of one to three columns at once."""

from __future__ import annotations

from itertools import product

import numpy as np

from rheokit.base.curve import FloatArray

__all__ = ["MOST_COLUMNS", "box_least_squares"]

MOST_COLUMNS = 3
"""Every way in which so many columns can lie at a bound is tried; with more there are too many ways."""

# A column that is this small once the others are taken out of it is one of them again, to rounding.
_SAME_COLUMN = 1e-13


def box_least_squares(columns: FloatArray, target: FloatArray, lower: FloatArray, upper: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the coefficients within their bounds that minimise |target - columns @ coefficients|², and what is left over.

    The unbounded answer serves where it lies inside the box. Elsewhere every way of putting coefficients at a bound is solved in
    closed form and the best feasible one is kept: the problem is convex, so that is the optimum.

    Parameters
    ----------
    columns
        Shape (G, N, q), q at most 3.
    target
        Shape (G, N).
    lower, upper
        Shape (q,); infinite where there is no bound.

    Returns
    -------
    coefficients, residual
        Shapes (G, q) and (G, N); a column that repeats the ones before it gets the coefficient 0, or its bound nearest to 0.
    """
    coefficients, residual = _least_squares(columns, target)
    outside = ((coefficients < lower) | (coefficients > upper)).any(axis=1)
    if outside.any():
        coefficients[outside], residual[outside] = _at_bounds(columns[outside], target[outside], lower, upper)
    return coefficients, residual


def _at_bounds(columns: FloatArray, target: FloatArray, lower: FloatArray, upper: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Solve the problems whose unbounded answer lies outside the box."""
    count = columns.shape[2]
    nearest = np.clip(0.0, lower, upper)
    best = np.broadcast_to(nearest, columns.shape[::2]).copy()
    left = target - columns @ nearest
    cost = np.einsum("gn,gn->g", left, left)
    choices = [[None, *(bound for bound in (lower[k], upper[k]) if np.isfinite(bound))] for k in range(count)]
    for choice in product(*choices):
        free = [k for k in range(count) if choice[k] is None]
        if len(free) == count:
            continue
        trial = np.array([0.0 if bound is None else bound for bound in choice]) + np.zeros_like(best)
        found, residual = _least_squares(columns[:, :, free], target - np.einsum("gnk,gk->gn", columns, trial))
        trial[:, free] = found
        size = np.einsum("gn,gn->g", residual, residual)
        better = (size < cost) & ((trial >= lower) & (trial <= upper)).all(axis=1)
        best[better], left[better], cost[better] = trial[better], residual[better], size[better]
    return best, left


def _least_squares(columns: FloatArray, target: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Solve without bounds by modified Gram-Schmidt, whose residual is explicit: moments would cancel on near-perfect data."""
    count = columns.shape[2]
    residual = target.copy()
    triangle = np.zeros((count, count, columns.shape[0]))
    heights = np.zeros((count, columns.shape[0]))
    directions: list[FloatArray] = []
    for k in range(count):
        column = columns[:, :, k]
        whole = np.sqrt(np.einsum("gn,gn->g", column, column))
        for j, direction in enumerate(directions):
            triangle[j, k] = np.einsum("gn,gn->g", direction, column)
            column = column - triangle[j, k, :, None] * direction
        length = np.sqrt(np.einsum("gn,gn->g", column, column))
        alive = length > _SAME_COLUMN * whole
        triangle[k, k] = np.where(alive, length, 1.0)
        direction = column * np.where(alive, 1.0 / triangle[k, k], 0.0)[:, None]
        directions.append(direction)
        heights[k] = np.einsum("gn,gn->g", direction, residual)
        residual -= heights[k, :, None] * direction
    coefficients = np.zeros((columns.shape[0], count))
    for k in reversed(range(count)):
        above = sum((triangle[k, j] * coefficients[:, j] for j in range(k + 1, count)), np.zeros(columns.shape[0]))
        coefficients[:, k] = (heights[k] - above) / triangle[k, k]
    return coefficients, residual
