"""Read one cell of a header: which quantity it names, and the unit written beside the name."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from rheokit.reading.layout import Layout
from rheokit.reading.words import meaning_of

__all__ = ["Heading", "read_heading", "without_brackets"]


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


def read_heading(cell: str, layout: Layout | None = None) -> Heading:
    """Return what a header cell says; the layout, where it names this heading, comes first."""
    text = " ".join(cell.split())
    if not text or len(text) > _LONGEST:
        return Heading(text, None, None)
    readings = tuple(_readings(text))
    if layout is not None:
        for name, unit in readings:
            named = layout.columns.get(name)
            if named is not None:
                stated = named.unit or unit or None
                source = "layout file" if named.unit else "header" if stated else ""
                return Heading(text, named.quantity, stated, source, from_layout=True)
    for name, unit in readings:
        quantity = meaning_of(name)
        if quantity is not None:
            return Heading(text, quantity, unit or None, "header" if unit else "")
    return Heading(text, None, None)
