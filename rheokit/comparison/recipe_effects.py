"""What a recipe sheet adds to the numbers of its candidates: a model of effects of every line, and the power law of every gellant."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rheokit.base.errors import RheokitError
from rheokit.comparison.effects import Effects, fit_effects
from rheokit.comparison.feasible import Candidates
from rheokit.comparison.gellant import GellantPowerLaw, fit_gellant
from rheokit.comparison.recipe_sheet import RecipeSheet

__all__ = ["BALANCE", "recipe_effects", "recipe_gellants"]

BALANCE = "solvent"
"""Role of the components that make up the balance: what is left when the others are chosen, so that they are no factors."""


def recipe_effects(sheet: RecipeSheet, numbers: Candidates, lines: Sequence[str], notes: list[str]) -> dict[str, Effects]:
    """Return a model of main effects of each line; the components of the balance are no factors, as all add up to 100."""
    found = {}
    kept = [name for name, held in numbers.items() if name in sheet.recipes and all(line in held for line in lines)]
    factors, balance = _factors(sheet, kept)
    notes.append(f"effects are of {', '.join(factors) or 'nothing'} [wt %]; {', '.join(balance) or 'nothing'} is the balance")
    moving = _moving_besides(sheet, kept)
    if moving:
        notes.append(f"{'; '.join(moving)}: no factors, so the effects hold what they do")
    refused: dict[str, list[str]] = {}
    for line in lines:
        observed = [numbers[name][line] for name in kept]
        try:
            runs = sheet.amounts(factors, kept)
            found[line] = fit_effects(runs, [one.value for one in observed], response=line, unit=observed[0].unit if observed else "1")
        except RheokitError as error:
            refused.setdefault(str(error), []).append(line)
    notes += [f"no effects on {', '.join(those)}: {reason}" for reason, those in refused.items()]
    return found


def _moving_besides(sheet: RecipeSheet, kept: Sequence[str]) -> list[str]:
    """Return settings and lots that differ between candidates."""
    recipes = [sheet.recipes[name] for name in kept]
    settings = dict.fromkeys(name for recipe in recipes for name in recipe.settings)
    found = [name for name in settings if len({held.value if (held := one.settings.get(name)) else None for one in recipes}) > 1]
    said = [f"settings that differ: {', '.join(found)}"] if found else []
    lots = {name: {held.lot for one in recipes if (held := one.components.get(name)) and held.value > 0.0} for name in sheet.components}
    several = [f"{name} ({', '.join(sorted(held))})" for name, held in lots.items() if len(held) > 1]
    return [*said, f"lots that differ: {', '.join(several)}"] if several else said


def _factors(sheet: RecipeSheet, kept: Sequence[str]) -> tuple[list[str], list[str]]:
    amounts = sheet.amounts(sheet.components, kept)
    varying = [name for name in sheet.components if np.ptp(amounts[name]) > 0.0] if kept else []
    roles = {name: one.role for recipe in sheet.recipes.values() for name, one in recipe.components.items()}
    balance = [name for name in varying if roles[name] == BALANCE] or varying[:1]
    return [name for name in varying if name not in balance], balance


def recipe_gellants(sheet: RecipeSheet, numbers: Candidates, base: str, line: str | None, notes: list[str]) -> dict[str, GellantPowerLaw]:
    """Return the power law of each gellant, over the candidates that differ from the base in it and the balance alone."""
    found: dict[str, GellantPowerLaw] = {}
    if line is None or base not in sheet.recipes:
        return found
    roles = {name: one.role for name, one in sheet.recipes[base].components.items()}
    kept = [name for name, held in numbers.items() if name in sheet.recipes and line in held]
    for gellant in (name for name, role in roles.items() if role == "gellant"):
        others = [name for name in sheet.components if name != gellant and roles.get(name) != BALANCE]
        own = {name: sheet.amounts([*others, gellant], [name, base]) for name in kept}
        series = [
            name for name, held in own.items() if all(held[other][0] == held[other][1] for other in others) and held[gellant][0] > 0.0
        ]
        try:
            amounts = sheet.amounts([gellant], series)[gellant]
            found[gellant] = fit_gellant(amounts, [numbers[name][line] for name in series])
        except RheokitError as error:
            notes.append(f"power law of {gellant}: {error}")
    return found
