"""Turn the points of the tables of an export into columns of numbers in SI, with the lines they stand on and the steps they belong to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding
from rheokit.reading.blocks import Blocks
from rheokit.reading.body_findings import about_columns_aside, about_missing, about_style, about_tables, is_complete
from rheokit.reading.clock import CLOCK_UNITS, HOURS, MINUTES, to_seconds
from rheokit.reading.columns import Column, in_si
from rheokit.reading.decimals import NumberStyle, decide_style
from rheokit.reading.files import PathText
from rheokit.reading.layout import Layout
from rheokit.reading.numbers import Exact, Numbers, plain_numbers, to_numbers
from rheokit.reading.settled_table import SettledTable, dates_of, each_once, in_usual_cells, settled
from rheokit.reading.step_labels import step_labels

__all__ = ["Body", "read_body"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Body:
    """The measured points of an export.

    Attributes
    ----------
    columns
        What each column is, table by table; a column that is in a table before is not repeated.
    values, written
        Quantity to values [SI], shape (N,), and to the cells as written, with a decimal point and without thousands signs.
    labels, how
        The step label of each row, or None where nothing but the time can tell, and the words for what told it.
    lines
        The line of each row.
    style
        How the numbers are written.
    findings
        What was seen.
    dates
        The date of each row, where a column of dates stands in every table.
    tables
        The first row of each table.
    """

    columns: tuple[Column, ...]
    values: Mapping[str, FloatArray]
    written: Mapping[str, Sequence[str]]
    labels: Sequence[str] | None
    how: str
    lines: Sequence[int]
    style: NumberStyle
    findings: tuple[Finding, ...]
    dates: Sequence[str] | None = None
    tables: tuple[int, ...] = (0,)


def read_body(blocks: Blocks, delimiter: str, path: PathText, layout: Layout | None = None) -> Body:
    """Return the numbers of an export in SI.

    Raises
    ------
    ReadError
        When a column cannot be settled, a cell is no number, the numbers have two readings, or the first step has no label.
    """
    tables = [settled(table, path) for table in blocks.tables]
    lines = tables[0].lines if len(tables) == 1 else tuple(line for table in tables for line in table.lines)
    with np.errstate(over="ignore"):  # a number that is too large is refused with its line
        try:
            style, numbers = _in_numbers(tables, delimiter, path, layout)
            spelled: list[Finding] = []
        except ReadError:
            tables, spelled = in_usual_cells(tables)
            style, numbers = _in_numbers(tables, delimiter, path, layout)
        values, written = _together(numbers, [len(table.lines) for table in tables])
        complete = {name for name, column in values.items() if is_complete(column)}
        missing = about_missing(values, lines, complete)
        empty = [name for name, column in values.items() if name not in complete and np.isnan(column).all()]
    labels, how, about_steps = step_labels(tables, blocks, lines, path)
    findings = (
        *blocks.findings,
        *about_steps,
        *spelled,
        *about_style(style, tables),
        *about_tables(blocks.tables, tables),
        *about_columns_aside(tables),
        *missing,
    )
    for name in empty:
        del values[name], written[name]
    return Body(
        columns=each_once(tables),
        values=values,
        written=written,
        labels=labels,
        how=how,
        lines=lines,
        style=style,
        findings=findings,
        dates=dates_of(tables),
        tables=tuple(accumulate((len(table.lines) for table in tables[:-1]), initial=0)),
    )


def _in_numbers(
    tables: Sequence[SettledTable], delimiter: str, path: PathText, layout: Layout | None
) -> tuple[NumberStyle, list[dict[str, Numbers]]]:
    style = _style(tables, delimiter, path, layout)
    return style, [_numbers(table, style, path) for table in tables]


def _style(tables: Sequence[SettledTable], delimiter: str, path: PathText, layout: Layout | None) -> NumberStyle:
    cells = [
        column_cells
        for table in tables
        for column, column_cells in zip(table.columns, table.across, strict=True)
        if column.unit is not None and column.unit.symbol not in CLOCK_UNITS
    ]
    cells += [
        tuple(cell.rpartition(":")[2] for cell in column_cells)  # seconds and their decimals
        for table in tables
        for column, column_cells in zip(table.columns, table.across, strict=True)
        if column.unit is not None and column.unit.symbol in {HOURS, MINUTES}
    ]
    decimal, thousands = (None, None) if layout is None else (layout.decimal, layout.thousands)
    if not delimiter:  # a workbook, where most numbers are exact and show no style
        cells = [tuple(cell for cell in column if type(cell) is not Exact) for column in cells]
    return decide_style(cells, delimiter, decimal, thousands, path)


def _numbers(table: SettledTable, style: NumberStyle, path: PathText) -> dict[str, Numbers]:
    """Return the columns of one table that hold a quantity, in SI."""
    found: dict[str, Numbers] = {}
    measured = [(column, column.unit, cells) for column, cells in zip(table.columns, table.across, strict=True) if column.unit is not None]
    plain = plain_numbers([cells for _, _, cells in measured], style)
    for at, (column, unit, cells) in enumerate(measured):
        if unit.symbol in CLOCK_UNITS:
            numbers = Numbers(to_seconds(cells, table.lines, unit.symbol, column.place, path), cells)
        else:
            numbers = plain[at] if plain else to_numbers(cells, table.lines, column.place, path, style)
            values = in_si(numbers.values, unit)
            if not plain:
                _require_finite(values, table.lines, column.place, path)
            numbers = Numbers(values, numbers.written)
        found[str(column.meaning)] = numbers
    return found


def _together(parts: Sequence[Mapping[str, Numbers]], sizes: Sequence[int]) -> tuple[dict[str, FloatArray], dict[str, Sequence[str]]]:
    """Put tables with other columns under each other; NaN and an empty cell stand where a table has no such column."""
    if len(parts) == 1:
        return {name: one.values for name, one in parts[0].items()}, {name: one.written for name, one in parts[0].items()}
    values: dict[str, FloatArray] = {}
    written: dict[str, Sequence[str]] = {}
    for name in dict.fromkeys(name for part in parts for name in part):
        columns = [part.get(name) or Numbers(np.full(size, np.nan), ("",) * size) for part, size in zip(parts, sizes, strict=True)]
        values[name] = np.concatenate([column.values for column in columns])
        written[name] = tuple(cell for column in columns for cell in column.written)
    return values, written


def _require_finite(values: FloatArray, lines: Sequence[int], place: str, path: PathText) -> None:
    infinite = np.isinf(values)
    if infinite.any():
        line = lines[int(np.argmax(infinite))]
        raise ReadError(path, "the number is too large in SI units", place=f"line {line}, {place}")
