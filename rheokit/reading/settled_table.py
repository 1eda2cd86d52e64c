"""Settle the tables of an export: what each column is, and the cells of each column under each other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from rheokit.base.finding import Finding
from rheokit.reading.clock import CLOCK_UNITS, is_day
from rheokit.reading.columns import Column, settle_columns
from rheokit.reading.divider import RawTable
from rheokit.reading.files import PathText
from rheokit.reading.numbers import is_missing
from rheokit.reading.spellings import about_spellings, in_usual_spelling

__all__ = ["SettledTable", "dates_of", "each_once", "in_usual_cells", "settled"]

_CLOCKS = frozenset({"time", "step_time"})


class SettledTable(NamedTuple):
    """One table: its columns, the cells of each column, and the line of each row."""

    columns: tuple[Column, ...]
    across: list[tuple[str, ...]]
    lines: tuple[int, ...]


def settled(table: RawTable, path: PathText) -> SettledTable:
    """Return a table whose columns are settled.

    Raises
    ------
    ReadError
        As `settle_columns`.
    """
    across = list(zip(*(row.cells for row in table.rows), strict=True))
    below = table.units.cells if table.units is not None else None
    sample = [
        _first_time(cells) if heading.quantity in _CLOCKS else cells[0] for heading, cells in zip(table.headings, across, strict=True)
    ]
    columns = settle_columns(table.headings, table.line, below, sample, path)
    return SettledTable(columns, across, tuple(row.line for row in table.rows))


def _first_time(cells: Sequence[str]) -> str:
    """Return the first cell of a column that shows how times are written: neither a word for a missing one nor midnight as a day alone."""
    first = cells[0]
    if first.isdecimal():  # as most are
        return first
    return next((cell for cell in cells if not is_day(cell) and not is_missing(cell)), first)


def each_once(tables: Sequence[SettledTable]) -> tuple[Column, ...]:
    """Return the columns of all tables, without those that a table before has too."""
    if len(tables) == 1:
        return tables[0].columns
    return tuple({(column.heading, column.meaning, column.unit): column for table in reversed(tables) for column in table.columns}.values())


def in_usual_cells(tables: Sequence[SettledTable]) -> tuple[list[SettledTable], list[Finding]]:
    """Return tables of which a cell could not be read with every number in the usual spelling, and what stood beside numbers."""
    found: list[SettledTable] = []
    findings: list[Finding] = []
    for table in tables:
        across = list(table.across)
        for index, column in enumerate(table.columns):
            if column.unit is not None and column.unit.symbol not in CLOCK_UNITS:
                usual = in_usual_spelling(across[index])
                findings += about_spellings(column.place, across[index], table.lines, usual)
                across[index] = usual.cells
        found.append(table._replace(across=across))
    return found, findings


def dates_of(tables: Sequence[SettledTable]) -> Sequence[str] | None:
    """Return the dates beside the points, or None where a table has no column of dates."""
    found: list[str] = []
    for table in tables:
        index = next((at for at, column in enumerate(table.columns) if column.role == "date"), None)
        if index is None:
            return None
        found += table.across[index]
    return found
