"""Settle what each column is: quantity and unit, from the header, a units row under it, or a layout file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rheokit.base.errors import ReadError, UnitError
from rheokit.base.quantities import quantity, unit_of
from rheokit.base.units import Unit
from rheokit.reading.files import PathText
from rheokit.reading.headings import Heading, without_brackets
from rheokit.reading.numbers import has_decimal_comma, is_missing, is_number
from rheokit.reading.relative import is_relative
from rheokit.reading.rows import Row
from rheokit.reading.sheet import Sheet
from rheokit.reading.words import NEEDS_NO_UNIT, STEP

__all__ = ["Column", "Settled", "settle_columns"]

_RELATIVE = "relative"
"""Where the unit of a heading comes from that was set aside as a relative reading."""


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column: its number from 1, its heading, what it means, its unit and where that was written.

    `meaning` is a quantity, `step`, or None for a column that is set aside; `unit` is None for the last two.
    """

    number: int
    heading: str
    meaning: str | None
    unit: Unit | None
    unit_from: str
    from_layout: bool
    relative: bool = False
    """A spindle's or dial's reading, or a part of full scale; `meaning` is None then."""

    @property
    def place(self) -> str:
        """How messages name it."""
        return f"column {self.number} ({self.heading!r})"


@dataclass(frozen=True, eq=False, kw_only=True)
class Settled:
    """What the columns are, the line of the units row if there is one, and the rows of numbers."""

    columns: tuple[Column, ...]
    units_line: int | None
    rows: tuple[Row, ...]


def settle_columns(sheet: Sheet, path: PathText) -> Settled:
    """Return what every column of the sheet is.

    Raises
    ------
    ReadError
        When two columns are one quantity, a unit is missing, unknown or of another quantity, or nothing follows the header.
    """
    line = sheet.header.line
    if not sheet.body:
        raise ReadError(path, "nothing follows the header", place=f"line {line}", remedy="export the measured points too")
    headings = _one_each([_set_aside(one) if is_relative(one.text, one.quantity, one.unit) else one for one in sheet.headings], line, path)
    units_row = sheet.body[0] if _is_units_row(sheet.body[0], headings) else None
    rows = sheet.body[1:] if units_row else sheet.body
    if not rows:
        raise ReadError(path, "nothing follows the units row", place=f"line {sheet.body[0].line}", remedy="export the measured points too")
    below = units_row.cells if units_row else [""] * len(headings)
    columns = tuple(
        _column(number, heading, cell, line, path) for number, (heading, cell) in enumerate(zip(headings, below, strict=True), 1)
    )
    return Settled(columns=columns, units_line=units_row.line if units_row else None, rows=rows)


def _set_aside(heading: Heading) -> Heading:
    return Heading(heading.text, None, None, _RELATIVE)


def _one_each(headings: Sequence[Heading], line: int, path: PathText) -> list[Heading]:
    """Return the headings with each quantity once: a column that a layout names displaces others, two equals are refused."""
    named = {heading.quantity for heading in headings if heading.from_layout}
    kept = [heading if heading.from_layout or heading.quantity not in named else Heading(heading.text, None, None) for heading in headings]
    first: dict[str, Heading] = {}
    for heading in kept:
        if heading.quantity is None:
            continue
        if heading.quantity in first:
            what = heading.quantity.replace("_", " ")
            seen = f"two columns for {what}: {first[heading.quantity].text!r} and {heading.text!r}"
            raise ReadError(path, seen, place=f"line {line}", remedy="remove one, or name the one that counts in a layout file")
        first[heading.quantity] = heading
    return kept


def _is_units_row(row: Row, headings: Sequence[Heading]) -> bool:
    """Tell whether a row holds units: nothing under a quantity is a number (but the unit `1`), and something is a word."""
    if len(row.cells) != len(headings):
        return False
    under = [without_brackets(cell) for cell, heading in zip(row.cells, headings, strict=True) if heading.quantity not in {None, STEP}]
    if any((is_number(cell) and cell != "1") or has_decimal_comma(cell) for cell in under):
        return False
    return any(cell != "1" and not is_missing(cell) for cell in under)


def _column(number: int, heading: Heading, below: str, line: int, path: PathText) -> Column:
    name, stated, source = heading.quantity, heading.unit, heading.unit_from
    unit: Unit | None = None
    relative = source == _RELATIVE or is_relative(heading.text, name, stated or without_brackets(below))
    name = None if relative else name
    if name is not None and name != STEP:
        place = f"line {line}, column {number} ({heading.text!r})"
        in_row = without_brackets(below)
        if stated is None and in_row:
            stated, source = in_row, "units row"
        unit = _unit(stated, name, heading.text, place, path)
        if in_row and source == "header" and unit_of(in_row, name).to_si(1.0) != unit.to_si(1.0):
            seen = f"the heading says {stated!r} and the units row {in_row!r}"
            raise ReadError(path, seen, place=place, remedy="correct one, or name the unit in a layout file")
    return Column(
        number=number,
        heading=heading.text,
        meaning=name,
        unit=unit,
        unit_from=source if unit else "",
        from_layout=heading.from_layout,
        relative=relative,
    )


def _unit(stated: str | None, name: str, heading: str, place: str, path: PathText) -> Unit:
    if stated is None and name in NEEDS_NO_UNIT:
        stated = "1"
    wanted = f"write the unit into the header, for example '{heading} [{quantity(name).display_unit}]'"
    if stated is None:
        seen = f"{name.replace('_', ' ')} has no unit"
        raise ReadError(path, seen, place=place, remedy=f"{wanted}, into a units row under it, or into a layout file")
    try:
        return unit_of(stated, name)
    except UnitError as error:
        raise ReadError(path, str(error), place=place) from None
