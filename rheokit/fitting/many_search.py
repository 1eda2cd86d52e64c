"""The search of many curves at once: damped Gauss-Newton of the projected problem, each curve with its own damping.

The linear parameters follow in closed form inside their bounds; converged curves leave. Products of columns carry everything, so a step
costs one pass over the points; what such products lose on nearly perfect data, `many_finish` wins back.
Source of the method: as in `projection`; second-order part from the change of the slope, after Dennis, Gay & Welsch (1981) (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import Factored, bounded, form, inner, sum_into
from rheokit.fitting.many_step import State, add_curvature, step_of
from rheokit.fitting.many_view import IndexArray, View
from rheokit.fitting.request import BoolArray
from rheokit.fitting.slope import ROUNDING

__all__ = ["Found", "search"]

_FIRST_DAMPING, _MOST_DAMPING, _LEAST_DAMPING = 1e-2, 1e8, 1e-4
# When so few of the curves at hand are left, they are copied together.
_CROWDED = 0.7


@dataclass(frozen=True, kw_only=True, eq=False)
class Found:
    """Where a search ended: coordinates (s, B), coefficients (q, B) and whether it had settled (B,)."""

    theta: FloatArray
    values: FloatArray
    settled: BoolArray

    def put(
        self,
        view: View,
        active: IndexArray,
        leaving: IndexArray,
        now: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
        settled: BoolArray,
    ) -> None:
        """Write down where the leaving ones of the active curves are: those that have settled one step farther, coefficients and all."""
        if not leaving.size:
            return
        theta, step, values, moves = now
        last = step * settled
        moved = np.empty(values.shape)
        for k, (lower, upper) in enumerate(zip(view.lower, view.upper, strict=True)):
            np.add(values[k], inner(moves[k], last[list(view.searched)]), out=moved[k])
            np.minimum(np.maximum(moved[k], lower, out=moved[k]), upper, out=moved[k])
        if active.size == self.settled.size:
            gone = np.zeros(active.size, dtype=bool)
            gone[leaving] = True
            np.copyto(self.theta, theta + last, where=gone)
            np.copyto(self.values, moved, where=gone)
            np.copyto(self.settled, settled, where=gone)
            return
        to = active[leaving]
        self.theta[:, to], self.values[:, to] = (theta + last)[:, leaving], moved[:, leaving]
        self.settled[to] = settled[leaving]


def search(view: View, theta: FloatArray, *, tolerance: float, limit: int, few: int = 0) -> Found:
    """Return where the valley in which a start (s, B) lies has its floor, nearly.

    Parameters
    ----------
    view
        The curves.
    theta
        Where they start.
    tolerance
        Offset at which a curve makes its last step and leaves.
    limit
        Most evaluations.
    few
        Number of curves that are not worth going on for; they are left where they are, not settled.
    """
    active = np.arange(view.size)
    state = _evaluate(view, theta)
    found = Found(
        theta=theta.copy(),
        values=np.array(state.values),
        settled=np.zeros(view.size, dtype=bool),
    )
    if not view.searched:
        found.settled[:] = True
        return found
    damping = np.zeros(view.size)
    for _ in range(limit):
        step, gain = step_of(view, theta, state, damping)
        settled = (damping == 0.0) & (np.abs(gain) <= tolerance**2 * np.maximum(state.cost, 0.0) + ROUNDING**2 * view.total)
        leaving = settled | (damping > _MOST_DAMPING)
        found.put(
            view,
            active,
            np.flatnonzero(leaving),
            (theta, step, state.values, state.moves),
            settled,
        )
        going = np.flatnonzero(~leaving)
        if going.size <= few:
            break
        target = theta + step
        if going.size < _CROWDED * active.size:
            view, state = view.take(going), state.take(going)
            theta, target, gain, damping, active = (
                theta[:, going],
                target[:, going],
                gain[going],
                damping[going],
                active[going],
            )
        theta, state, damping = _advance(view, (theta, target), state, gain, damping)
    left = np.flatnonzero(~found.settled[active])
    found.put(
        view,
        active,
        left,
        (theta, np.zeros(theta.shape), state.values, state.moves),
        np.zeros(active.size, dtype=bool),
    )
    return found


def _advance(
    view: View,
    path: tuple[FloatArray, FloatArray],
    state: State,
    gain: FloatArray,
    damping: FloatArray,
) -> tuple[FloatArray, State, FloatArray]:
    """Evaluate the targets and return coordinates, state and damping of each curve after accepting or refusing its own."""
    theta, target = path
    new = _evaluate(view, target)
    fall = state.cost - new.cost
    slack = 16.0 * ROUNDING * view.total
    better = fall > -slack
    well = better & (fall > 0.25 * gain - slack)
    add_curvature(new, state, [target[j] - theta[j] for j in view.searched])
    after = np.where(
        well,
        np.where(damping > _LEAST_DAMPING, 0.1 * damping, 0.0),
        np.maximum(10.0 * damping, _FIRST_DAMPING),
    )
    damping = np.where(better & ~well, damping, after)
    if better.all():
        return target, new, damping
    chosen = np.where(better, new.rows, state.rows)
    return (
        np.where(better, target, theta),
        State(chosen, state.columns, state.count),
        damping,
    )


def _evaluate(view: View, theta: FloatArray) -> State:
    """Return what holds at coordinates (s, B), over the coordinates that are searched."""
    sums, crossed = _products(view, theta)
    gram, right = view.gram(sums)
    factored = Factored(gram)
    values = bounded(factored, gram, right, view.lower, view.upper)
    rows = [*values, view.total + form(gram, right, values)]
    if view.searched:
        rows += _derivatives(view, (gram, factored), values, crossed, view.kernel.factors(theta, values))
    return State(np.stack(rows), len(values), len(view.searched))


def _products(view: View, theta: FloatArray) -> tuple[dict[tuple[int, int], FloatArray], list[list[FloatArray]]]:
    """Return the products of columns that depend on the coordinates and, for each slope, those with columns, stresses and slopes."""
    kernel, pairs = view.kernel, view.pairs
    slopes = [index for index, owner in enumerate(kernel.owners) if owner in view.searched]
    count = len(kernel.constant)
    width = count + 1 + len(slopes)
    room = np.empty((len(pairs) + width * len(slopes), view.size))
    for part in view.parts:
        columns, steep = kernel.evaluate(part, theta[:, part.where])
        row = 0
        for i, j in pairs:
            sum_into(room[row, part.where], columns[i], part.target if j < 0 else columns[j])
            row += 1
        for place, index in enumerate(slopes):
            others = [*columns, part.target, *(steep[k] for k in slopes[: place + 1])]
            for other, entry in enumerate(others):
                sum_into(room[row + other, part.where], steep[index], entry)
            row += width
    sums = dict(zip(pairs, room, strict=False))
    return sums, [list(room[len(pairs) + width * place :][:width]) for place in range(len(slopes))]


def _derivatives(
    view: View,
    system: tuple[list[list[FloatArray]], Factored],
    values: list[FloatArray],
    products: list[list[FloatArray]],
    factors: list[FloatArray],
) -> list[FloatArray]:
    """Return rows for half the gradient, half the second derivatives (to first order) and the moves of the coefficients."""
    columns, count = len(values), len(view.searched)
    chosen = [factor for owner, factor in zip(view.kernel.owners, factors, strict=True) if owner in view.searched]
    crossed: list[list[FloatArray]] = [[] for _ in range(count)]
    bend: list[list[FloatArray]] = [[] for _ in range(count)]
    targets = []
    for j, (factor, row) in enumerate(zip(chosen, products, strict=True)):
        crossed[j] = [factor * entry for entry in row[:columns]]
        targets.append(factor * row[columns])
        bend[j] = [row[columns + 1 + k] * (factor * chosen[k]) for k in range(j + 1)]
    gradient = [inner(values, row) - target for row, target in zip(crossed, targets, strict=True)]
    factored, seen = _inside(view, system, values, crossed)
    moves = [factored.solve(row) for row in seen]
    for j in range(count):
        for k in range(j + 1):
            bend[j][k] -= inner(moves[j], seen[k])
            if k < j:
                bend[k].append(bend[j][k])
    by_coefficient = [-moves[j][k] for k in range(columns) for j in range(count)]
    return [*gradient, *(entry for row in bend for entry in row), *by_coefficient]


def _inside(
    view: View,
    system: tuple[list[list[FloatArray]], Factored],
    values: list[FloatArray],
    crossed: list[list[FloatArray]],
) -> tuple[Factored, list[list[FloatArray]]]:
    """Return the systems without the columns whose coefficient lies at a bound, so that they do not move."""
    inside = [(value > low) & (value < high) for value, low, high in zip(values, view.lower, view.upper, strict=True)]
    if all(each.all() for each in inside):
        return system[1], crossed
    gram, count = system[0], len(values)
    cut = [
        [np.where(inside[i], gram[i][i], 1.0) if i == j else np.where(inside[i] & inside[j], gram[i][j], 0.0) for j in range(count)]
        for i in range(count)
    ]
    return Factored(cut), [[np.where(each, entry, 0.0) for each, entry in zip(inside, row, strict=True)] for row in crossed]
