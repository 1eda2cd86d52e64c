"""A round of candidates, compared: measured by one specification, held against its limits, weighed, and joined to what they are made of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Estimate
from rheokit.base.run import Batch
from rheokit.base.show import Table
from rheokit.comparison.choice import Choice, choose
from rheokit.comparison.curve_ratio import CurveRatio
from rheokit.comparison.desirability import Aim
from rheokit.comparison.effects import Effects
from rheokit.comparison.feasible import HardLimit
from rheokit.comparison.gellant import GellantPowerLaw
from rheokit.comparison.line_ratios import LineRatios, curve_ratios, line_ratios
from rheokit.comparison.next_candidate import NextCandidates, next_candidates
from rheokit.comparison.recipe_effects import recipe_effects, recipe_gellants
from rheokit.comparison.recipe_sheet import RecipeSheet
from rheokit.release.check import BatchCheck, check_batch
from rheokit.release.specification import Specification

__all__ = ["Pull", "RecipeComparison", "compare_recipes", "steady_curve_ratios"]

Pull = Literal["high", "low", "middle"]
"""Where inside its limits a line is wanted."""

MISSED = 0.05
"""Probability of so much lack of fit by chance, below which suggestions carry a word of care."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class RecipeComparison(Carried):
    """What came of a comparison; what could not be formed is None or absent, and `notes` say why.

    Attributes
    ----------
    base, limits, numbers
        The base, the hard limits of the specification, and candidate to line to Estimate.
    choice, ratios, curves
        Window, front and aims; lines and flow curves over the base.
    sheet, effects, gellants, suggestions
        What the recipe sheet adds: line to its model, gellant to its power law, and what to make next.
    """

    base: str
    limits: tuple[HardLimit, ...]
    numbers: Mapping[str, Mapping[str, Estimate]]
    choice: Choice
    ratios: LineRatios
    curves: Mapping[str, CurveRatio]
    sheet: RecipeSheet | None
    effects: Mapping[str, Effects]
    gellants: Mapping[str, GellantPowerLaw]
    suggestions: NextCandidates | None
    notes: tuple[str, ...]

    def tables(self) -> tuple[Table, ...]:
        """Return everything as tables, in the order in which it is read."""
        found = [self.choice.window.table(), self.choice.table(), self.ratios.table()]
        found += [model.table() for model in self.effects.values()]
        found += [law.table() for law in self.gellants.values()]
        if self.suggestions is not None:
            found.append(self.suggestions.table())
        if self.sheet is not None:
            found.append(self.sheet.table())
        return tuple(found)

    def __str__(self) -> str:
        return "\n\n".join([*map(str, self.tables()), *self.notes])

    __repr__ = __str__  # the fields themselves fill pages

    def _repr_html_(self) -> str:
        return "".join(table._repr_html_() for table in self.tables())


def compare_recipes(
    batches: Mapping[str, Batch],
    specification: Specification,
    *,
    sheet: RecipeSheet | None = None,
    base: str | None = None,
    aims: Mapping[str, Pull] | None = None,
    seed: int = 0,
) -> RecipeComparison:
    """Compare candidates that were measured by one specification.

    Parameters
    ----------
    batches
        Candidate to its batch.
    specification
        Its lines are measured on every candidate; its limits are the hard limits.
    sheet
        What the candidates are made of; without it there are no effects.
    base
        The candidate that ratios are formed to; the first one where not given.
    aims
        Line to where inside its limits it is wanted; the middle of every rheological line with two limits where not given.
    seed
        Of resamples and suggestions.

    Raises
    ------
    ComparisonError
        When fewer than two candidates are given, or base or an aim is unknown.
    """
    if len(batches) < 2:
        raise ComparisonError(f"a comparison needs two candidates or more, not {len(batches)}")
    base = next(iter(batches)) if base is None else base
    if base not in batches:
        raise ComparisonError(f"{base!r} is no candidate; they are {', '.join(batches)}")
    checks = {name: check_batch(batch, specification) for name, batch in batches.items()}
    numbers, notes = _numbers(checks)
    limits = _limits(specification)
    wanted = _aims(limits, aims, _rheological(specification))
    choice = choose(numbers, limits, wanted, seed=seed)
    curves, missing = _curves({name: batch for name, batch in batches.items() if numbers[name]}, base)
    notes += [f"flow curve of {name}: {reason}" for name, reason in missing.items()]
    effects: dict[str, Effects] = {}
    gellants: dict[str, GellantPowerLaw] = {}
    suggestions = None
    if sheet is not None:
        notes += [str(finding) for finding in (*sheet.findings, *sheet.against_runs(list(batches)))]
        lines = [line for line in _rheological(specification) if any(line in held for held in numbers.values())]
        effects = recipe_effects(sheet, numbers, lines, notes)
        gellants = recipe_gellants(sheet, numbers, base, _yield_line(specification), notes)
        suggestions = _next(effects, limits, seed, notes)
    return RecipeComparison(
        base=base,
        limits=limits,
        numbers=numbers,
        choice=choice,
        ratios=line_ratios(numbers, base),
        curves=curves,
        sheet=sheet,
        effects=effects,
        gellants=gellants,
        suggestions=suggestions,
        notes=tuple(dict.fromkeys(notes)),
    )


