"""Turn the cells of a column into numbers: strictly, with the line of the first cell that is none."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError
from rheokit.reading.files import PathText
from rheokit.reading.words import MISSING_WORDS

__all__ = ["has_decimal_comma", "is_missing", "is_number", "last_digit", "number_in", "to_numbers"]

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.(?P<decimals>[0-9]*))?|\.(?P<more>[0-9]+))(?:[eE](?P<power>[+-]?[0-9]+))?")
_ONLY_DIGITS = re.compile(r"[0-9.+\-eE ]*")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+(?:[eE][+-]?[0-9]+)?")
_FILLERS = frozenset("-–—*.")


def _plain(cell: str) -> str:
    return cell.strip().replace("\N{MINUS SIGN}", "-")


def is_number(cell: str) -> bool:
    """Tell whether a cell is a number."""
    return _NUMBER.fullmatch(_plain(cell)) is not None


def is_missing(cell: str) -> bool:
    """Tell whether a cell says that there is no number."""
    word = cell.strip().casefold()
    return word in MISSING_WORDS or set(word) <= _FILLERS


def has_decimal_comma(cell: str) -> bool:
    """Tell whether a cell is a number but for its decimal comma."""
    return _DECIMAL_COMMA.fullmatch(_plain(cell)) is not None


def number_in(cell: str) -> float | None:
    """Return the finite number in a cell, or None."""
    plain = _plain(cell)
    if _NUMBER.fullmatch(plain) is None:
        return None
    value = float(plain)
    return value if math.isfinite(value) else None


def last_digit(cell: str) -> float:
    """Return the worth of the last digit written: 0.01 for `3.14`, 10 for `1.2e2`; NaN when it is no number."""
    matched = _NUMBER.fullmatch(_plain(cell))
    if matched is None:
        return math.nan
    decimals = len(matched["decimals"] or matched["more"] or "")
    # A power beyond the range of a float would overflow; such a cell has been refused before.
    return float(f"1e{max(-400, min(400, int(matched['power'] or 0) - decimals))}")


def to_numbers(cells: Sequence[str], lines: Sequence[int], place: str, path: PathText) -> FloatArray:
    """Return a column as floats, shape (N,), NaN where a word says that the number is missing.

    Parameters
    ----------
    cells, lines
        The column and the line of each cell.
    place
        Which column it is, for the message.
    path
        The file, for the message.

    Raises
    ------
    ReadError
        Naming the line of the first cell that is neither.
    """
    if _ONLY_DIGITS.fullmatch("".join(cells)):  # the usual column: no sign in it that float() would read in a way of its own
        try:
            values = np.array(list(map(float, cells)), dtype=np.float64)
        except ValueError:
            pass
        else:
            if np.isfinite(values).all():
                return values
    return np.array([_number(cell, line, place, path) for cell, line in zip(cells, lines, strict=True)], dtype=np.float64)


def _number(cell: str, line: int, place: str, path: PathText) -> float:
    value = number_in(cell)
    if value is not None:
        return value
    if is_missing(cell):
        return math.nan
    if is_number(cell):
        raise ReadError(path, f"{cell.strip()!r} is too large for a number", place=f"line {line}, {place}")
    remedy = "write a decimal point" if has_decimal_comma(cell) else "write a number, or leave the cell empty where there is none"
    raise ReadError(path, f"{cell.strip()!r} is not a number", place=f"line {line}, {place}", remedy=remedy)
