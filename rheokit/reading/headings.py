"""Read one cell of a header: which quantity it names, and the unit written beside the name."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from rheokit.base.errors import UnitError
from rheokit.base.quantities import unit_of
from rheokit.reading.clock import is_clock_unit
from rheokit.reading.layout import Layout
from rheokit.reading.words import MISSING_WORDS, STEP, meaning_of

__all__ = ["Heading", "is_unit_of", "read_heading", "read_headings", "unit_beside", "without_brackets"]


class Heading(NamedTuple):
    """One heading: its text, the quantity it means (or `step`, or None), its unit where one is written, and who said so."""

    text: str
    quantity: str | None
    unit: str | None
    unit_from: str = ""
    from_layout: bool = False


_SQUARE = re.compile(r"^(?P<name>.*\S)\s*\[(?P<unit>[^\[\]]*)\]$")
_ROUND = re.compile(r"^(?P<name>.*\S)\s*\((?P<unit>(?:[^()]|\([^()]*\))*)\)$")
_IN = re.compile(r"^(?P<name>.*\S)\s+in\s+(?P<unit>\S.*)$")
_SLASH = re.compile(r"^(?P<name>[^/]*[^/\s])\s*/\s*(?P<unit>\S.*)$")
_COMMA = re.compile(r"^(?P<name>[^,]*[^,\s])\s*,\s*(?P<unit>\S.*)$")
_WAYS = (_SQUARE, _ROUND, _IN, _SLASH, _COMMA)
"""`τ [Pa]`, `τ (Pa)`, `τ in Pa`, `τ/Pa`, `τ, Pa`."""

_LONGEST = 200
"""Characters of a heading; longer cells are text, and no pattern is tried on them."""


def without_brackets(text: str) -> str:
    """Return a unit without the brackets around the whole of it."""
    text = text.strip()
    inside = text[1:-1]
    if text[:1] + text[-1:] in {"[]", "()"} and not set(inside) & set("[]()"):
        return inside.strip()
    return text


def _readings(text: str) -> Iterator[tuple[str, str | None]]:
    """Yield the ways in which a text divides into name and unit, the whole text first."""
    yield text, None
    for way in _WAYS:
        matched = way.match(text)
        if matched:
            yield matched["name"], without_brackets(matched["unit"])


def read_headings(cells: Sequence[str], layout: Layout | None) -> tuple[Heading, ...]:
    """Return what every cell of a header says."""
    if layout is None:
        return tuple(map(read_heading, cells))
    return tuple(_by_layout(cell, number, layout) for number, cell in enumerate(cells, 1))


def _by_layout(cell: str, number: int, layout: Layout) -> Heading:
    """Return what a header cell says; the layout, where it names this heading or the number of its column, comes first."""
    text = " ".join(cell.split())
    readings = ((text, None), *_readings(text)) if text and len(text) <= _LONGEST else ((text, None),)
    for name, unit in ((f"#{number}", readings[-1][1] if len(readings) > 2 else None), *readings):
        named = layout.columns.get(name) if name else None
        if named is not None:
            stated = named.unit or unit or None
            source = "layout file" if named.unit else "header" if stated else ""
            return Heading(text, named.quantity, stated, source, from_layout=True)
    return read_heading(cell)


def read_heading(cell: str) -> Heading:
    """Return what a header cell says by itself."""
    text = " ".join(cell.split())
    return Heading(text, None, None) if len(text) > _LONGEST else _read(text)


@lru_cache(maxsize=4096)
def _read(text: str) -> Heading:
    # Remembered, as the exports of one rheometer repeat their headings.
    if text.casefold() in MISSING_WORDS or not any(map(str.isalpha, text)):  # n/a is no speed n in years a
        return Heading(text, None, None)
    for name, unit in _readings(text):
        quantity = meaning_of(name)
        if quantity is not None:
            return Heading(text, quantity, unit or None, "header" if unit else "")
    return _with_unit_behind(text)


def _with_unit_behind(text: str) -> Heading:
    """Return the heading when a unit of the quantity follows its name with nothing between (`Shear rate 1/s`, `T °C`)."""
    words = text.split(" ")
    for at in range(1, len(words)):
        name, unit = " ".join(words[:at]).rstrip("-: "), without_brackets(" ".join(words[at:]))
        quantity = meaning_of(name)
        if quantity not in {None, STEP} and is_unit_of(unit, str(quantity)):
            return Heading(text, quantity, unit, "header")
    return Heading(text, None, None)


def unit_beside(text: str) -> str:
    """Return what stands in a heading in the place of a unit, whatever the name; empty where nothing does."""
    return next((unit for _, unit in _readings(text) if unit), "") if len(text) <= _LONGEST else ""


def is_unit_of(unit: str, quantity: str) -> bool:
    """Tell whether a text is a unit of a quantity."""
    if quantity in {"time", "step_time"} and is_clock_unit(unit) is not None:
        return True
    if unit[:1].isdigit() and not unit.startswith("1/"):
        return False  # an entry of the preamble, such as `Time 100 s`
    try:
        unit_of(unit, quantity)
    except UnitError:
        return False
    return True
