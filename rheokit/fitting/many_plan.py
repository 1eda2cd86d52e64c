"""Plan and Answer: what is asked of every curve, and what comes back for the curves of a chunk; both travel between processes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_view import IndexArray
from rheokit.fitting.request import BoolArray
from rheokit.fitting.weighting import Scale
from rheokit.law import Law

__all__ = ["Answer", "Plan", "joined"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Plan:
    """What is asked of every curve.

    Attributes
    ----------
    lower, upper, fixed, start
        Shape (p,), in the order of the law; NaN where nothing is fixed or no start is given.
    follows
        Whether the deviations follow the fit, down to `floor`.
    scale
        Whether the scale of the deviations is estimated from the residuals.
    """

    law: Law
    lower: FloatArray
    upper: FloatArray
    fixed: FloatArray
    start: FloatArray
    follows: bool
    floor: float
    scale: Scale

    @property
    def free(self) -> BoolArray:
        """Which parameters are free, (p,)."""
        return np.isnan(self.fixed)

    @property
    def needed(self) -> int:
        """Fewest points that a curve must have."""
        return max(int(self.free.sum()), 1)


@dataclass(frozen=True, kw_only=True, eq=False)
class Answer:
    """What was found for the curves of a chunk.

    Attributes
    ----------
    values, errors
        Parameters and standard errors, (B, p); NaN where there is none.
    determined
        Whether the data determine each parameter, (B, p).
    squares
        Sums of squares, (B,).
    converged, single
        Whether each curve arrived, and whether it took the way of a single curve, (B,).
    used
        Number of points used, (B,).
    """

    values: FloatArray
    errors: FloatArray
    determined: BoolArray
    squares: FloatArray
    converged: BoolArray
    single: BoolArray
    used: IndexArray

    @classmethod
    def room(cls, curves: int, parameters: int) -> Answer:
        """Return room for so many curves, to be filled chunk by chunk."""
        return cls(
            values=np.empty((curves, parameters)),
            errors=np.empty((curves, parameters)),
            determined=np.empty((curves, parameters), dtype=bool),
            squares=np.empty(curves),
            converged=np.empty(curves, dtype=bool),
            single=np.empty(curves, dtype=bool),
            used=np.empty(curves, dtype=np.intp),
        )

    def put(self, begin: int, part: Answer) -> int:
        """Write the answer for some curves in a row and return the number of the curve after them."""
        end = begin + len(part.values)
        for field in fields(Answer):
            getattr(self, field.name)[begin:end] = getattr(part, field.name)
        return end


def joined(answers: Sequence[Answer]) -> Answer:
    """Return the answers of several chunks as one."""
    if len(answers) == 1:
        return answers[0]
    return Answer(**{field.name: np.concatenate([getattr(answer, field.name) for answer in answers]) for field in fields(Answer)})
