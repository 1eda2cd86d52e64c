"""Small systems for many curves at once: arrays (B,) of one number a curve, whose rows and columns are written out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from rheokit.base.curve import FloatArray

__all__ = ["Factored", "Rows", "bounded", "dot", "form", "inner", "nonnegative_reduction", "sum_into"]

Rows = Sequence[FloatArray] | FloatArray
"""A vector of a curve: arrays (B,), one for each of its entries."""

Matrix = Sequence[Rows] | FloatArray
"""A matrix of a curve as rows."""

# A pivot that is this small beside its diagonal is rounding: that unknown is left where it is.
_DEAD = 1e-13


def dot(first: FloatArray, second: FloatArray) -> FloatArray:
    """Return the sum over points of the product of two arrays (M, B), shape (B,)."""
    return np.asarray(np.einsum("mb,mb->b", first, second))


def sum_into(room: FloatArray, first: FloatArray, second: FloatArray) -> None:
    """Write the sum over points of the product of two arrays (M, B) into room (B,)."""
    np.einsum("mb,mb->b", first, second, out=room)


def inner(first: Rows, second: Rows) -> FloatArray:
    """Return the sum of the products of two vectors of a curve, (B,)."""
    total = first[0] * second[0]
    for one, other in zip(first[1:], second[1:], strict=True):
        total += one * other
    return total


class Factored:
    """Symmetric positive systems L D Lᵀ, factored once for several right sides; an unknown without a pivot gets 0.

    Parameters
    ----------
    matrix
        k rows of k arrays (B,), of which the lower triangle is read.
    """

    def __init__(self, matrix: Matrix) -> None:
        self.lower: list[list[FloatArray]] = []
        self.inverse: list[FloatArray] = []
        self.whole = True
        for row, entries in enumerate(matrix):
            scaled: list[FloatArray] = []
            lower: list[FloatArray] = []
            pivot = entries[row]
            for column in range(row):
                entry = entries[column]
                for k in range(column):
                    entry = entry - scaled[k] * self.lower[column][k]
                scaled.append(entry)
                lower.append(entry * self.inverse[column])
                pivot = pivot - entry * lower[column]
            self.lower.append(lower)
            alive = pivot > _DEAD * entries[row]
            if alive.all():
                self.inverse.append(1.0 / pivot)
            else:
                self.whole = False
                self.inverse.append(np.divide(1.0, pivot, out=np.zeros(pivot.shape), where=alive))

    def solve(self, right: Rows) -> list[FloatArray]:
        """Return the solution for a right side of k arrays (B,)."""
        solution: list[FloatArray] = []
        for row, entry in enumerate(right):
            value = entry
            for k, factor in enumerate(self.lower[row]):
                value = value - factor * solution[k]
            solution.append(value)
        for row in reversed(range(len(solution))):
            value = solution[row] * self.inverse[row]
            for k in range(row + 1, len(solution)):
                value -= self.lower[k][row] * solution[k]
            solution[row] = value if self.whole else np.where(self.inverse[row] == 0.0, 0.0, value)
        return solution

    def inverse_rows(self) -> list[list[FloatArray]]:
        """Return the lower triangle of the inverse, infinite where an unknown without a pivot takes part."""
        count = len(self.inverse)
        inverse = self.inverse if self.whole else [np.where(entry == 0.0, np.inf, entry) for entry in self.inverse]
        # Rows of the inverse of the lower factor, from its unit diagonal down.
        down: list[list[FloatArray]] = []
        for column in range(count):
            entries: list[FloatArray] = []
            for row in range(column + 1, count):
                entry = -self.lower[row][column]
                for k, other in enumerate(entries, start=column + 1):
                    entry = entry - self.lower[row][k] * other
                entries.append(entry)
            down.append(entries)
        found: list[list[FloatArray]] = []
        for i in range(count):
            rows = []
            for j in range(i + 1):
                total = inverse[i] if j == i else inverse[i] * down[j][i - j - 1]
                for k in range(i + 1, count):
                    total = total + down[i][k - i - 1] * down[j][k - j - 1] * inverse[k]
                rows.append(total)
            found.append(rows)
        return found


def bounded(factored: Factored, gram: Matrix, right: Rows, lower: Rows, upper: Rows) -> list[FloatArray]:
    """Return the coefficients inside a box that minimise βᵀGβ - 2hᵀβ, for up to three columns.

    The unbounded answer serves where it lies inside the box; elsewhere every way of putting coefficients at a bound is tried.

    Parameters
    ----------
    factored, gram
        The q rows of q arrays (B,), factored and as they are.
    right
        q arrays (B,).
    lower, upper
        q arrays (B,) each; equal where a coefficient is held.
    """
    found = factored.solve(right)
    outside = np.zeros(found[0].shape, dtype=bool)
    for value, low, high in zip(found, lower, upper, strict=True):
        outside |= value < low
        outside |= value > high
    where = np.flatnonzero(outside)
    if where.size:
        cut = [[entry[where] for entry in row] for row in gram]
        ends = [(low[where], high[where]) for low, high in zip(lower, upper, strict=True)]
        for value, better in zip(found, _at_bounds(cut, [entry[where] for entry in right], ends), strict=True):
            value[where] = better
    return found


def _at_bounds(gram: Matrix, right: Rows, ends: Sequence[tuple[FloatArray, FloatArray]]) -> list[FloatArray]:
    """Return the best way of putting at least one coefficient at a bound."""
    count, size = len(gram), right[0].size
    best = [np.clip(0.0, low, high) for low, high in ends]
    cost = form(gram, right, best)
    choices = [[None, *(end for end in pair if np.isfinite(end).any())] for pair in ends]
    for choice in product(*choices):
        free = [k for k in range(count) if choice[k] is None]
        if len(free) == count:
            continue
        trial = [np.zeros(size) if end is None else end for end in choice]
        left = [right[k] - inner(gram[k], trial) for k in free]
        for k, value in zip(free, Factored([[gram[k][j] for j in free] for k in free]).solve(left), strict=True):
            trial[k] = value
        now = form(gram, right, trial)
        better = now < cost
        for value, (low, high) in zip(trial, ends, strict=True):
            better &= np.isfinite(value) & (value >= low) & (value <= high)
        cost = np.where(better, now, cost)
        best = [np.where(better, value, old) for value, old in zip(trial, best, strict=True)]
    return best


def form(gram: Matrix, right: Rows, values: Rows) -> FloatArray:
    """Return βᵀGβ - 2hᵀβ."""
    total = values[0] * (inner(gram[0], values) - 2.0 * right[0])
    for row, value, entry in zip(gram[1:], values[1:], right[1:], strict=True):
        total += value * (inner(row, values) - 2.0 * entry)
    return total


def nonnegative_reduction(gram: Matrix, right: Rows) -> FloatArray:
    """Return by how much one or two columns with coefficients of zero or more lower the sum of squares; arrays of any one shape."""
    if len(gram) == 1:
        up = np.maximum(right[0], 0.0)
        return np.asarray(up * up / gram[0][0])
    (one, both), (_, other) = gram
    first, second = right
    share = both / one
    left, height = second - share * first, other - share * both
    up = np.maximum(left, 0.0)
    # The second column alone serves where the first would get a negative coefficient beside it.
    alone = first * height < both * up
    up *= up
    up /= np.maximum(height, _DEAD * other)
    up += first * first / one
    if alone.any():
        np.copyto(up, np.maximum(second, 0.0) ** 2 / other, where=alone)
    return up
