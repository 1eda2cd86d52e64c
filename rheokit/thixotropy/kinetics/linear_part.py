"""The five parameters in which the stress is linear, in closed form inside their bounds."""

from __future__ import annotations

from itertools import product

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.linear import box_least_squares

__all__ = ["best_coefficients", "lowest_squares", "unbounded"]

# Added to unit diagonals: keeps columns that repeat each other solvable, far below what the data see.
_RIDGE = 1e-13
# A coefficient this far outside its bound, relative to the largest, is rounding.
_ROUNDING = 1e-9
# Size of the inverse of the products from which they lose more digits than a second turn wins back.
_MOST = 1e7


def best_coefficients(columns: FloatArray, target: FloatArray, lower: FloatArray, upper: FloatArray) -> FloatArray:
    """Return the coefficients (q,) within their bounds that minimise |target - columns @ coefficients|².

    Which of them lie at a bound is found from products of the columns, all ways at once; the digits then come from the columns.
    """
    found: FloatArray = unbounded(columns, target)
    if bool(((found >= lower) & (found <= upper)).all()):
        return found
    coefficients: FloatArray = _lowest(columns[None], target[None], lower, upper)[0][0]
    inner = (coefficients > lower) & (coefficients < upper)
    if inner.any():
        rest = target - columns[:, ~inner] @ coefficients[~inner]
        coefficients[inner] = np.clip(unbounded(columns[:, inner], rest), lower[inner], upper[inner])
    return coefficients


def unbounded(columns: FloatArray, targets: FloatArray) -> FloatArray:
    """Return the coefficients (q,) or (q, k) that minimise |targets - columns @ coefficients|², targets (N,) or (N, k).

    By products of scaled columns, and once more on what is left over, which wins back the digits that products lose; where columns
    are too much alike for that, by orthogonal decomposition.
    """
    sizes = np.sqrt(np.einsum("nq,nq->q", columns, columns))
    scaled = columns / np.where(sizes > 0.0, sizes, 1.0)
    products = scaled.T @ scaled
    if not np.isfinite(products).all():
        return np.full((columns.shape[1], *targets.shape[1:]), np.nan)
    # A repeated column makes the products singular; the ridge lets that be seen in the size of the inverse.
    inverse = np.linalg.inv(products + _RIDGE * np.eye(len(products)))
    if np.abs(inverse).max() > _MOST:
        flat = targets.reshape(len(targets), -1)
        free = np.full(columns.shape[1], np.inf)
        repeated = np.broadcast_to(columns, (flat.shape[1], *columns.shape))
        return np.asarray(box_least_squares(repeated, flat.T, -free, free)[0].T.reshape(columns.shape[1], *targets.shape[1:]))
    found = np.asarray(inverse @ (scaled.T @ targets))
    found += inverse @ (scaled.T @ (targets - scaled @ found))
    return np.asarray(found.T / sizes).T


def lowest_squares(columns: FloatArray, target: FloatArray, lower: FloatArray, upper: FloatArray) -> FloatArray:
    """Return the least sums of squares (G,) of many problems, columns (G, N, q), to the digits that a search needs."""
    return _lowest(columns, target, lower, upper)[1]


def _lowest(columns: FloatArray, target: FloatArray, lower: FloatArray, upper: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return coefficients (G, q) and sums of squares (G,): the best feasible of all ways to put coefficients at a bound."""
    sizes = np.sqrt(np.einsum("gnq,gnq->gq", columns, columns))
    sizes = np.where(sizes > 0.0, sizes, 1.0)
    scaled = columns / sizes[:, None, :]
    products = np.einsum("gnp,gnq->gpq", scaled, scaled) + _RIDGE * np.eye(columns.shape[2])
    moments = np.einsum("gnq,gn->gq", scaled, target)
    ends = [[np.nan, *(bound for bound in (low, high) if np.isfinite(bound))] for low, high in zip(lower, upper, strict=True)]
    choices = np.array(list(product(*ends)))
    fixed = np.isfinite(choices)
    values = np.where(fixed, choices, 0.0)[None] * sizes[:, None, :]
    keep = ~fixed
    matrix = np.where(keep[:, :, None] & keep[:, None, :], products[:, None], 0.0) + fixed[:, :, None] * np.eye(columns.shape[2])
    right = np.where(fixed, values, moments[:, None] - np.einsum("gpq,gcq->gcp", products, values))
    solved = np.linalg.solve(matrix, right[..., None])[..., 0]
    slack = _ROUNDING * np.abs(solved).max(axis=2, keepdims=True)
    feasible = ((solved >= lower * sizes[:, None, :] - slack) & (solved <= upper * sizes[:, None, :] + slack) | fixed).all(axis=2)
    cost = np.einsum("gn,gn->g", target, target)[:, None] - 2.0 * np.einsum("gcq,gq->gc", solved, moments)
    cost = np.where(feasible, cost + np.einsum("gcp,gpq,gcq->gc", solved, products, solved), np.inf)
    best = np.argmin(cost, axis=1)
    rows = np.arange(len(best))
    return np.clip(solved[rows, best] / sizes, lower, upper), np.maximum(cost[rows, best], 0.0)
