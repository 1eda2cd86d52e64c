"""Turn the points of the tables of an export into columns of numbers in SI, with the lines they stand on and the steps they belong to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding
from rheokit.reading.blocks import Blocks, RawTable
from rheokit.reading.clock import CLOCK_UNITS, HOURS, MINUTES, to_seconds
from rheokit.reading.columns import Column, in_si, settle_columns
from rheokit.reading.decimals import NumberStyle, decide_style, doubtful_thousands
from rheokit.reading.files import PathText
from rheokit.reading.layout import Layout
from rheokit.reading.numbers import Exact, Numbers, plain_numbers, to_numbers
from rheokit.reading.spellings import about_spellings, in_usual_spelling
from rheokit.reading.words import STEP

__all__ = ["BY_STEP_COLUMN", "Body", "about_missing", "about_remarks", "read_body"]

BY_STEP_COLUMN = "by the step column"


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


class _Table(NamedTuple):
    """One table: its columns, the cells of each column, and the line of each row."""

    columns: tuple[Column, ...]
    across: list[tuple[str, ...]]
    lines: tuple[int, ...]


def read_body(blocks: Blocks, delimiter: str, path: PathText, layout: Layout | None = None) -> Body:
    """Return the numbers of an export in SI.

    Raises
    ------
    ReadError
        When a column cannot be settled, a cell is no number, the numbers have two readings, or the first step has no label.
    """
    tables = [_settled(table, path) for table in blocks.tables]
    lines = tables[0].lines if len(tables) == 1 else tuple(line for table in tables for line in table.lines)
    with np.errstate(over="ignore"):  # a number that is too large is refused with its line
        try:
            style, numbers = _in_numbers(tables, delimiter, path, layout)
            spelled: list[Finding] = []
        except ReadError:
            tables, spelled = _in_usual_spelling(tables)
            style, numbers = _in_numbers(tables, delimiter, path, layout)
        values, written = _together(numbers, [len(table.lines) for table in tables])
        missing = about_missing(values, lines)
        empty = [name for name, column in values.items() if not _is_complete(column) and np.isnan(column).all()]
    labels, how, about_steps = _steps(tables, blocks, lines, path)
    findings = (
        *blocks.findings,
        *about_steps,
        *spelled,
        *_about_style(style, tables),
        *_about_tables(blocks.tables, tables),
        *_aside(tables),
        *missing,
    )
    for name in empty:
        del values[name], written[name]
    return Body(
        columns=_each_once(tables),
        values=values,
        written=written,
        labels=labels,
        how=how,
        lines=lines,
        style=style,
        findings=findings,
        dates=_dates(tables),
        tables=tuple(accumulate((len(table.lines) for table in tables[:-1]), initial=0)),
    )


def _settled(table: RawTable, path: PathText) -> _Table:
    across = list(zip(*(row.cells for row in table.rows), strict=True))
    below = table.units.cells if table.units is not None else None
    columns = settle_columns(table.headings, table.line, below, table.rows[0].cells, path)
    return _Table(columns, across, tuple(row.line for row in table.rows))


def _in_numbers(
    tables: Sequence[_Table], delimiter: str, path: PathText, layout: Layout | None
) -> tuple[NumberStyle, list[dict[str, Numbers]]]:
    style = _style(tables, delimiter, path, layout)
    return style, [_numbers(table, style, path) for table in tables]


def _in_usual_spelling(tables: Sequence[_Table]) -> tuple[list[_Table], list[Finding]]:
    """Return tables of which a cell could not be read with every number in the usual spelling, and what stood beside numbers."""
    found: list[_Table] = []
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


def _dates(tables: Sequence[_Table]) -> Sequence[str] | None:
    found: list[str] = []
    for table in tables:
        index = next((at for at, column in enumerate(table.columns) if column.role == "date"), None)
        if index is None:
            return None
        found += table.across[index]
    return found


def _each_once(tables: Sequence[_Table]) -> tuple[Column, ...]:
    if len(tables) == 1:
        return tables[0].columns
    return tuple({(column.heading, column.meaning, column.unit): column for table in reversed(tables) for column in table.columns}.values())


def _style(tables: Sequence[_Table], delimiter: str, path: PathText, layout: Layout | None) -> NumberStyle:
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


def _numbers(table: _Table, style: NumberStyle, path: PathText) -> dict[str, Numbers]:
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


def _steps(
    tables: Sequence[_Table], blocks: Blocks, lines: Sequence[int], path: PathText
) -> tuple[Sequence[str] | None, str, tuple[Finding, ...]]:
    """Return the step label of each row by the step column, else by blocks, else by point numbers that start again."""
    named = [_step_column(table, path) for table in tables]
    labelled = [one for one in named if one is not None]
    if labelled and len(labelled) == len(tables):
        labels = labelled[0][0] if len(tables) == 1 else tuple(label for part, _ in labelled for label in part)
        return labels, BY_STEP_COLUMN, tuple(finding for _, findings in labelled for finding in findings)
    starts, how = blocks.starts, blocks.how
    if len(starts) == 1:
        starts, how = _restarts(tables), "a step begins where the point number starts again"
    if len(starts) == 1:
        return None, "", ()
    ends = (*starts[1:], len(lines))
    labels = tuple(str(number) for number, (start, end) in enumerate(zip(starts, ends, strict=True), 1) for _ in range(start, end))
    told = how if how.startswith("a step") else f"the steps are blocks of rows, {how}"
    reason = f"there is no step column; {told}: {len(starts)} steps, the second from line {lines[starts[1]]}"
    return labels, told, (Finding(check="step_blocks", severity="info", reason=reason),)


def _step_column(table: _Table, path: PathText) -> tuple[tuple[str, ...], list[Finding]] | None:
    for column, cells in zip(table.columns, table.across, strict=True):
        if column.meaning == STEP:
            return _labels(cells, table.lines, column.place, path)
    return None


def _restarts(tables: Sequence[_Table]) -> tuple[int, ...]:
    """Return where the point numbers start again; only whole numbers that rise by one otherwise count as point numbers."""
    numbers: list[int] = []
    for table in tables:
        cells = next((cells for column, cells in zip(table.columns, table.across, strict=True) if column.role == "point number"), ())
        if len(cells) != len(table.lines) or not all(cell.strip().isdecimal() for cell in cells):
            return (0,)
        numbers += map(int, cells)
    jumps = [index for index in range(1, len(numbers)) if numbers[index] != numbers[index - 1] + 1]
    if any(numbers[index] != numbers[0] for index in jumps):
        return (0,)
    return (0, *jumps)


def _labels(cells: tuple[str, ...], lines: Sequence[int], place: str, path: PathText) -> tuple[tuple[str, ...], list[Finding]]:
    """Return the step label of each row; an empty cell belongs to the step above it."""
    plain = tuple(map(str.strip, cells))
    if all(plain):
        return plain, []
    labels: list[str] = []
    for cell, line in zip(plain, lines, strict=True):
        label = cell or (labels[-1] if labels else "")
        if not label:
            raise ReadError(path, "the first point belongs to no step", place=f"line {line}, {place}", remedy="write the step's number")
        labels.append(label)
    reason = f"{plain.count('')} rows name no step; each counts to the step above it"
    return tuple(labels), [Finding(check="step_column", severity="info", reason=reason)]


def _require_finite(values: FloatArray, lines: Sequence[int], place: str, path: PathText) -> None:
    infinite = np.isinf(values)
    if infinite.any():
        line = lines[int(np.argmax(infinite))]
        raise ReadError(path, "the number is too large in SI units", place=f"line {line}, {place}")


def _about_style(style: NumberStyle, tables: Sequence[_Table]) -> tuple[Finding, ...]:
    if not style.thousands:
        return ()
    reason = f"the numbers are read with {style}: {style.why}"
    found = [Finding(check="number_style", severity="info", reason=reason)]
    for table in tables:
        for column, cells in zip(table.columns, table.across, strict=True):
            index = doubtful_thousands(cells, style) if column.unit is not None else None
            if index is not None:
                line, cell = table.lines[index], cells[index].strip()
                reason = (
                    f"{column.place}: {cell!r} in line {line} is read as thousands, and other numbers of the column have three decimals"
                )
                found.append(Finding(check="number_style", severity="caution", reason=reason, rows=(line, line)))
    return tuple(found)


def _about_tables(raw: Sequence[RawTable], tables: Sequence[_Table]) -> tuple[Finding, ...]:
    """Say where a header lacks a quantity that another has, and has a heading of its own instead that is not known."""
    named = {column.meaning for table in tables for column in table.columns if column.meaning}
    findings = []
    for at, table in enumerate(tables if len(tables) > 1 else ()):
        elsewhere = {column.heading for other in tables if other is not table for column in other.columns}
        gone = sorted(name.replace("_", " ") for name in named - {column.meaning for column in table.columns})
        new = [column.place for column in table.columns if column.meaning is None and not column.role and column.heading not in elsewhere]
        if gone and new:
            line = raw[at].line
            reason = f"the header in line {line} has no {', '.join(gone)} but {', '.join(new)}, which is not known"
            findings.append(Finding(check="other_header", severity="caution", reason=reason, rows=(line, line)))
    return tuple(findings)


def _aside(tables: Sequence[_Table]) -> tuple[Finding, ...]:
    """Name the columns that are not used, and what remarks say; one without name and content is nothing to speak of."""
    names: dict[str, None] = {}
    findings = []
    for table in tables:
        for column, cells in zip(table.columns, table.across, strict=True):
            if column.meaning is None and not column.relative and (column.heading or "".join(cells).strip()):
                names[f"{column.number} ({column.heading!r})" if column.heading else f"{column.number} (no heading)"] = None
            if column.role == "remarks":
                remarks = [cell.strip() for cell in cells]
                first = dict(zip(reversed(remarks), reversed(table.lines), strict=True))
                findings += about_remarks(column, Counter(remarks), first)
    if names:
        reason = f"columns not known and not used: {', '.join(names)}; a layout file can name them"
        findings.insert(0, Finding(check="columns_aside", severity="info", reason=reason))
    return tuple(findings)


def about_remarks(column: Column, counts: Counter[str], first: Mapping[str, int]) -> list[Finding]:
    """Say what a column of remarks holds, where its cells differ: the rarest first, as these are what a person looks for.

    Parameters
    ----------
    column
        The column.
    counts, first
        Remark to the number of rows that bear it, and to the line of the first of them.
    """
    if len(counts) < 2:
        return []
    rarest = sorted((remark for remark in counts if remark), key=lambda remark: (counts[remark], first[remark]))
    shown = [f"{remark[:40]!r} in {counts[remark]} of {counts.total()} rows (the first in line {first[remark]})" for remark in rarest]
    more = f" and {len(shown) - 3} others" if len(shown) > 3 else ""
    return [Finding(check="remarks", severity="info", reason=f"{column.place} remarks {', '.join(shown[:3])}{more}")]


def about_missing(values: Mapping[str, FloatArray], lines: Sequence[int], complete: Set[str] = frozenset()) -> tuple[Finding, ...]:
    """Name the columns with cells that hold no number, but those known to be complete; a viscosity at a rate of zero is not missed."""
    said = []
    for name, numbers in values.items():
        if name in complete or _is_complete(numbers):
            continue
        gone = np.isnan(numbers)
        if gone.all():
            said.append(f"{name.replace('_', ' ')} (every row: the column counts as absent)")
            continue
        if name == "viscosity" and "shear_rate" in values:
            gone &= values["shear_rate"] != 0.0
        if gone.any():
            said.append(
                f"{name.replace('_', ' ')} ({int(gone.sum())} of {len(lines)} rows, the first in line {lines[int(np.argmax(gone))]})"
            )
    if not said:
        return ()
    return (Finding(check="missing_values", severity="info", reason=f"no number in: {', '.join(said)}"),)


def _is_complete(numbers: FloatArray) -> bool:
    """Tell at once that no number is missing; where squares overflow, the answer is no, and has to be found out otherwise."""
    return bool(np.dot(numbers, numbers) < np.inf)
