"""Chunks of curves from their arrays to their answers: what a worker process runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_answer import answer_of, answer_one_by_one, no_answer, replaced
from rheokit.fitting.many_batch import Batch
from rheokit.fitting.many_general import kernel_of
from rheokit.fitting.many_plan import Answer, Plan, joined
from rheokit.fitting.many_points import points_of
from rheokit.fitting.many_view import IndexArray

__all__ = ["solve_chunk"]

# Numbers in one array of a piece; a piece is worked on in parts (`many_view`). Not a power of two curves: rows would share cache lines.
_PIECE = 300_000
# Numbers, more than a piece ever holds at once in one array.
_ROOM = 3_000_000
# Part of a piece that is not worth going on for: these curves are gathered from all pieces and go on together.
_DAWDLING = 0.02


def solve_chunk(plan: Plan, rates: FloatArray, stresses: FloatArray, deviations: FloatArray | None, first: int = 0) -> Answer:
    """Return the answer for some curves, worked out in pieces that fit the cache of a core.

    The pieces, and with them every digit, depend on the chunk alone and not on where it is solved. For resampled curves give the rates
    and deviations once, (M,), and the fit they come from as the plan's `start`: searches begin there where that saves time.

    Parameters
    ----------
    plan
        What is asked.
    rates
        (M,) for all curves, or (B, M).
    stresses
        (B, M); NaN where a point is missing.
    deviations
        (M,) for all curves, or (B, M); None for equal ones, or ones that follow the fit.
    first
        Number of the first curve, for messages.
    """
    # Freed at once. From its size the allocator of the C library learns that arrays of this size come and go: it keeps their memory, where
    # handing it back and fetching it afresh for every array would cost more than the arithmetic.
    np.empty(_ROOM)
    pieces = _Pieces(plan, rates, stresses, deviations, first)
    # A trial may overflow; it is refused for being not finite, so numpy need not speak up as well.
    with np.errstate(all="ignore"):
        answer = pieces.answer(np.arange(len(stresses)), None)
        left = np.flatnonzero(~answer.converged & (answer.used >= plan.needed))
        if left.size and kernel_of(plan) is not None:
            answer = replaced(answer, left, pieces.answer(left, answer.values[left]))
        return answer_one_by_one(plan, answer, rates, stresses, deviations)


@dataclass(frozen=True, eq=False)
class _Pieces:
    """The curves of a chunk, of which some are solved together."""

    plan: Plan
    rates: FloatArray
    stresses: FloatArray
    deviations: FloatArray | None
    first: int

    def answer(self, chosen: IndexArray, start: FloatArray | None) -> Answer:
        """Return the answer for chosen curves, piece by piece; without a start, the few that dawdle are left on their way."""
        size = max(_PIECE // max(self.stresses.shape[1], 1), 1)
        answers = []
        for begin in range(0, chosen.size, size):
            part = chosen[begin : begin + size]
            # Curves in a row are looked at, others copied.
            where = slice(int(part[0]), int(part[-1]) + 1) if start is None else part
            answers.append(self._piece(where, None if start is None else start[begin : begin + size], several=chosen.size > size))
        return joined(answers)

    def _piece(self, where: slice | IndexArray, start: FloatArray | None, *, several: bool) -> Answer:
        plan = self.plan
        points = points_of(
            self.rates if self.rates.ndim == 1 else self.rates[where],
            self.stresses[where],
            self.deviations if self.deviations is None or self.deviations.ndim == 1 else self.deviations[where],
            first=self.first + (where.start if isinstance(where, slice) else 0),
            follows=plan.follows,
        )
        kernel = kernel_of(plan)
        if kernel is None or len(points.y) < plan.needed:
            return no_answer(plan, points)
        batch = Batch(plan, points, kernel)
        if start is None:
            done = batch.solve(few=int(_DAWDLING * points.count.size) if several else 0)
        else:
            scale = np.where(np.array(kernel.scaled)[:, None], points.y_scale, 1.0)
            done = batch.solve(start.T / scale)
        return answer_of(plan, batch, done)
