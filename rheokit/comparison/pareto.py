"""Candidates that no other beats in every aim at once, and how sure a rank is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ComparisonError

__all__ = ["pareto_front", "rank_shares"]


def pareto_front(values: FloatArray) -> FloatArray:
    """Return which rows of (N, k), larger being better in every column, no other row beats; (N,) of bool.

    A row is beaten by one that is at least as good in all columns and better in one.
    """
    table = np.asarray(values, dtype=np.float64)
    if table.ndim != 2 or not np.isfinite(table).all():
        raise ComparisonError("a front needs a table of numbers, one row a candidate, none missing")
    at_least = (table[:, None, :] >= table[None, :, :]).all(axis=2)
    better = (table[:, None, :] > table[None, :, :]).any(axis=2)
    beaten = (at_least & better).any(axis=0)
    return np.asarray(~beaten)


def rank_shares(score: Mapping[str, Sequence[float]] | Mapping[str, FloatArray], *, best: str = "largest") -> dict[str, FloatArray]:
    """Return for each candidate in which share of the resamples it takes rank 1, 2, …; (N,) each, adding up to one.

    Parameters
    ----------
    score
        Candidate to its score in every resample, (S,); equal scores share their ranks.
    best
        `largest` or `smallest`.

    Raises
    ------
    ComparisonError
        When the resamples are unequal in number, or `best` is another word.
    """
    if best not in {"largest", "smallest"}:
        raise ComparisonError(f"best is 'largest' or 'smallest', not {best!r}")
    names = list(score)
    drawn = [np.asarray(score[name], dtype=np.float64) for name in names]
    if not names or len({values.size for values in drawn}) != 1:
        raise ComparisonError("every candidate needs as many resamples as the others")
    table = np.column_stack(drawn) * (-1.0 if best == "largest" else 1.0)
    shares = np.zeros((len(names), len(names)))
    for row in table:
        low = np.searchsorted(np.sort(row), row, side="left")
        high = np.searchsorted(np.sort(row), row, side="right")
        for index, (one, other) in enumerate(zip(low, high, strict=True)):
            shares[index, one:other] += 1.0 / (other - one)
    return {name: shares[index] / len(table) for index, name in enumerate(names)}
