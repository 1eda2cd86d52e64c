"""Decide what the points, commas, spaces and apostrophes in the numbers of an export mean: once, for the whole file.

A mark is *possible* as the decimal mark of a file when every numeric cell, and the seconds of every clock time, can be read with it,
all other marks being one kind of thousands sign. A thousands sign stands between a first group of one to three digits that does not
begin with zero and groups of exactly three, never in a number with an exponent, and in every number of four or more digits before the
decimal mark of its column (a column is written by one format). So `0.500`, `462.4`, `1.2345`, `1.234E+03`, and `1.234` in one column
with `12345` show a decimal mark. Further, a file divided by commas has a decimal point unless it quotes numbers that hold a comma.

- One mark possible: it is the decimal mark.
- Both possible, and no cell holds a point or a comma: there is nothing to decide.
- Both possible otherwise (all there is looks like `1,234`): the file does not say; it is refused, and a layout file settles it.
- None possible (`0,5` and `0.5`): the first cell with the rarer mark is refused by its line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from rheokit.base.errors import ReadError
from rheokit.reading.files import PathText
from rheokit.reading.spellings import NUMBERS_BEGIN, is_rare_spelling

__all__ = ["POINT", "THOUSANDS", "NumberStyle", "decide_style", "doubtful_thousands", "grammar", "looks_like_a_number"]

_SPACES = " \u00a0\u2009\u202f"
_APOSTROPHES = "'\u2019"
_MINUS = "\N{MINUS SIGN}\u2013\uff0d"
_NUMERIC = re.compile(rf"[+\-{_MINUS}]?[.,]?[0-9][0-9.,{_SPACES}{_APOSTROPHES}]*(?:[eE][+\-{_MINUS}]?[0-9]+)?")
_MARKED = re.compile(rf"[^\n]*[.,{_SPACES}{_APOSTROPHES}][^\n]*")
_LONG = re.compile(r"\s*[^0-9\s]?[0-9]{4,}")
THOUSANDS = {"": "", ".": ".", ",": ",", " ": _SPACES, "'": _APOSTROPHES}
"""Kind of thousands sign to the signs of that kind."""

_NAMES = {".": "point", ",": "comma", " ": "space", "'": "apostrophe", "": "none"}


class NumberStyle(NamedTuple):
    """How numbers are written: decimal mark, thousands sign (empty where there is none), and the sentence that says why."""

    decimal: str
    thousands: str
    why: str = ""

    def __str__(self) -> str:
        return f"decimal {_NAMES[self.decimal]}" + (f", thousands {_NAMES[self.thousands]}" if self.thousands else "")


POINT = NumberStyle(".", "")


def doubtful_thousands(cells: Sequence[str], style: NumberStyle) -> int | None:
    """Return the first cell such as `23,017` that is read as thousands where the column itself speaks for three decimals, or None.

    It does when another cell of the column has three of them, and none has a thousands sign together with a decimal mark.
    """
    sign = {" ": f"[{_SPACES}]", "'": f"[{_APOSTROPHES}]"}.get(style.thousands, re.escape(style.thousands))
    mark = re.escape(style.decimal)
    one_group = re.compile(rf"[+\-{_MINUS}]?[1-9][0-9]{{0,2}}{sign}[0-9]{{3}}")
    found = next((index for index, cell in enumerate(cells) if one_group.fullmatch(cell.strip())), None)
    if found is None or any(re.search(rf"{sign}[0-9]{{3}}(?:{mark}|{sign})", cell) for cell in cells):
        return None
    three = re.compile(rf"[+\-{_MINUS}]?[0-9]{{1,3}}{mark}[0-9]{{3}}")
    return found if any(three.fullmatch(cell.strip()) for cell in cells) else None


def looks_like_a_number(cell: str) -> bool:
    """Tell whether a cell is a number in some style."""
    bare = cell.strip()
    if bare[:1] not in NUMBERS_BEGIN or bare[-1:].isalpha():  # a word or a number with its unit, as most cells are that are none
        return False
    return _NUMERIC.fullmatch(bare) is not None or is_rare_spelling(bare)


@lru_cache(maxsize=16)
def grammar(decimal: str, thousands: str) -> re.Pattern[str]:
    """Return the pattern of a number in one style; the group `decimals` or `more` holds the digits after the mark, `power` the exponent."""
    mark = re.escape(decimal)
    plain = rf"[0-9]+(?:{mark}(?P<decimals>[0-9]*))?|{mark}(?P<more>[0-9]+)"
    exponent = rf"(?:[eE](?P<power>[+\-{_MINUS}]?[0-9]+))?"
    grouped = ""
    if thousands:
        sign = {" ": f"[{_SPACES}]", "'": f"[{_APOSTROPHES}]"}.get(thousands, re.escape(thousands))
        grouped = rf"[1-9][0-9]{{0,2}}(?P<first>{sign})[0-9]{{3}}(?:(?P=first)[0-9]{{3}})*(?:{mark}(?P<fraction>[0-9]*))?|"
    return re.compile(rf"[+\-{_MINUS}]?(?:{grouped}(?:{plain}){exponent})")


def decide_style(
    columns: Sequence[Sequence[str]], delimiter: str, decimal: str | None, thousands: str | None, path: PathText
) -> NumberStyle:
    """Return the style of the numbers of a file.

    Parameters
    ----------
    columns
        The cells of every column that holds a quantity.
    delimiter
        What divides the cells.
    decimal, thousands
        What a layout file says, or None.
    path
        The file, for the message.

    Raises
    ------
    ReadError
        When the cells leave two readings.
    """
    joined = "\n".join(map("\n".join, columns))
    signs = _signs(joined)
    if decimal is not None:
        others = signs - {decimal}
        sign = thousands if thousands is not None else min(others) if len(others) == 1 else ""
        return NumberStyle(decimal, sign, "the layout file says so")
    if not signs & {".", ","}:
        return NumberStyle(".", _only(signs), "no number has a decimal mark")
    if delimiter == "," and "," not in signs:
        return NumberStyle(".", _only(signs - {"."}), "the cells are divided by commas")
    likely, other = (".", ",") if joined.count(".") >= joined.count(",") else (",", ".")
    for_likely = _first_against(columns, other, signs)
    for_other = _first_against(columns, likely, signs) if for_likely is None or len(signs & {".", ","}) > 1 else None
    if for_likely is not None:  # where neither fits, the rarer mark is refused with its line
        return NumberStyle(likely, _only(signs - {likely}), f"{for_likely!r} has no other reading")
    if for_other is not None:
        return NumberStyle(other, _only(signs - {other}), f"{for_other!r} has no other reading")
    raise _ambiguous(columns, path)


def _signs(joined: str) -> set[str]:
    """Return the marks that stand between or before digits, of each kind one."""
    signs = {mark for mark in ".," if mark in joined and re.search(rf"[0-9]\{mark}|\{mark}[0-9]", joined)}
    if any(mark in joined for mark in _APOSTROPHES) and re.search(rf"[0-9][{_APOSTROPHES}][0-9]", joined):
        signs.add("'")
    if any(mark in joined for mark in _SPACES) and re.search(rf"[0-9][{_SPACES}][0-9]", joined):
        signs.add(" ")
    return signs


def _only(signs: set[str]) -> str:
    return min(signs) if len(signs) == 1 else ""


def _first_against(columns: Iterable[Sequence[str]], decimal: str, signs: set[str]) -> str | None:
    """Return a cell that cannot be read with this decimal mark, or None."""
    others = signs - {decimal}
    if len(others) > 1:
        return _first_with_two(columns, others)
    sign = _only(others)
    fits = grammar(decimal, sign).fullmatch
    for cells in columns:
        grouped = False
        joined = "\n".join(cells)
        for marked in _MARKED.finditer(joined) if any(mark in joined for mark in signs) or not joined.isascii() else ():
            bare = marked[0].strip()
            if not fits(bare) and _NUMERIC.fullmatch(bare):
                return str(bare)
            grouped = grouped or (bool(sign) and sign in bare)
        if grouped:
            long = next((cell for cell in cells if _LONG.match(cell)), None)
            if long is not None:
                return long.strip()
    return None


def _first_with_two(columns: Iterable[Sequence[str]], others: set[str]) -> str:
    """Return a cell that speaks against this decimal mark, as the file would have two kinds of thousands sign."""
    rare = min(others - {" ", "'"} or others)
    return next((cell.strip() for cells in columns for cell in cells if rare in cell and _NUMERIC.fullmatch(cell.strip())), rare)


def _ambiguous(columns: Sequence[Sequence[str]], path: PathText) -> ReadError:
    cell = next(cell.strip() for cells in columns for cell in cells if looks_like_a_number(cell) and ("," in cell or "." in cell))
    mark = "," if "," in cell else "."
    seen = f"{cell!r} may be a number with decimals or one with thousands, and no other number of the file says which"
    remedy = f"say it in a layout file: decimal = {mark!r}".replace(
        "'", '"'
    ) + f", or thousands = {mark!r} with the other decimal mark".replace("'", '"')
    return ReadError(path, seen, remedy=remedy)
