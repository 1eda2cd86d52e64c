"""Divide the body of an export into tables (a header with its rows) and blocks of rows (steps), and set aside what is neither.

Where no column names the step, blocks are steps. The strongest sign that divides the rows at all is used: lines that announce a step,
else headers that are repeated, else empty lines (unless every row stands alone: then they are spacing).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding
from rheokit.reading.block_findings import about_notes, about_odd_rows
from rheokit.reading.cut_decimals import check_cut_decimals
from rheokit.reading.decimals import looks_like_a_number
from rheokit.reading.divider import Divider, RawTable
from rheokit.reading.files import PathText
from rheokit.reading.layout import Layout
from rheokit.reading.numbers import UNITS_ONCE, holds_a_unit
from rheokit.reading.rows import Row
from rheokit.reading.sheet import Sheet
from rheokit.reading.summaries import about_summaries

__all__ = ["Blocks", "divide_body"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Blocks:
    """The tables of a body, the index of the point with which each block begins, how that is seen, notes and findings."""

    tables: tuple[RawTable, ...]
    starts: tuple[int, ...]
    how: str
    notes: tuple[Row, ...]
    findings: tuple[Finding, ...]


def divide_body(sheet: Sheet, path: PathText, layout: Layout | None = None) -> Blocks:
    """Return the tables and blocks of a body.

    Raises
    ------
    ReadError
        When nothing follows the header or units row, or a row of numbers is wider or narrower than the header (the last one is left
        out with a caution when it is narrower).
    """
    divider = Divider(sheet, path, layout)
    at = 0
    while (at := divider.take_points(sheet.body, at)) < len(sheet.body):
        divider.take(sheet.body[at], sheet.body[at + 1] if at + 1 < len(sheet.body) else None)
        at += 1
    divider.settle_words()
    first = divider.tables[0]
    if first.units is None and sheet.units_above is not None:
        first.units = sheet.units_above
    findings = about_odd_rows(divider)
    if not divider.points:
        units = divider.tables[0].units
        _refuse_units_in_cells([*([units] if units else []), *(row for _, row in divider.notes)], path)
        place = f"line {units.line if units else sheet.line}"
        seen = f"nothing follows the {'units row' if units else 'header'}"
        raise ReadError(path, seen, place=place, remedy="export the measured points too")
    starts, how = _starts(divider)
    tables = tuple(table for table in divider.tables if table.rows)
    return Blocks(
        tables=tables,
        starts=starts,
        how=how,
        notes=(*(row for _, row in divider.notes), *divider.summaries),
        findings=(
            *findings,
            *about_notes(divider, starts),
            *about_summaries(divider.summaries),
            *(_about_commas(divider, tables, layout) if sheet.delimiter == "," else ()),
        ),
    )


def _has_point(table: RawTable) -> bool:
    """Tell whether the last quantity of the first point is a number with a decimal point."""
    cell = table.rows[0].cells[table.known[-1]] if table.known else ""
    return "." in cell and looks_like_a_number(cell)


def _about_commas(divider: Divider, tables: Sequence[RawTable], layout: Layout | None) -> tuple[Finding, ...]:
    """Hold the cells of tables divided by commas against decimal commas, unless a layout file says what the decimal mark is."""
    if layout is not None and layout.decimal is not None:
        return ()
    if _has_point(tables[0]):  # as good as always
        return ()
    wider = len(divider.shortened) == divider.points and all(len(row.cells) > len(tables[0].headings) + 1 for row in divider.shortened)
    found = (check_cut_decimals(table.headings, table.rows, wider=wider, path=divider.path) for table in tables)
    return next(filter(None, found), ())


def _refuse_units_in_cells(rows: Sequence[Row], path: PathText) -> None:
    """Refuse a table of which no row is a point as its cells hold units beside the numbers."""
    for row in rows:
        cell = next(filter(holds_a_unit, row.cells), None)
        if cell is not None and not row.comment:
            raise ReadError(path, f"{cell.strip()!r} is a number with its unit", place=f"line {row.line}", remedy=UNITS_ONCE)


def _starts(divider: Divider) -> tuple[tuple[int, ...], str]:
    """Return where the blocks begin, by the strongest sign that divides the points, and the words for it."""
    announced, headers = [at for at, _, _ in divider.announced], [at for at, _ in divider.headers]
    said = ", ".join(repr(text) for _, text, _ in divider.announced[:3]) + (" ..." if len(announced) > 3 else "")
    for places, how in ((announced, f"announced by lines such as {said}"), (headers, "each under a header of its own")):
        starts = _inner(places, divider.points)
        if len(starts) > 1:
            return starts, how
    starts = _inner(divider.blanks, divider.points)
    if 1 < len(starts) < divider.points:
        return starts, "divided by empty lines"
    return (0,), ""


def _inner(places: Sequence[int], points: int) -> tuple[int, ...]:
    return tuple(sorted({0, *(at for at in places if at < points)}))
