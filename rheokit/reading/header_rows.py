"""Read a header of more than one row: names over two rows, and units above the names instead of under them."""

from __future__ import annotations

from collections.abc import Sequence

from rheokit.reading.headings import Heading, is_unit_of, read_headings, without_brackets
from rheokit.reading.layout import Layout
from rheokit.reading.rows import Row
from rheokit.reading.words import NEEDS_NO_UNIT, STEP, role_of

__all__ = ["as_units_row", "count_named", "has_unknown", "names_over_two_rows", "units_above"]


def count_named(headings: Sequence[Heading]) -> int:
    """Return how many quantities headings name, a step counted once."""
    names = [heading.quantity for heading in headings if heading.quantity is not None]
    return sum(name != STEP for name in names) + (STEP in names)


def has_unknown(headings: Sequence[Heading]) -> bool:
    """Tell whether a column is of no known use, so that the row above or below may say more of its name."""
    return any(heading.quantity is None and not role_of(heading.text) for heading in headings)


def names_over_two_rows(above: Row, below: Row, layout: Layout | None) -> tuple[Heading, ...] | None:
    """Return the headings of two rows taken together, or None where they are no names over two rows.

    Together they name more quantities than either row by itself; or more than the lower one, a header in its own right, and not fewer
    than the upper one (`Schergeschwindigkeit` above `D [1/s]`).
    """
    if bool(above.comment) != bool(below.comment) or above.last_line + 1 != below.line or below.line != below.last_line:
        return None
    width = max(len(above.cells), len(below.cells))
    if min(len(above.cells), len(below.cells)) < 2 or not any(map(str.strip, below.cells)):
        return None
    upper, lower = ([*row.cells, *[""] * (width - len(row.cells))] for row in (above, below))
    headings = read_headings([f"{one} {other}".strip() for one, other in zip(upper, lower, strict=True)], layout)
    named, alone = count_named(headings), [count_named(read_headings(cells, layout)) for cells in (upper, lower)]
    more = named > max(alone) or (named > alone[1] >= 2 and named >= alone[0])
    return headings if named >= 2 and more and _each_once(headings) else None


def _each_once(headings: Sequence[Heading]) -> bool:
    names = [heading.quantity for heading in headings if heading.quantity is not None]
    return len(set(names)) == len(names)


def units_above(row: Row, header: Row, headings: Sequence[Heading]) -> Row | None:
    """Return a row directly above a header if it holds the unit of every quantity that has none in its heading, else None."""
    if row.last_line + 1 != header.line:
        return None
    units = as_units_row(row, headings, commented=bool(header.comment)) if row.comment else row
    if units.comment or bool(header.comment) > bool(row.comment) or not _holds_units(units.cells, headings):
        return None
    return units


def as_units_row(row: Row, headings: Sequence[Heading], *, commented: bool) -> Row:
    """Return a row behind a comment mark as a row of units, if it holds nothing else, and as it is if not.

    The mark `%` may be the first unit, and under a header behind a comment mark its units stand behind one too.
    """
    cells = ["%", *row.cells] if row.comment == "%" and len(row.cells) + 1 == len(headings) else row.cells
    if (cells is row.cells and not commented) or not _holds_units(cells, headings):
        return row
    return row._replace(cells=cells, comment="")


def _holds_units(cells: Sequence[str], headings: Sequence[Heading]) -> bool:
    """Tell whether cells as many as the headings hold the unit of every quantity that has none in its heading."""
    if len(cells) != len(headings):
        return False
    wanting = [
        (cell, heading.quantity)
        for cell, heading in zip(cells, headings, strict=True)
        if heading.quantity not in {None, STEP} and heading.unit is None
    ]
    units = [(without_brackets(cell), str(name)) for cell, name in wanting if cell.strip() or name not in NEEDS_NO_UNIT]
    return bool(units) and all(is_unit_of(unit, name) for unit, name in units)
