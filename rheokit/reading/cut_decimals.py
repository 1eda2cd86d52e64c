"""See decimal commas that have become cells of their own in a table divided by commas, where spare columns make room for them."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding
from rheokit.reading.decimals import looks_like_a_number
from rheokit.reading.files import PathText
from rheokit.reading.headings import Heading
from rheokit.reading.rows import Row
from rheokit.reading.words import STEP, role_of

__all__ = ["check_cut_decimals"]

_PADDED = re.compile(r"\s*0[0-9]+\s*")
"""The 05 of 1,05: no whole number is written so."""

_STATES = 3
"""Different numbers that make one spare column no status: that is 0 or 1, and decimals differ from row to row."""

_SEEN = "no number of the file has a decimal point: decimal commas seem to have cut them"
_REMEDY = (
    "export with semicolons or tabs between the cells, or with a decimal point; where the numbers are whole, "
    'write decimal = "." into a layout file'
)


def check_cut_decimals(headings: Sequence[Heading], rows: Sequence[Row], *, wider: bool, path: PathText) -> tuple[Finding, ...]:
    """Return a caution when numbers of a table divided by commas seem to stand in two cells each.

    Parameters
    ----------
    headings, rows
        The table.
    wider
        Whether every row was wider than the header by two empty cells or more.
    path
        The file, for the message.

    Raises
    ------
    ReadError
        When no number has a decimal point, and columns without a heading, behind the first that names a quantity, hold numbers, or
        a number begins with a zero as decimals do.
    """
    if any("." in cell and looks_like_a_number(cell) for row in rows for cell in row.cells):  # in most files, one of the first cells
        return ()
    _refuse_padded(headings, rows, path)
    spare = _spare(headings)
    held = [index for index in spare if any(looks_like_a_number(row.cells[index]) for row in (rows[0], rows[-1]))]
    if not (held or wider):
        return ()
    nameless = [str(index + 1) for index in held if not headings[index].text]
    if nameless:
        what = (
            f"columns {', '.join(nameless)} without a heading hold"
            if len(nameless) > 1
            else f"column {nameless[0]} without a heading holds"
        )
        raise ReadError(path, f"{what} numbers, and {_SEEN}", place=f"line {rows[0].line}", remedy=_REMEDY)
    if not wider and len(held) == 1 and len({row.cells[held[0]] for row in rows}) < _STATES:
        return ()
    names = " and ".join(repr(headings[index].text) for index in held)
    where = "every row is wider than the header" if wider else f"{names} hold{'' if len(held) > 1 else 's'} numbers"
    reason = f"{where}, and {_SEEN}; if so, {_REMEDY}"
    return (Finding(check="decimal_comma", severity="caution", reason=reason, rows=(rows[0].line, rows[-1].line)),)


def _refuse_padded(headings: Sequence[Heading], rows: Sequence[Row], path: PathText) -> None:
    known = [index for index, heading in enumerate(headings) if heading.quantity not in {None, STEP}]
    for row in rows:
        for index in known:
            if _PADDED.fullmatch(row.cells[index]):
                seen = f"{row.cells[index].strip()!r} begins with a zero as decimals do, and {_SEEN}"
                raise ReadError(path, seen, place=f"line {row.line}, column {index + 1} ({headings[index].text!r})", remedy=_REMEDY)


def _spare(headings: Sequence[Heading]) -> list[int]:
    """Return the columns behind the first quantity that are neither a quantity or step nor a number of the point."""
    first = next((index for index, heading in enumerate(headings) if heading.quantity is not None), len(headings))
    return [
        index
        for index, heading in enumerate(headings)
        if index > first and heading.quantity is None and (not heading.text or role_of(heading.text) != "point number")
    ]
