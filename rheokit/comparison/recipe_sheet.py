"""Read a recipe sheet: what every candidate is made of and how, one value a line, from a CSV file or the first sheet of a workbook."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import ComparisonError, ReadError
from rheokit.base.finding import Finding
from rheokit.base.show import Table, number
from rheokit.reading.files import PathText, read_bytes
from rheokit.reading.numbers import number_in
from rheokit.reading.rows import Row, rows_of
from rheokit.reading.text import decode
from rheokit.reading.workbook import is_workbook, read_sheets

__all__ = ["RECIPE_COLUMNS", "Ingredient", "Recipe", "RecipeSheet", "read_recipes"]

RECIPE_COLUMNS = ("candidate", "kind", "name", "role", "lot", "value", "unit")
KINDS = ("component", "process")
SHARE_UNIT = "wt %"
CLOSURE = 0.1
"""How far components may add up to something other than 100 [wt %]: a balance that shows 0.01 wt % and seven to ten components."""
SAME = 1e-6
"""Difference [wt %] that is none."""
_LIKE = 0.8
"""Likeness of two names, 0 to 1, from which one may be a slip of the pen for the other."""


@dataclass(frozen=True, kw_only=True)
class Ingredient:
    """One line of a sheet: a component in wt %, or a process setting in a unit of its own."""

    name: str
    role: str
    lot: str
    value: float
    unit: str
    line: int


@dataclass(frozen=True, kw_only=True)
class Recipe(Carried):
    """What one candidate is made of and how, by name."""

    candidate: str
    components: Mapping[str, Ingredient]
    settings: Mapping[str, Ingredient]

    @property
    def total(self) -> float:
        """Sum of the components [wt %]."""
        return math.fsum(one.value for one in self.components.values())


@dataclass(frozen=True, kw_only=True, repr=False)
class RecipeSheet(Carried):
    """The recipes of a sheet by candidate, the names of all components, and what was seen on the way."""

    recipes: Mapping[str, Recipe]
    components: tuple[str, ...]
    findings: tuple[Finding, ...]

    def amounts(self, names: Sequence[str], candidates: Sequence[str]) -> dict[str, FloatArray]:
        """Return the amounts [wt %] of components over candidates, name to (N,); a component that is not listed counts as 0.

        Raises
        ------
        ComparisonError
            When the sheet has no such component or candidate.
        """
        return {name: np.array([self._amount(candidate, name) for candidate in candidates]) for name in names}

    def shares(self, parts: Mapping[str, Sequence[str]], candidates: Sequence[str]) -> dict[str, FloatArray]:
        """Return shares of 1 of a blend for a mixture model: part to (N,).

        Parameters
        ----------
        parts
            Part to the components that make it up, as `{"silica": ["fumed silica"], "solvent": ["ether", "alcohol"]}`; what no part names
            is left out, and has to be the same in all candidates.
        candidates
            Whose recipes.

        Raises
        ------
        ComparisonError
            When a component that is left out differs between candidates: the shares would hide what it does.
        """
        named = [name for held in parts.values() for name in held]
        rest = self.amounts([name for name in self.components if name not in named], candidates)
        moving = [name for name, held in rest.items() if held.size and np.ptp(held) > SAME]
        if moving or len(set(named)) != len(named):
            raise ComparisonError(
                f"{', '.join(moving) or 'a component named twice'} differs between candidates; give it a part, or leave them out"
            )
        sums = {part: np.sum([self.amounts([name], candidates)[name] for name in held], axis=0) for part, held in parts.items()}
        total = np.sum(list(sums.values()), axis=0)
        return {part: np.asarray(held / total, dtype=np.float64) for part, held in sums.items()}

    def _amount(self, candidate: str, name: str) -> float:
        if name not in self.components:
            raise ComparisonError(f"{name!r} is no component of the sheet; they are {', '.join(self.components)}")
        if candidate not in self.recipes:
            raise ComparisonError(f"{candidate!r} has no recipe in the sheet; they are {', '.join(self.recipes)}")
        held = self.recipes[candidate].components.get(name)
        return 0.0 if held is None else held.value

    def against_runs(self, measured: Collection[str]) -> tuple[Finding, ...]:
        """Return what does not join: a recipe without a batch folder, and a batch folder without a recipe."""
        without_runs = [name for name in self.recipes if name not in measured]
        without_recipe = [name for name in measured if name not in self.recipes]
        return tuple(
            Finding(check="recipe_join", severity="caution", reason=reason, source=name)
            for name, reason in (
                *((name, f"{name} has a recipe and no runs; give its folder, or leave it out of the sheet") for name in without_runs),
                *((name, f"{name} has runs and no recipe; add it to the sheet, or effects leave it out") for name in without_recipe),
            )
        )

    def table(self) -> Table:
        """Return components and settings over candidates as a table."""
        listed = [{**recipe.components, **recipe.settings} for recipe in self.recipes.values()]
        named = dict.fromkeys((one.name, one.unit) for lines in listed for one in lines.values())
        rows = []
        for name, unit in named:
            held = [lines.get(name) for lines in listed]
            rows.append((name, unit, *("" if one is None else number(one.value) for one in held)))
        notes = tuple(str(finding) for finding in self.findings)
        return Table(title="recipes", columns=("name", "unit", *self.recipes), rows=tuple(rows), notes=notes, right=tuple(self.recipes))

    def __str__(self) -> str:
        return str(self.table())

    __repr__ = __str__  # the fields themselves fill pages

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def read_recipes(path: PathText, *, tolerance: float = CLOSURE, components: Sequence[str] | None = None) -> RecipeSheet:
    """Read a recipe sheet.

    Parameters
    ----------
    path
        CSV file (UTF-8) or workbook with the columns of `RECIPE_COLUMNS`; `kind` is `component` (in wt %) or `process`.
    tolerance
        How far the components of a candidate may add up to something other than 100 [wt %].
    components
        The components that are known; without them a name that stands in one recipe alone and is much like another is a finding.

    Raises
    ------
    ReadError
        Naming line and column of the first entry that does not stand up: an unknown component, one listed twice, a composition that
        does not close, a value that is no number.
    """
    rows = _rows(path)
    lines = [_ingredient(row, path) for row in rows]
    recipes: dict[str, tuple[dict[str, Ingredient], dict[str, Ingredient]]] = {}
    for candidate, kind, one in lines:
        held = recipes.setdefault(candidate, ({}, {}))[KINDS.index(kind)]
        if one.name in held:
            earlier = held[one.name].line
            raise ReadError(
                path, f"{candidate} lists {one.name!r} twice, first in line {earlier}", place=f"line {one.line}", remedy="keep one"
            )
        held[one.name] = one
    found = {name: Recipe(candidate=name, components=parts, settings=settings) for name, (parts, settings) in recipes.items()}
    _check_names(found, components, path)
    names = tuple(dict.fromkeys(one.name for _, kind, one in lines if kind == "component"))
    for recipe in found.values():
        _check_closure(recipe, tolerance, path)
    return RecipeSheet(recipes=found, components=names, findings=(*_misspelt(found), *_unlisted(found, names)))


def _rows(path: PathText) -> list[Row]:
    """Return the rows under a checked header."""
    data = read_bytes(path)
    if is_workbook(data):
        sheets = [sheet for sheet in read_sheets(data, path) if sheet.visible and any(row.cells for row in sheet.rows)]
        rows = list(sheets[0].rows) if sheets else []
    else:
        rows = list(rows_of(decode(data, path).characters, ",", path))
    rows = [row for row in rows if any(cell.strip() for cell in row.cells)]
    header = tuple(cell.strip() for cell in rows[0].cells) if rows else ()
    if header != RECIPE_COLUMNS:
        place = f"line {rows[0].line}" if rows else "line 1"
        raise ReadError(path, f"the header is {','.join(header)!r}", place=place, remedy=f"write {','.join(RECIPE_COLUMNS)!r}")
    if len(rows) == 1:
        raise ReadError(path, "there is no recipe under the header", remedy="write one value a line")
    return rows[1:]


def _ingredient(row: Row, path: PathText) -> tuple[str, str, Ingredient]:
    """Return candidate, kind and the line itself."""
    line = f"line {row.line}"
    cells = [cell.strip() for cell in row.cells]
    if len(cells) != len(RECIPE_COLUMNS):
        raise ReadError(
            path, f"{len(cells)} cells under {len(RECIPE_COLUMNS)} columns", place=line, remedy="write one cell for each column"
        )
    candidate, kind, name, role, lot, written, unit = cells
    if kind not in KINDS:
        raise ReadError(path, f"{kind!r} is no kind", place=f"{line}, kind", remedy="write component or process")
    for column, text in (("candidate", candidate), ("name", name)):
        if not text:
            raise ReadError(path, "it is empty", place=f"{line}, {column}", remedy="say which")
    value = number_in(written)
    if value is None or not math.isfinite(value):
        raise ReadError(path, f"{written!r} is not a number", place=f"{line}, value", remedy="write it with a decimal point")
    if kind == "component" and unit != SHARE_UNIT:
        raise ReadError(path, f"a component in {unit!r}", place=f"{line}, unit", remedy=f"give components in {SHARE_UNIT}")
    if kind == "component" and not 0.0 <= value <= 100.0:
        raise ReadError(path, f"{written} wt % is no share", place=f"{line}, value", remedy="give 0 to 100")
    return candidate, kind, Ingredient(name=name, role=role, lot=lot, value=value, unit=unit, line=row.line)


def _users(recipes: Mapping[str, Recipe]) -> dict[str, list[Ingredient]]:
    users: dict[str, list[Ingredient]] = {}
    for recipe in recipes.values():
        for one in recipe.components.values():
            users.setdefault(one.name, []).append(one)
    return users


def _check_names(recipes: Mapping[str, Recipe], known: Sequence[str] | None, path: PathText) -> None:
    """Refuse a component that is not known."""
    for name, lines in _users(recipes).items():
        if known is not None and name not in known:
            near = get_close_matches(name, known, n=1, cutoff=_LIKE)
            remedy = f"is it {near[0]!r}?" if near else f"known are {', '.join(known)}"
            raise ReadError(path, f"{name!r} is no known component", place=f"line {lines[0].line}, name", remedy=remedy)


def _misspelt(recipes: Mapping[str, Recipe]) -> list[Finding]:
    """Name components that stand in one recipe alone and are much like another one that is absent there: perhaps a slip of the pen."""
    users, found = _users(recipes), []
    for recipe in recipes.values():
        for name, one in recipe.components.items():
            others = {other.casefold(): other for other in users if other not in recipe.components}
            near = get_close_matches(name.casefold(), others, n=1, cutoff=_LIKE) if len(users[name]) == 1 else []
            if near:
                reason = f"line {one.line}: {name!r} stands in one recipe alone and is much like {others[near[0]]!r}; they count as two"
                found.append(Finding(check="component_alone", severity="caution", reason=reason, source=recipe.candidate))
    return found


def _check_closure(recipe: Recipe, tolerance: float, path: PathText) -> None:
    if not recipe.components:
        raise ReadError(path, f"{recipe.candidate} has no component", remedy="list what it is made of")
    if abs(recipe.total - 100.0) > tolerance + 1e-9:
        place = f"line {next(iter(recipe.components.values())).line}"
        reason = f"the components of {recipe.candidate} add up to {recipe.total:.6g} wt %, further than {tolerance:g} from 100"
        raise ReadError(path, reason, place=place, remedy="correct a value, or add what is missing")


def _unlisted(recipes: Mapping[str, Recipe], names: Sequence[str]) -> list[Finding]:
    """Say which components a recipe does not list: it closes without them, so they are 0 there."""
    return [
        Finding(
            check="component_not_listed",
            severity="info",
            reason=f"{recipe.candidate} does not list {name}; its components close without it, so it counts as 0",
            source=recipe.candidate,
        )
        for recipe in recipes.values()
        for name in names
        if name not in recipe.components
    ]
