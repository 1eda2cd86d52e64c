"""Leave aside tables that sum up the data beside them, and say which blocks may be summaries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from rheokit.base.finding import Finding
from rheokit.reading.blocks import Blocks, divide_body
from rheokit.reading.divider import RawTable
from rheokit.reading.files import PathText
from rheokit.reading.headings import Heading, read_headings
from rheokit.reading.layout import Layout
from rheokit.reading.rows import Row
from rheokit.reading.sheet import Sheet, known_columns
from rheokit.reading.words import STEP

__all__ = ["divide_tables", "holds_side_tables_only", "said_of_side_table"]

_CLOCKS = frozenset({"time", "step_time"})
_BESIDE = frozenset({STEP, "viscosity", "temperature", "normal_force", "loss_factor"})
"""A table that names nothing else says what came out of a step, or how it was set up."""


def is_side_table(headings: Sequence[Heading]) -> bool:
    """Tell whether headings name neither a rate, stress, torque, speed, strain, modulus or frequency nor a time."""
    return all(heading.quantity in _BESIDE for heading in headings if heading.quantity is not None)


def holds_side_tables_only(sheet: Sheet) -> bool:
    """Tell whether neither the header of a sheet nor another under it makes a table that is more."""
    under = (read_headings(row.cells, None) for row in sheet.body if len(row.cells) > 1) if is_side_table(sheet.headings) else ()
    return is_side_table(sheet.headings) and all(len(known_columns(one)) < 2 or is_side_table(one) for one in under)


def said_of_side_table(headings: Sequence[Heading]) -> str:
    """Return what such a table is, and that it is left aside."""
    held = [heading.quantity.replace("_", " ") for heading in headings if heading.quantity is not None and heading.quantity != STEP]
    return f"a table of {', '.join(held)} only, with neither rate, stress nor time: no step, left aside"


def divide_tables(sheet: Sheet, path: PathText, layout: Layout | None = None) -> Blocks:
    """Return the tables and blocks of a body, without tables that sum up others.

    Raises
    ------
    ReadError
        As `divide_body`.
    """
    blocks = divide_body(sheet, path, layout)
    aside = [table for table in blocks.tables if is_side_table(table.headings)] if len(blocks.tables) > 1 else []
    if aside and len(aside) < len(blocks.tables):
        blocks = divide_body(_without(sheet, blocks.tables, aside), path, layout)
        blocks = replace(blocks, findings=(*blocks.findings, *map(_left_aside, aside)))
    said = (*_about_times(blocks.tables), *_about_single_rows(blocks))
    return replace(blocks, findings=(*blocks.findings, *said)) if said else blocks


def _without(sheet: Sheet, tables: Sequence[RawTable], aside: Sequence[RawTable]) -> Sheet:
    """Return a sheet without the headers, units rows and points of some tables; the first of the others gives the header."""
    first = next(table for table in tables if table not in aside)
    gone = {row.line for table in aside for row in table.rows} | {table.units.line for table in aside if table.units is not None}
    headers = {table.headings for table in aside}
    rows = [row for row in sheet.body if row.line not in gone and not _is_header(row, headers)]
    if tables[0] is first:
        return replace(sheet, body=rows)
    above = [row for row in rows if row.cells and row.line < first.line]
    body = [row for row in rows if row.line > first.line]
    return replace(sheet, preamble=(*sheet.preamble, *above), line=first.line, headings=first.headings, body=body)


def _is_header(row: Row, headers: set[tuple[Heading, ...]]) -> bool:
    return any(len(row.cells) == len(header) and row.cells[0].split() == header[0].text.split() for header in headers) and (
        read_headings(row.cells, None) in headers
    )


def _left_aside(table: RawTable) -> Finding:
    first, last = table.rows[0].line, table.rows[-1].last_line
    reason = f"lines {first} to {last}: " if last > first else f"line {first}: "
    return Finding(check="side_table", severity="info", reason=reason + said_of_side_table(table.headings), rows=(first, last))


def _about_times(tables: Sequence[RawTable]) -> tuple[Finding, ...]:
    """Say which table has no time where another has one."""
    if len(tables) == 1:
        return ()
    timed = [any(heading.quantity in _CLOCKS for heading in table.headings) for table in tables]
    if all(timed) or not any(timed):
        return ()
    bare = [table for table, has in zip(tables, timed, strict=True) if not has]
    return tuple(
        Finding(
            check="side_table",
            severity="caution",
            reason=f"the table under line {table.line} has no time, as others have, and is read as a step: is it a summary?",
            rows=(table.rows[0].line, table.rows[-1].last_line),
        )
        for table in bare
    )


def _about_single_rows(blocks: Blocks) -> tuple[Finding, ...]:
    """Say which row stands alone between empty lines where these divide the steps and others hold more rows."""
    if blocks.how != "divided by empty lines" or any(one.quantity == STEP for table in blocks.tables for one in table.headings):
        return ()
    rows = [row for table in blocks.tables for row in table.rows]
    alone = [rows[begin] for begin, end in pairwise((*blocks.starts, len(rows))) if end - begin == 1]
    if len(alone) == len(blocks.starts):
        return ()
    return tuple(
        Finding(
            check="single_row",
            severity="caution",
            reason=f"line {row.line} stands alone behind an empty line and is read as a step: is it a summary of rows above?",
            rows=(row.line, row.last_line),
        )
        for row in alone
    )
