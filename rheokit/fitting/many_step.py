"""Steps of many curves at once in the coordinates searched: what is known where they stand, and where to go from there."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import Factored, form, inner
from rheokit.fitting.many_view import IndexArray, View

__all__ = ["State", "add_curvature", "step_of"]

# How much the second-order part may take away from the first-order one.
_LEAST_CURVATURE = -0.7
_MOST_CURVATURE = 10.0


class State:
    """What is known at the coordinates of each curve, packed as rows of one array so that curves are chosen in one go.

    Rows: coefficients (q), cost, half the gradient (s), half the second derivatives (s, s), moves of the coefficients (q, s).
    """

    def __init__(self, rows: FloatArray, columns: int, count: int) -> None:
        self.rows, self.columns, self.count = rows, columns, count
        q, s = columns, count
        self.values = rows[:q]
        self.cost = rows[q]
        self.gradient = rows[q + 1 : q + 1 + s]
        self.bend = rows[q + 1 + s : q + 1 + s + s * s].reshape(s, s, rows.shape[1])
        self.moves = rows[q + 1 + s + s * s :].reshape(q, s, rows.shape[1])

    def take(self, kept: IndexArray) -> State:
        """Return the curves at some positions."""
        return State(self.rows[:, kept], self.columns, self.count)


def add_curvature(new: State, old: State, step: list[FloatArray]) -> None:
    """Add to the second derivatives what the change of the gradient shows along the last step, s arrays (B,)."""
    along = [inner(row, step) for row in new.bend]
    missing = [after - before - entry for after, before, entry in zip(new.gradient, old.gradient, along, strict=True)]
    size, extra = inner(step, along), inner(step, missing)
    usable = (size > 0.0) & (extra > _LEAST_CURVATURE * size) & (extra < _MOST_CURVATURE * size)
    # Where it adds, the change itself (symmetric, rank one); where it takes away, along the step only, which leaves the sum positive.
    up = np.divide(1.0, extra, out=np.zeros(extra.shape), where=usable & (extra > 0.0))
    down = np.divide(extra, size * size, out=np.zeros(extra.shape), where=usable & (extra < 0.0))
    for j in range(new.count):
        raised, lowered = up * missing[j], down * along[j]
        for k in range(new.count):
            new.bend[j, k] += raised * missing[k]
            new.bend[j, k] += lowered * along[k]


def step_of(view: View, theta: FloatArray, state: State, damping: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the step (s, B) of every coordinate inside its range, and the fall of the sum of squares that it promises."""
    searched = view.searched
    count = len(searched)
    here = [theta[j] for j in searched]
    room = [(view.theta_lower[j] - place, view.theta_upper[j] - place) for j, place in zip(searched, here, strict=True)]
    more = 1.0 + damping
    bend = [[state.bend[j, k] * more if j == k else state.bend[j, k] for k in range(count)] for j in range(count)]
    step = Factored(bend).solve(-state.gradient)
    for _ in range(count):
        out = [(move < low) | (move > high) for move, (low, high) in zip(step, room, strict=True)]
        where = np.flatnonzero(np.logical_or.reduce(out))
        if not where.size:
            break
        _hold(where, bend, state, step, room)
    gain = -form(state.bend, -state.gradient, step)
    whole = np.zeros(theta.shape)
    whole[list(searched)] = step
    return whole, gain


def _hold(
    where: IndexArray,
    bend: list[list[FloatArray]],
    state: State,
    step: list[FloatArray],
    room: list[tuple[FloatArray, FloatArray]],
) -> None:
    """Put coordinates that would leave their range at its end and solve for the others again, for the curves at some positions."""
    count = len(step)
    moves = [move[where] for move in step]
    ends = [(low[where], high[where]) for low, high in room]
    # A coordinate at the end it was put to before counts as held.
    held = [(move <= low) | (move >= high) for move, (low, high) in zip(moves, ends, strict=True)]
    fixed = [np.where(hold, np.clip(move, low, high), 0.0) for hold, move, (low, high) in zip(held, moves, ends, strict=True)]
    matrix, right = [], []
    for j in range(count):
        row = [bend[j][k][where] for k in range(count)]
        left = -state.gradient[j][where] - inner(row, fixed)
        right.append(np.where(held[j], 0.0, left))
        matrix.append([np.where(held[j] | held[k], 1.0 if j == k else 0.0, row[k]) for k in range(count)])
    again = Factored(matrix).solve(right)
    for j in range(count):
        step[j][where] = np.where(held[j], fixed[j], again[j])
