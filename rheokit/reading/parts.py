"""From the bytes of an export to its points and its metadata, whichever way they were written."""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, chain

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError, printable
from rheokit.base.finding import Finding
from rheokit.reading.blocks import Blocks
from rheokit.reading.body import Body, read_body
from rheokit.reading.divider import is_mostly_numbers
from rheokit.reading.even import NotEven
from rheokit.reading.files import PathText
from rheokit.reading.formulas import about_formulas
from rheokit.reading.large import LARGE, read_large
from rheokit.reading.layout import Layout
from rheokit.reading.memory import available_memory
from rheokit.reading.percent_cells import about_percent_cells
from rheokit.reading.preamble import read_preamble
from rheokit.reading.rows import DELIMITERS, MOST_LINES, Row, lines_of
from rheokit.reading.sheet import EXAMPLE, Sheet, about_rows_above, divide, divide_rows
from rheokit.reading.side_tables import divide_tables, holds_side_tables_only, said_of_side_table
from rheokit.reading.text import about_encoding, decode_export, utf8_name
from rheokit.reading.torn_end import without_torn_end
from rheokit.reading.workbook import WorkbookSheet, is_workbook, read_sheets

__all__ = ["MOST_UNEVEN", "Parts", "read_parts"]

MOST_UNEVEN = 16_000_000
"""[bytes] Of a text that is read line by line without asking for the memory that is free."""

_MOST_LONG_LINES = 2_000_000
"""Lines of a long text that are looked at one by one: they take a minute or so."""

