"""Dimensions as people write them: keys of a preamble or layout file, lengths and angles with units."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from functools import lru_cache

from rheokit.base.errors import GeometryError, UnitError, printable
from rheokit.base.quantities import parse_amount, quantity
from rheokit.base.units import parse_unit

__all__ = ["amount_in", "folded", "number_in", "radius_in", "require_between", "written"]

_KEY_WITH_UNIT = re.compile(r"^(?P<key>.*\S)\s*(?:\[(?P<square>[^\[\]]+)\]|\((?P<round>[^()]+)\)|\s+in\s+(?P<word>\S+))$")
_NUMBER_ALONE = re.compile(r"\s*[0-9]+(?:[.,][0-9]+)?\s*")
_DECIMAL_COMMA = re.compile(r"^(?P<whole>[0-9]+),(?P<part>[0-9]+)")
_LONGEST = 200


def folded(metadata: Mapping[str, str]) -> dict[str, str]:
    """Return entries with their keys in small letters without hyphens and underscores, a unit in the key moved to a bare number."""
    entries: dict[str, str] = {}
    for key, value in metadata.items():
        if len(key) > _LONGEST or len(value) > _LONGEST:
            continue
        name, text = key, value.strip()
        matched = _KEY_WITH_UNIT.match(key.strip())
        if matched and _NUMBER_ALONE.fullmatch(text):
            name, text = matched["key"], f"{text} {matched['square'] or matched['round'] or matched['word']}"
        entries.setdefault(fold(name), text)
    return entries


@lru_cache(maxsize=1024)
def fold(text: str) -> str:
    """Return a word as it is compared. Remembered, as the same keys are asked for in every export."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    return " ".join(re.sub(r"[-_/.–&+]", " ", plain).split())


def amount_in(entries: Mapping[str, str], words: Sequence[str], name: str) -> float | None:
    """Return the amount [SI] that stands under one of the words, or None.

    Raises
    ------
    GeometryError
        When it is no amount of that quantity, or two of the words hold different ones.
    """
    found: dict[str, float] = {}
    for word in map(fold, words):
        if entries.get(word):
            found[word] = _amount(entries[word], word, name)
    if len(set(found.values())) > 1:
        first, second = list(found)[:2]
        raise GeometryError(f"{first!r} says {printable(entries[first])} and {second!r} says {printable(entries[second])}")
    return next(iter(found.values()), None)


def _amount(text: str, word: str, name: str) -> float:
    try:
        amount = parse_amount(_with_point(text, word), name)
    except UnitError as error:
        raise GeometryError(f"{word}: {error}") from None
    if amount.tolerance is not None:
        raise GeometryError(f"{word}: {printable(text)!r} has a tolerance; a dimension is one number")
    return amount.value


def _with_point(text: str, word: str) -> str:
    """Return a number with its decimal comma as a point."""
    matched = _DECIMAL_COMMA.match(text)
    if matched is None:
        return text
    if len(matched["part"]) == 3 and matched["whole"] != "0":
        raise GeometryError(f"{word}: the comma of {printable(text)!r} may divide decimals or thousands; write a point, or no comma")
    return f"{matched['whole']}.{matched['part']}{text[matched.end() :]}"


def number_in(entries: Mapping[str, str], words: Sequence[str]) -> float | None:
    """Return the plain number that stands under one of the words, or None.

    Raises
    ------
    GeometryError
        When it is no number.
    """
    return amount_in(entries, words, "flow_index")  # any quantity without a unit


def radius_in(entries: Mapping[str, str], parts: Sequence[str], what: str, example: str) -> float:
    """Return the radius [m] of a part, given as its radius or its diameter.

    Raises
    ------
    GeometryError
        When there is neither, both differ, or it is no length.
    """
    radius = amount_in(entries, [f"{part}{joint}radius" for part in parts for joint in (" ", "")], "radius")
    diameter = amount_in(entries, [f"{part}{joint}{word}" for part in parts for joint in (" ", "") for word in _DIAMETER], "radius")
    if radius is None and diameter is None:
        raise GeometryError(f"the {what} is not given; write for example '{example},12.5 mm'")
    if radius is None:
        return 0.5 * (diameter or 0.0)
    if diameter is not None and abs(diameter - 2.0 * radius) > 1e-9 * radius:
        raise GeometryError(f"the {what} is given twice, and the diameter is not twice the radius")
    return radius


_DIAMETER = ("diameter", "durchmesser")


def require_between(what: str, value: float, least: float, most: float, unit: str) -> None:
    """Refuse a dimension that no instrument has.

    Raises
    ------
    GeometryError
        When the value is not from least to most.
    """
    if not least <= value <= most:
        shown = f" {unit}" if unit else ""
        raise GeometryError(f"the {what} is {value:.4g}{shown}; it must be from {least:.4g} to {most:.4g}{shown}")


def written(value: float, name: str) -> str:
    """Return a value [SI] as text with the unit a person reads, or the SI unit where only that gives back the same number."""
    unit = parse_unit(quantity(name).display_unit)
    for digits in (6, 12, 17):
        text = f"{unit.from_si(value):.{digits}g}"
        if unit.to_si(float(text)) == value:
            return f"{text} {unit.symbol}"
    return f"{value!r} {quantity(name).unit}"
