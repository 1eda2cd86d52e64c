"""Correcting a batch: the smallest single addition that brings every line inside, how likely, and what it does to all other lines.

A recommendation to a person, never an order: what is added, and whether, is decided on the plant.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Estimate
from rheokit.base.show import Table, number, value_and_error
from rheokit.comparison.addition import Addition
from rheokit.comparison.choice import draws_of
from rheokit.comparison.feasible import HardLimit

__all__ = ["CAUTIONS", "Rework", "advise_rework"]

MOST_CORRECTIONS = 2
"""Of one batch (common practice, no source)."""
CAUTIONS = (
    "Check the safety data sheets of batch and addition, flash point and compatibility first; site rules and local codes come before this.",
    "Powder added afterwards does not act like powder milled in: make a pilot of the same step first.",
    "Weigh powders under extraction; keep solvents ventilated and away from ignition.",
    "Let the batch rest again as the method says, then measure EVERY line again, not only the one that was corrected.",
    f"At most {MOST_CORRECTIONS} corrections of one batch.",
    "This is a recommendation; a person decides and signs for it.",
)
"""Shown with every recommendation."""

STEPS = 40
DRAWS = 8000


@dataclass(frozen=True, kw_only=True, repr=False)
class Rework(Carried):
    """What was found.

    `amount` [wt %] of `addition` brings every line inside with `probability`; where `does_it` is False it is only the best that was found,
    and no single addition does it. `before` is every line as it is, `after` those that are predicted: what an addition does to a line
    without limits need not be known.
    """

    does_it: bool
    addition: str
    amount: float
    probability: float
    wanted: float
    as_it_is: float
    before: Mapping[str, Estimate]
    after: Mapping[str, Estimate]
    limits: tuple[HardLimit, ...]
    sources: Mapping[str, str]
    left_out: tuple[str, ...] = field(default=())

    @property
    def advice(self) -> str:
        """The recommendation in one sentence."""
        if self.does_it and self.amount == 0.0:
            return f"Nothing to add: every line lies inside with probability {self.as_it_is:.2f}."
        said = f"{number(self.amount, 2)} wt % {self.addition} brings every line inside with probability {self.probability:.2f}"
        if self.does_it:
            return f"{said} (as it is: {self.as_it_is:.2f})."
        if not self.addition:
            return f"No single addition does it: nothing that may be added helps (as it is: {self.as_it_is:.2f})."
        return f"No single addition does it. The best that was found: {said}, less than the {self.wanted:.2f} asked for."

    def table(self) -> Table:
        """Return every line before and after, its limits and where its sensitivity is from; advice and cautions below."""
        words = {limit.line: limit.words for limit in self.limits}
        rows = []
        for line, before in self.before.items():
            after = _shown(self.after[line]) if line in self.after else ("not known", "")
            rows.append((line, *_shown(before), *after, words.get(line, "none"), self.sources.get(line, "")))
        columns = ("line", "before", "standard error", "after", "standard error after", "limits", "sensitivity")
        notes = (self.advice, *self.left_out, *CAUTIONS)
        return Table(title="rework", columns=columns, rows=tuple(rows), notes=notes, right=columns[1:5])

    def __str__(self) -> str:
        return str(self.table())

    __repr__ = __str__  # the fields themselves fill pages

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _shown(estimate: Estimate) -> tuple[str, str]:
    return value_and_error(estimate.value, estimate.standard_error)


def advise_rework(
    batch: Mapping[str, Estimate],
    limits: Sequence[HardLimit],
    additions: Sequence[Addition],
    *,
    probability: float = 0.95,
    corrections: int = 0,
    seed: int = 0,
) -> Rework:
    """Return the smallest single addition that brings every line inside its limits with a probability.

    Parameters
    ----------
    batch
        Line to Estimate, above zero.
    limits
        Of every line; all have to be met.
    additions
        What may be added.
    probability
        That all true values lie inside afterwards: the doubt of the numbers and of the sensitivities, lines taken one by one.
    corrections
        How often the batch was corrected before.
    seed
        Of the draws.

    Raises
    ------
    ComparisonError
        When a line has no number with an error, units differ, or the batch was corrected twice already.
    """
    if corrections >= MOST_CORRECTIONS:
        raise ComparisonError(
            f"the batch was corrected {corrections} times already; at most {MOST_CORRECTIONS} corrections, then it is a new batch"
        )
    if not limits or not 0.0 < probability < 1.0:
        raise ComparisonError("rework needs limits, and a probability between 0 and 1")
    rng = np.random.default_rng(seed)
    now = {limit.line: _log_draws(batch, limit, rng) for limit in limits}
    as_it_is = float(np.mean(_all_inside(limits, now)))
    usable = [one for one in additions if all(limit.line in one.effects for limit in limits)]
    left_out = tuple(_unknown(one, limits) for one in additions if one not in usable)
    found = [_best(one, limits, now, probability, rng) for one in usable]
    enough = [(share, amount, one) for one, (amount, share, does) in zip(usable, found, strict=True) if does]
    if as_it_is - _slack(as_it_is) >= probability:
        chosen, amount, share, does = None, 0.0, as_it_is, True
    elif enough:
        share, amount, chosen = min(enough, key=lambda one: one[1])
        does = True
    else:
        best = max(zip(usable, found, strict=True), key=lambda one: one[1][1], default=None)
        helps = best is not None and best[1][1] > as_it_is
        chosen, amount, share = (best[0], *best[1][:2]) if best is not None and helps else (None, 0.0, as_it_is)
        does = False
    return Rework(
        does_it=does,
        addition=chosen.name if chosen else "",
        amount=amount,
        probability=share,
        wanted=probability,
        as_it_is=as_it_is,
        before=dict(batch),
        after={line: _after(one, chosen, line, amount) for line, one in batch.items() if chosen is None or line in chosen.effects},
        limits=tuple(limits),
        sources={line: one.source for line, one in chosen.effects.items()} if chosen else {},
        left_out=left_out,
    )


def _log_draws(batch: Mapping[str, Estimate], limit: HardLimit, rng: np.random.Generator) -> FloatArray:
    """Return what ln of the true value of a line might be, (S,)."""
    estimate = batch.get(limit.line)
    if estimate is None or not estimate.determined or estimate.standard_error is None or not estimate.value > 0.0:
        raise ComparisonError(f"{limit.line} needs a number above zero with an error; measure it before anything is added")
    if estimate.unit != limit.unit:
        raise ComparisonError(f"{limit.line} is measured in {estimate.unit} and limited in {limit.unit}; convert one of them first")
    drawn = draws_of(estimate, DRAWS, rng)
    return np.log(np.maximum(drawn, 1e-9 * estimate.value))


def _all_inside(limits: Sequence[HardLimit], logs: Mapping[str, FloatArray]) -> FloatArray:
    inside = np.ones(DRAWS)
    for limit in limits:
        drawn = np.exp(logs[limit.line])
        inside *= (drawn >= limit.lower) & (drawn <= limit.upper)
    return inside


def _slack(share: float) -> float:
    """Return twice the standard error of a share of the draws: a probability is claimed only where the draws are sure of it."""
    return 2.0 * math.sqrt(max(share * (1.0 - share), 1.0 / DRAWS) / DRAWS)


def _best(
    addition: Addition, limits: Sequence[HardLimit], now: Mapping[str, FloatArray], probability: float, rng: np.random.Generator
) -> tuple[float, float, bool]:
    """Return the smallest amount that does it with its probability, or the likeliest amount where none does."""
    slopes = {}
    for limit in limits:
        one = addition.effects[limit.line]
        spread = rng.standard_normal(DRAWS)
        if math.isfinite(one.degrees_of_freedom):
            spread /= np.sqrt(rng.chisquare(one.degrees_of_freedom, DRAWS) / one.degrees_of_freedom)
        slopes[limit.line] = one.size + one.standard_error * spread
    best = (0.0, -1.0, False)
    for amount in np.linspace(addition.largest / STEPS, addition.largest, STEPS):
        moved = {line: now[line] + slope * float(addition.reach(line, np.array([amount]))[0]) for line, slope in slopes.items()}
        share = float(np.mean(_all_inside(limits, moved)))
        if share - _slack(share) >= probability:
            return float(amount), share, True
        if share > best[1]:
            best = (float(amount), share, False)
    return best


def _after(estimate: Estimate, addition: Addition | None, line: str, amount: float) -> Estimate:
    """Return a line as it is predicted after an addition."""
    if addition is None:
        return estimate
    effect, reach = addition.effects[line], float(addition.reach(line, np.array([amount]))[0])
    factor = math.exp(effect.size * reach)
    own = (estimate.relative_standard_error or 0.0, abs(reach) * effect.standard_error)
    value = estimate.value * factor
    freedom = min(estimate.degrees_of_freedom or math.inf, effect.degrees_of_freedom)
    return Estimate(
        name=estimate.name,
        value=value,
        unit=estimate.unit,
        standard_error=value * math.hypot(*own),
        degrees_of_freedom=freedom,
        method=f"{estimate.method}; predicted after {number(amount, 2)} wt % {addition.name} ({effect.source})",
        conditions=estimate.conditions,
    )


def _unknown(addition: Addition, limits: Sequence[HardLimit]) -> str:
    lines = [limit.line for limit in limits if limit.line not in addition.effects]
    return f"{addition.name} is left out: what it does to {', '.join(lines)} is not known"