_MEMORY_PER_BYTE, _MEMORY_PER_LINE = 12, 700
"""[bytes] of memory that reading line by line takes for each byte and each line: measured as 955 and 1,021 a line of 42 bytes."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Parts:
    """An export taken apart: points, metadata, what was seen, and how the file was read."""

    body: Body
    metadata: Mapping[str, str]
    findings: tuple[Finding, ...]
    encoding: str
    delimiter: str
    header_line: int
    units_line: int | None


def read_parts(data: bytes, path: PathText, layout: Layout | None) -> Parts:
    """Return the parts of an export.

    Raises
    ------
    ReadError
        When it cannot be read.
    """
    if is_workbook(data):
        try:
            parts = _of_workbook(read_sheets(data, path), path, layout)
        except ReadError as error:
            if "nothing follows" in error.seen and (said := about_formulas(data)):
                raise ReadError(path, f"{error.seen}: {said[0].reason}", place=error.place) from None
            raise
        gaps = any(finding.check == "missing_values" for finding in parts.body.findings)
        formulas = about_formulas(data) if gaps else ()
        return replace(parts, findings=(*parts.findings, *formulas, *about_percent_cells(data, parts.body.columns)))
    slow: tuple[Finding, ...] = ()
    if len(data) >= LARGE:
        try:
            large = read_large(data, path, layout)
            return _parts(large.sheet, large.blocks, large.body, encoding=utf8_name(data))
        except NotEven as error:
            slow = _line_by_line(data, path, str(error))
    text = decode_export(data, path, layout.encoding if layout is not None else None)
    lines = lines_of(text.characters, path, most=_MOST_LONG_LINES if slow else MOST_LINES)
    sheet = divide(lines, path, layout)
    blocks = divide_tables(sheet, path, layout)
    if text.characters[-1] not in "\r\n":
        blocks = without_torn_end(blocks, len(lines))
    body = read_body(blocks, sheet.delimiter, path, layout)
    return _parts(sheet, blocks, body, encoding=text.encoding, said=(*slow, *about_encoding(text.encoding)))


def _line_by_line(data: bytes, path: PathText, why: str) -> tuple[Finding, ...]:
    """Say before and after that a long text is read line by line; refuse it where there is no memory for that."""
    count = max(data.count(b"\n"), data.count(b"\r"))
    if len(data) <= MOST_UNEVEN and count <= MOST_LINES:
        return ()
    needed, there = _MEMORY_PER_BYTE * len(data) + _MEMORY_PER_LINE * count, available_memory()
    seen = f"the table of {len(data):,} bytes is not even ({why})"
    if there is None or there < needed:
        free = "how much is free is not known" if there is None else f"{there / 1e6:,.0f} MB are free"
        remedy = "split it, or export plain numbers without quotes"
        raise ReadError(path, f"{seen}, and reading it line by line takes {needed / 1e6:,.0f} MB of memory, where {free}", remedy=remedy)
    said = f"{seen} and is read line by line, which takes ten times as long"
    logging.getLogger(__name__).warning("%s: %s", printable(path), printable(said))
    return (Finding(check="slow_reading", severity="info", reason=said),)


def _of_sheet(sheet: Sheet, before: Sequence[Row], path: PathText, layout: Layout | None) -> Parts:
    blocks = divide_tables(sheet, path, layout)
    return _parts(sheet, blocks, read_body(blocks, sheet.delimiter, path, layout), encoding="workbook", before=before)


def _parts(sheet: Sheet, blocks: Blocks, body: Body, *, encoding: str, before: Sequence[Row] = (), said: tuple[Finding, ...] = ()) -> Parts:
    metadata, about_preamble = read_preamble((*before, *sheet.preamble), blocks.notes, sheet.delimiter)
    units = blocks.tables[0].units
    return Parts(
        body=body,
        metadata=metadata,
        findings=(*said, *about_rows_above(sheet), *about_preamble),
        encoding=encoding,
        delimiter=DELIMITERS.get(sheet.delimiter, "cells of a sheet"),
        header_line=sheet.line,
        units_line=None if units is None else units.line,
    )


# --- workbooks -------------------------------------------------------------------------------------------------------------------


def _of_workbook(sheets: Sequence[WorkbookSheet], path: PathText, layout: Layout | None) -> Parts:
    """Return the parts of a workbook: the sheets that hold a table one after the other, the others as metadata."""
    shown = [sheet for sheet in sheets if sheet.visible]
    tables = {sheet.name: divide_rows(sheet.rows, path, layout) for sheet in shown}
    tables, about_copies = _without_copies(tables)
    tables, about_sides = _without_sides(tables)
    before = [row for sheet in shown for row in sheet.rows if row.cells and sheet.name in tables and tables[sheet.name] is None]
    parts: dict[str, Parts] = {}
    for name, table in tables.items():
        try:
            if table is not None:
                parts[name] = _of_sheet(table, () if parts else before, path, layout)
        except ReadError as error:
            place = f"sheet {name!r}" + (f", {_in_rows(error.place)}" if error.place else "")
            raise ReadError(path, _in_rows(error.seen), place=place, remedy=error.remedy) from None
    if not parts:
        names = [sheet.name for sheet in shown if any(row.cells for row in sheet.rows)]
        seen = (
            f"there is no table: no sheet of {', '.join(map(repr, names))} has a row that names two quantities" if names else "it is empty"
        )
        raise ReadError(path, seen, remedy=EXAMPLE)
    joined = _joined(list(parts.values()), list(parts))
    told = [f"the hidden sheet {sheet.name!r} was not read" for sheet in sheets if not sheet.visible]
    if len(parts) > 1:
        told.append(f"the tables of {len(parts)} sheets follow each other, each a step or more: {', '.join(map(repr, parts))}")
    about = (*about_copies, *about_sides, *(Finding(check="sheets", severity="info", reason=reason) for reason in told))
    return replace(
        joined,
        findings=(*about, *(one for sheet in shown if tables.get(sheet.name, sheet) is None for one in _astray(sheet)), *joined.findings),
    )


def _without_copies(tables: Mapping[str, Sheet | None]) -> tuple[dict[str, Sheet | None], tuple[Finding, ...]]:
    """Leave out every sheet that holds the table of one before it."""
    kept: dict[str, Sheet | None] = {}
    findings = []
    for name, table in tables.items():
        same = next((other for other, one in kept.items() if one is not None and table is not None and _is_copy(table, one)), None)
        if same is None:
            kept[name] = table
            continue
        reason = (
            f"sheet {name!r} holds the same table as sheet {same!r}, number by number, and was left out; "
            "delete it, or export the run it should hold"
        )
        findings.append(Finding(check="sheets", severity="caution", reason=reason))
    return kept, tuple(findings)


def _is_copy(table: Sheet, other: Sheet) -> bool:
    """Tell whether two tables hold the same points under the same headings, wherever they stand."""
    cells, others = ([row.cells for row in one.body if row.cells] for one in (table, other))
    return table.headings == other.headings and bool(cells) and cells == others


def _without_sides(tables: Mapping[str, Sheet | None]) -> tuple[dict[str, Sheet | None], tuple[Finding, ...]]:
    """Leave out every sheet whose table sums up others."""
    sides = {name: table for name, table in tables.items() if table is not None and holds_side_tables_only(table)}
    if not sides or all(table is None or name in sides for name, table in tables.items()):
        return dict(tables), ()
    about = (f"sheet {name!r}: {said_of_side_table(table.headings)}" for name, table in sides.items())
    findings = tuple(Finding(check="side_table", severity="info", reason=reason) for reason in about)
    return {name: table for name, table in tables.items() if name not in sides}, findings


def _astray(sheet: WorkbookSheet) -> tuple[Finding, ...]:
    """Say that a sheet without a table holds a row of numbers."""
    rows = [row.line for row in sheet.rows if is_mostly_numbers(row.cells) and sum(map(bool, row.cells)) > 2]
    if not rows:
        return ()
    reason = f"sheet {sheet.name!r}: row {rows[0]} holds numbers, but no row above names two quantities; the sheet was not read as a table"
    return (Finding(check="rows_above", severity="caution", reason=reason),)


def _joined(parts: Sequence[Parts], names: Sequence[str]) -> Parts:
    findings = tuple(
        _on_sheet(finding, names[0] if len(parts) == 1 else name)
        for part, name in zip(parts, names, strict=True)
        for finding in part.findings
    )
    body = _in_words(parts[0].body, names[0]) if len(parts) == 1 else _under_each_other([part.body for part in parts], names)
    metadata: dict[str, str] = {}
    for part, name in zip(parts, names, strict=True):
        for key, value in part.metadata.items():
            metadata[key if metadata.get(key, value) == value else f"{key} (sheet {name})"] = value
    delimiter = f"cells of the sheet{'s' if len(names) > 1 else ''} {', '.join(map(repr, names))}"
    return replace(parts[0], body=body, metadata=metadata, findings=findings, delimiter=delimiter)


def _in_words(body: Body, name: str) -> Body:
    return replace(body, findings=tuple(_on_sheet(finding, name) for finding in body.findings))


def _on_sheet(finding: Finding, name: str) -> Finding:
    return replace(finding, reason=f"sheet {name!r}: {_in_rows(finding.reason)}")


def _in_rows(text: str) -> str:
    """Return a text that speaks of lines as one that speaks of rows of a sheet."""
    return re.sub(r"\bline(s?) (?=\d)", r"row\1 ", text)


def _under_each_other(bodies: Sequence[Body], names: Sequence[str]) -> Body:
    """Put the points of several sheets under each other; NaN and an empty cell stand where a sheet has no such column."""
    values: dict[str, FloatArray] = {}
    written: dict[str, Sequence[str]] = {}
    for name in dict.fromkeys(name for body in bodies for name in body.values):
        values[name] = np.concatenate([body.values.get(name, np.full(len(body.lines), np.nan)) for body in bodies])
        written[name] = tuple(cell for body in bodies for cell in body.written.get(name, ("",) * len(body.lines)))
    labels = tuple(f"{sheet} {label}" for sheet, body in enumerate(bodies, 1) for label in (body.labels or ("1",) * len(body.lines)))
    counts = accumulate((len(body.lines) for body in bodies), initial=0)
    dates = [body.dates for body in bodies if body.dates is not None]
    columns = {(column.heading, column.meaning, column.unit): column for body in reversed(bodies) for column in body.columns}
    return Body(
        columns=tuple(columns.values()),
        values=values,
        written=written,
        labels=labels,
        how="each sheet is a step or more",
        lines=tuple(line for body in bodies for line in body.lines),
        style=bodies[0].style,
        findings=tuple(_on_sheet(finding, name) for body, name in zip(bodies, names, strict=True) for finding in body.findings),
        tables=tuple(before + start for before, body in zip(counts, bodies, strict=False) for start in body.tables),
        dates=tuple(chain.from_iterable(dates)) if len(dates) == len(bodies) else None,
    )
