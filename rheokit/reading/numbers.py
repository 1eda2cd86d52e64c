"""Turn the cells of a column into numbers: strictly, with the line of the first cell that is none."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError, UnitError
from rheokit.base.units import parse_unit
from rheokit.reading.decimals import POINT, THOUSANDS, NumberStyle, grammar
from rheokit.reading.files import PathText
from rheokit.reading.words import MISSING_WORDS

__all__ = [
    "UNITS_ONCE",
    "Exact",
    "Numbers",
    "holds_a_unit",
    "is_missing",
    "is_number",
    "last_digit",
    "number_in",
    "plain_numbers",
    "to_numbers",
]

_NUMBER = grammar(".", "")
UNITS_ONCE = "write the numbers alone, and the unit once: in the heading, or in a row under it"
"""The remedy where cells hold numbers with their units."""

_WITH_UNIT = re.compile(r"[+\-\N{MINUS SIGN}]?[0-9][0-9.,]*\s*(?P<unit>[^\W\d_].{0,30}|[%°].{0,30}|(?<=\s)1/.{1,30})")
_CLOCK_LIKE = re.compile(r"\d+:\d")
_FILLERS = frozenset("-–—*._=#")
_USUAL = 1e200
"""Sum of squares up to which no unit of any use (its factor is 1e100 at most) makes a number infinite in SI."""

_MINUS = str.maketrans(dict.fromkeys("\N{MINUS SIGN}\u2013\uff0d", "-"))


class Exact(str):
    """A cell that was a number in a workbook, written with a decimal point and all its digits."""

    __slots__ = ()


class Numbers(NamedTuple):
    """A column as floats, shape (N,), and its cells written with a decimal point and without thousands signs."""

    values: FloatArray
    written: Sequence[str]


def is_number(cell: str) -> bool:
    """Tell whether a cell is a number with a decimal point."""
    return _NUMBER.fullmatch(cell.strip()) is not None


def is_missing(cell: str) -> bool:
    """Tell whether a cell says that there is no number."""
    word = cell.strip().casefold()
    return word in MISSING_WORDS or set(word) <= _FILLERS


def number_in(cell: str) -> float | None:
    """Return the finite number in a cell written with a decimal point, or None."""
    plain = cell.strip().translate(_MINUS)
    if _NUMBER.fullmatch(plain) is None:
        return None
    value = float(plain)
    return value if math.isfinite(value) else None


def holds_a_unit(cell: str) -> bool:
    """Tell whether a cell holds a number together with a unit, such as `462.4 Pa`."""
    matched = _WITH_UNIT.fullmatch(cell.strip())
    if matched is None:
        return False
    try:
        parse_unit(matched["unit"])
    except UnitError:
        return False
    return True


def last_digit(cell: str) -> float:
    """Return the worth of the last digit written: 0.01 for `3.14`, 10 for `1.2e2`; NaN when it is no number."""
    matched = _NUMBER.fullmatch(cell.strip().translate(_MINUS))
    if matched is None:
        return math.nan
    decimals = len(matched["decimals"] or matched["more"] or "")
    # A power beyond the range of a float would overflow; such a cell has been refused before.
    return float(f"1e{max(-400, min(400, int(matched['power'] or 0) - decimals))}")


def _float_reads_alike(cells: str) -> bool:
    """Tell whether float() takes nothing in the cells that is no number here: digits of other scripts, `1_000`, `nan` and `inf`."""
    return cells.isascii() and "_" not in cells and "n" not in cells and "N" not in cells


def plain_numbers(columns: Sequence[Sequence[str]], style: NumberStyle) -> list[Numbers] | None:
    """Return columns of equal length that hold nothing but plain numbers of a usual size, all at once; None where any cell is else."""
    if style.thousands or not columns:
        return None
    written: Sequence[Sequence[str]] = columns
    if style.decimal != ".":
        if any("." in cell for column in columns for cell in column):
            return None
        written = [[cell.replace(style.decimal, ".") for cell in column] for column in columns]
    cells = [cell for column in written for cell in column]
    if not _float_reads_alike("".join(cells)):
        return None
    try:
        values = np.fromiter(map(float, cells), np.float64, len(cells))
    except ValueError:
        return None
    with np.errstate(over="ignore"):
        if not np.dot(values, values) < _USUAL:
            return None
    return [Numbers(numbers, column) for numbers, column in zip(values.reshape(len(columns), -1), written, strict=True)]


def to_numbers(cells: Sequence[str], lines: Sequence[int], place: str, path: PathText, style: NumberStyle = POINT) -> Numbers:
    """Return a column as floats, NaN where a word says that the number is missing.

    Parameters
    ----------
    cells, lines
        The column and the line of each cell.
    place
        Which column it is, for the message.
    path
        The file, for the message.
    style
        How the numbers of the file are written.

    Raises
    ------
    ReadError
        Naming the line of the first cell that is neither.
    """
    plain: Sequence[str] = cells
    if style.decimal != "." or style.thousands:
        if not style.thousands and not any("." in cell for cell in cells):
            plain = [cell.replace(style.decimal, ".") for cell in cells]  # a decimal mark and nothing else to mend
        else:
            plain = [_with_point(cell, style) for cell in cells]
    if _float_reads_alike("".join(plain)):  # the usual column
        try:
            values = np.fromiter(map(float, plain), np.float64, len(plain))
        except ValueError:
            pass
        else:
            if np.isfinite(values).all():
                return Numbers(values, plain)
    found = []
    for one, cell, line in zip(plain, cells, lines, strict=True):
        value = number_in(one)
        if value is None and not is_missing(cell):
            raise _no_number(one, cell, style, f"line {line}, {place}", path)
        found.append(math.nan if value is None else value)
    return Numbers(np.array(found, dtype=np.float64), plain)


def _with_point(cell: str, style: NumberStyle) -> str:
    """Return a number of this style with a decimal point; a cell that is none is marked so that it stays none."""
    bare = cell.strip()
    if type(cell) is Exact or bare.isdigit():
        return bare
    if grammar(style.decimal, style.thousands).fullmatch(bare) is None:
        return bare if is_missing(bare) else f"?{bare}"
    for sign in THOUSANDS[style.thousands]:
        bare = bare.replace(sign, "")
    return bare.replace(style.decimal, ".")


def _no_number(plain: str, cell: str, style: NumberStyle, where: str, path: PathText) -> ReadError:
    shown = repr(str(cell.strip()))
    if is_number(plain.translate(_MINUS)):
        return ReadError(path, f"{shown} is too large for a number", place=where)
    return ReadError(path, f"{shown} is not a number", place=where, remedy=_remedy(cell, style))


def _remedy(cell: str, style: NumberStyle) -> str:
    if any(grammar(decimal, sign).fullmatch(cell.strip()) for decimal, sign in ((",", "."), (".", ","), (",", " "), (".", " "))):
        return f"the numbers of this file have {style} ({style.why}); write this one so too"
    if holds_a_unit(cell):
        return UNITS_ONCE
    if _CLOCK_LIKE.match(cell.strip()):
        return "if it is a clock time, name 'mm:ss' or 'hh:mm:ss' as the unit of the column"
    return "write a number, or leave the cell empty where there is none"