def _numbers(checks: Mapping[str, BatchCheck]) -> tuple[dict[str, dict[str, Estimate]], list[str]]:
    """Return every line that is a measurement, in the unit of its limits, and why others are none."""
    numbers: dict[str, dict[str, Estimate]] = {name: {} for name in checks}
    notes = []
    for name, check in checks.items():
        reasons: dict[str, list[str]] = {}
        for decision in check.decisions:
            if decision.estimate is None or decision.outcome == "no measurement":
                reasons.setdefault(decision.reason, []).append(decision.requirement.id)
            else:
                numbers[name][decision.requirement.id] = decision.estimate.in_unit(decision.requirement.unit.symbol)
        notes += [f"{name}: no measurement of {', '.join(lines)}: {reason}" for reason, lines in reasons.items()]
    return numbers, notes


def _limits(specification: Specification) -> tuple[HardLimit, ...]:
    """Return the limits in the units in which they were written; a line that was measured nowhere keeps every candidate outside."""
    found = []
    for line in specification.requirements:
        lower, upper = (end if np.isinf(end) else line.unit.from_si(end) for end in (line.lower_value, line.upper_value))
        found.append(HardLimit(line=line.id, lower=lower, upper=upper, unit=line.unit.symbol))
    return tuple(found)


def _rheological(specification: Specification) -> list[str]:
    """Return the lines that are measured on the rheometer."""
    return [line.id for line in specification.requirements if line.characteristic.needs != "entered"]


def _yield_line(specification: Specification) -> str | None:
    return next((line.id for line in specification.requirements if line.characteristic.name == "yield_stress"), None)


def _aims(limits: Sequence[HardLimit], pulls: Mapping[str, Pull] | None, rheological: Sequence[str]) -> dict[str, Aim]:
    known = {limit.line: limit for limit in limits if np.isfinite(limit.lower) and np.isfinite(limit.upper)}
    pulls = {line: "middle" for line in rheological if line in known} if pulls is None else pulls
    if not pulls:
        raise ComparisonError("no line of the specification has two limits; name aims, which need a line with a lower and an upper limit")
    share = {"low": 0.0, "middle": 0.5, "high": 1.0}
    for line, pull in pulls.items():
        if line not in known or pull not in share:
            raise ComparisonError(f"{line}={pull} is no aim; it is LINE=high, low or middle, with one of {', '.join(known)}")
    return {
        line: Aim(lower=held.lower, upper=held.upper, target=held.lower + share[pull] * (held.upper - held.lower))
        for line, pull in pulls.items()
        if (held := known[line])
    }


def steady_curve_ratios(batches: Mapping[str, Batch], base: str | None = None) -> tuple[dict[str, CurveRatio], dict[str, str]]:
    """Return the steady flow curve of every candidate over that of the base (the first where not given), and why one is missing.

    Raises
    ------
    ComparisonError
        When the base is no candidate or has no steady flow curve.
    """
    base = next(iter(batches)) if base is None else base
    if base not in batches:
        raise ComparisonError(f"{base!r} is no candidate; they are {', '.join(batches)}")
    held = {
        name: [step for loads in batch.runs.values() for run in loads for step in run.steps if step.kind == "steady"]
        for name, batch in batches.items()
    }
    return curve_ratios(held, base)


def _curves(batches: Mapping[str, Batch], base: str) -> tuple[dict[str, CurveRatio], dict[str, str]]:
    try:
        return steady_curve_ratios(batches, base)
    except ComparisonError as error:
        return {}, {base: str(error)}


def _next(effects: Mapping[str, Effects], limits: Sequence[HardLimit], seed: int, notes: list[str]) -> NextCandidates | None:
    held = [limit for limit in limits if limit.line in effects]
    if not held:
        return None
    missed = [line for line, model in effects.items() if (lack := model.lack_of_fit) is not None and lack.probability < MISSED]
    if missed:
        notes.append(
            f"next candidates: the models of {', '.join(missed)} miss more than repeats scatter; believe their suggestions with care"
        )
    try:
        return next_candidates({limit.line: effects[limit.line] for limit in held}, held, seed=seed)
    except ComparisonError as error:
        notes.append(f"next candidates: {error}")
        return None
