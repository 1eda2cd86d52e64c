"""Choosing among candidates: hard limits first, then the front over chosen aims, desirability with its parts, ranks with their doubt.

There is no score without its parts, and no rank without the share of resamples in which it is taken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Estimate
from rheokit.base.show import Table, number
from rheokit.comparison.desirability import Aim, Desirability, desirability
from rheokit.comparison.feasible import Candidates, HardLimit, Window, feasible_window, require_one_kind
from rheokit.comparison.pareto import pareto_front, rank_shares

__all__ = ["Choice", "choose", "draws_of"]

DRAWS = 4000


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Choice(Carried):
    """What the numbers of the candidates say, and how surely.

    Attributes
    ----------
    window
        Hard limits; every candidate stands in it.
    aims
        Line to Aim.
    values
        Candidate to the numbers of the aims; only candidates inside the window stand here and below.
    front
        Candidates that no other beats in every aim at once.
    front_share
        Candidate to the share of resamples in which it stands on the front.
    parts
        Candidate to its Desirability: parts and whole.
    ranks
        Candidate to the share of resamples in which it takes rank 1, 2, … by the whole, (N,).
    """

    window: Window
    aims: Mapping[str, Aim]
    values: Mapping[str, Mapping[str, Estimate]]
    front: tuple[str, ...]
    front_share: Mapping[str, float]
    parts: Mapping[str, Desirability]
    ranks: Mapping[str, FloatArray]

    def table(self) -> Table:
        """Return the candidates inside the window: every part, all together, front and rank one, each with its share of resamples."""
        rows = []
        for name, held in sorted(self.parts.items(), key=lambda one: -one[1].whole):
            share = self.ranks[name]
            rank = float(share @ np.arange(1, share.size + 1))
            parts = tuple(number(part, 2) for part in held.parts.values())
            on = f"{'yes' if name in self.front else 'no'} ({100.0 * self.front_share[name]:.0f} %)"
            rows.append((name, *parts, number(held.whole, 2), on, f"{100.0 * share[0]:.0f} %", f"{rank:.1f}"))
        columns = ("candidate", *self.aims, "all together", "on the front", "rank 1", "mean rank")
        weighed: tuple[str, ...] = (
            "0 is not met at all and 1 fully met; all together is the geometric mean of the parts",
            "percentages: share of resamples of the errors of the numbers, in which the front and the ranks are formed anew",
        )
        notes = weighed if rows else ("no candidate lies inside the window: nothing is weighed",)
        return Table(title="aims", columns=columns, rows=tuple(rows), notes=notes, right=columns[1:])

    def __str__(self) -> str:
        return f"{self.window.table()}\n\n{self.table()}"

    __repr__ = __str__  # the fields themselves fill pages

    def _repr_html_(self) -> str:
        return self.window.table()._repr_html_() + self.table()._repr_html_()


def choose(
    candidates: Candidates,
    limits: Sequence[HardLimit],
    aims: Mapping[str, Aim],
    *,
    level: float = 0.95,
    draws: int = DRAWS,
    seed: int = 0,
) -> Choice:
    """Hold candidates against hard limits, and weigh those inside by aims.

    Parameters
    ----------
    candidates
        Candidate to line to Estimate.
    limits
        Hard limits; see `HardLimit`.
    aims
        Line to Aim, in the unit of its Estimates.
    level
        Of the interval whose unfavourable end is held against a limit.
    draws, seed
        Resamples of the errors of the numbers.

    Raises
    ------
    ComparisonError
        When a number of an aim is missing, has no error, or is not comparable between candidates (unit, method, flow index).
    """
    if not aims:
        raise ComparisonError("a choice needs at least one aim")
    window = feasible_window(candidates, limits, level=level)
    kept = {name: {line: _number(name, candidates[name], line) for line in aims} for name in window.feasible}
    for line in aims:
        require_one_kind([numbers[line] for numbers in kept.values()])
    parts = {name: desirability({line: one.value for line, one in held.items()}, aims) for name, held in kept.items()}
    rng = np.random.default_rng(seed)
    drawn = {name: {line: draws_of(one, draws, rng) for line, one in held.items()} for name, held in kept.items()}
    degrees = {name: np.column_stack([aims[line].degree(values) for line, values in held.items()]) for name, held in drawn.items()}
    on = _on_the_front(degrees)
    wholes = {name: np.prod(held, axis=1) ** (1.0 / len(aims)) for name, held in degrees.items()}
    here = np.array([list(held.parts.values()) for held in parts.values()])
    return Choice(
        window=window,
        aims=dict(aims),
        values=kept,
        front=tuple(name for name, stays in zip(kept, pareto_front(here), strict=True) if stays) if kept else (),
        front_share=on,
        parts=parts,
        ranks=rank_shares(wholes) if wholes else {},
    )


def _number(candidate: str, numbers: Mapping[str, Estimate], line: str) -> Estimate:
    found = numbers.get(line)
    if found is None or not found.determined or found.standard_error is None:
        why = "was not measured" if found is None else f"has no error or is not determined ({found.reason})"
        raise ComparisonError(f"{candidate}: {line} {why}; every aim needs its number with an error")
    return found


def draws_of(estimate: Estimate, count: int, rng: np.random.Generator) -> FloatArray:
    """Return what the number might as well be, (count,): Student's t about its value with its standard error and degrees of freedom."""
    error, freedom = estimate.standard_error, estimate.degrees_of_freedom
    if error is None or freedom is None:
        raise ComparisonError(f"{estimate.name} has no error ({estimate.reason}); nothing can be drawn")
    spread = rng.standard_normal(count)
    if np.isfinite(freedom):
        spread = spread / np.sqrt(rng.chisquare(freedom, count) / freedom)
    return np.asarray(estimate.value + error * spread, dtype=np.float64)


def _on_the_front(degrees: Mapping[str, FloatArray]) -> dict[str, float]:
    """Return for each candidate the share of resamples, (S, k) each, in which no other beats it."""
    names = list(degrees)
    if not names:
        return {}
    table = np.stack([degrees[name] for name in names], axis=1)
    at_least = np.all(table[:, :, None, :] >= table[:, None, :, :], axis=3)
    better = np.any(table[:, :, None, :] > table[:, None, :, :], axis=3)
    beaten = np.any(np.logical_and(at_least, better), axis=1).astype(np.float64)
    share = 1.0 - beaten.mean(axis=0)
    return dict(zip(names, (float(one) for one in share), strict=True))
