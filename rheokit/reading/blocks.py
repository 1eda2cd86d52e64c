"""Divide the body of an export into tables (a header with its rows) and blocks of rows (steps), and set aside what is neither.

A row as wide as the header is a point when a number, or a word for a missing one, stands under a quantity. Everything else is a header
again (it names two quantities or more), the units row under a header, a ruler, a line that announces a step, a comment, or a note.

Where no column names the step, blocks are steps. The strongest sign that divides the rows at all is used: lines that announce a step,
else headers that are repeated, else empty lines (unless every row stands alone: then they are spacing).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import islice

from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding, Severity
from rheokit.reading.clock import is_clock
from rheokit.reading.columns import is_units_row
from rheokit.reading.cut_decimals import check_cut_decimals
from rheokit.reading.decimals import looks_like_a_number
from rheokit.reading.files import PathText
from rheokit.reading.headings import Heading, read_headings
from rheokit.reading.layout import Layout
from rheokit.reading.numbers import UNITS_ONCE, holds_a_unit, is_missing
from rheokit.reading.row_width import fitted, rejoined
from rheokit.reading.rows import Row
from rheokit.reading.sheet import Sheet, known_columns
from rheokit.reading.summaries import about_summaries, is_summary, summaries_in
from rheokit.reading.words import STEP, announces_step, names_step, role_of

__all__ = ["Blocks", "RawTable", "divide_body", "is_mostly_numbers"]

_RULER = frozenset("-=_*+~:")


@dataclass(eq=False, kw_only=True)
class RawTable:
    """One header, the units row under it, and its points."""

    line: int
    headings: tuple[Heading, ...]
    units: Row | None = None
    rows: list[Row] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.known = known_columns(self.headings)
        self.remarked = role_of(self.headings[0].text) == "remarks"  # which may hold any word

    def holds(self, cells: Sequence[str]) -> bool:
        """Tell whether cells are a point."""
        known = self.known
        if known and looks_like_a_number(cells[known[0]]):
            return True
        under = [cells[index] for index in known]
        if any(looks_like_a_number(cell) or is_clock(cell) for cell in under):
            return True
        if any(map(str.strip, under)):
            return all(map(is_missing, under))
        return looks_like_a_number(next(filter(str.strip, cells)))  # a number or step that no quantity was measured at


@dataclass(frozen=True, eq=False, kw_only=True)
class Blocks:
    """The tables of a body, the index of the point with which each block begins, how that is seen, notes and findings."""

    tables: tuple[RawTable, ...]
    starts: tuple[int, ...]
    how: str
    notes: tuple[Row, ...]
    findings: tuple[Finding, ...]


class _Divider:
    """Takes the rows of a body one by one; each mark is kept with the number of points before it."""

    def __init__(self, sheet: Sheet, path: PathText, layout: Layout | None) -> None:
        self.tables, self.names_over = [RawTable(line=sheet.line, headings=sheet.headings)], sheet.names_over
        self.path, self.layout, self.commented, self.delimiter = path, layout, sheet.commented, sheet.delimiter
        self.announced: list[tuple[int, str, int]] = []
        self.headers: list[tuple[int, int]] = []
        self.blanks: list[int] = []
        self.notes: list[tuple[int, Row]] = []
        self.summaries: list[Row] = []
        self.worded: list[tuple[int, str, Row]] = []
        self.shortened: list[Row] = []
        self.rejoined: list[Row] = []
        self.glued: list[Row] = []
        self.bare: list[Row] = []
        self.units_repeated = False
        self.odd: list[tuple[int, Row, bool]] = []
        self.points = 0
        self.under_header = sheet.line > 0

    def take_points(self, rows: Sequence[Row], begin: int) -> int:
        """Take the usual points (as wide as the header, a plain number under the first quantity) from a row on; return the row behind."""
        table = self.tables[-1]
        if self.under_header or not table.known:
            return begin
        first, width, end = table.known[0], len(table.headings), begin
        for line, last_line, cells, comment in islice(rows, begin, None):
            if comment or line != last_line or len(cells) != width or not cells[first].replace(".", "", 1).isdecimal():
                break
            end += 1
        taken = rows[begin:end]
        summaries = summaries_in(taken, table.known) if first and not table.remarked else ()
        if summaries:
            self.summaries += [taken[index] for index in summaries]
            taken = [row for index, row in enumerate(taken) if index not in set(summaries)]
        table.rows += taken
        self.points += len(taken)
        return end

    def take(self, row: Row, behind: Row | None = None) -> None:
        """Take a row of any kind; `behind` is the next one, where there is one."""
        table = self.tables[-1]
        if not row.cells:
            self.blanks.append(self.points)
            return
        if self._is_upper_row(row, behind):
            return
        if not row.comment and not self.under_header and self._sums_up(row, behind):
            self.summaries.append(row)
            return
        cells = row.cells if len(row.cells) == len(table.headings) else self._as_wide(row.cells)
        if len(cells) != len(table.headings) or row.comment:
            self._take_other(row)
        elif self.under_header and _is_ruler(cells):
            return
        elif self.under_header and is_units_row(cells, table.headings) and self._headings(cells) is None and not _begins_a_step(cells):
            self._take_units(row._replace(cells=cells))
        elif table.holds(cells) and not self._is_announced_in(cells):
            if row.line != row.last_line and any("\n" in cells[index] for index in table.known):
                seen = f"a number stands on two lines: a quotation mark opens here and closes in line {row.last_line}"
                raise ReadError(self.path, seen, place=f"line {row.line}", remedy="write each point on one line")
            table.rows.append(row if cells is row.cells else row._replace(cells=cells))
            self.points += 1
            if self.under_header and self.headers and table.units is not None:
                self.bare.append(row)
            if len(row.cells) > len(cells):
                (self.rejoined if any(map(str.strip, row.cells[len(cells) :])) else self.shortened).append(row)
            self.under_header = False
        else:
            self._take_other(row)

    def _is_upper_row(self, row: Row, behind: Row | None) -> bool:
        """Tell whether a row is the upper one of a header over two rows that is repeated."""
        return self.names_over is not None and behind is not None and [row.cells, behind.cells] == [one.cells for one in self.names_over]

    def _as_wide(self, cells: list[str]) -> list[str]:
        """Return cells as many as the header, where that can be."""
        table = self.tables[-1]
        cells = fitted(cells, table.headings)
        return rejoined(cells, table.headings, self.delimiter, table.rows[-1].cells if table.rows else None)

    def _sums_up(self, row: Row, behind: Row | None) -> bool:
        """Tell whether a row sums up others: one narrower than the header has two numbers, as another is a key and its value."""
        table = self.tables[-1]
        if table.remarked or (len(row.cells) < len(table.headings) and sum(map(looks_like_a_number, row.cells)) < 2):
            return False
        return is_summary(row.cells, table.known, *(one.cells for one in (*table.rows[-1:], behind) if one is not None))

    def _is_announced_in(self, cells: Sequence[str]) -> bool:
        """Tell whether cells as many as the header are no point but a line such as `Interval;2;`: a word stands where a quantity should."""
        first = cells[0].strip()
        return bool(first) and 0 in self.tables[-1].known and first[0].isalpha() and announces_step(" ".join(cells)) is not None

    def _take_units(self, row: Row) -> None:
        table = self.tables[-1]
        self.units_repeated = self.units_repeated or bool(self.headers)
        if table.units is None and not table.rows:
            table.units = row
        elif table.units is None or table.units.cells != row.cells:
            self.tables.append(RawTable(line=table.line, headings=table.headings, units=row))
        self.under_header = False

    def _headings(self, cells: Sequence[str]) -> tuple[Heading, ...] | None:
        """Return the headings of a row that is a header again, or None."""
        if len(cells) < 2:
            return None
        if self.names_over is not None and cells == self.names_over[1].cells:
            return self.tables[0].headings
        headings = read_headings(cells, self.layout)
        named = len(known_columns(headings)) + any(heading.quantity == STEP for heading in headings)
        return headings if named >= 2 else None

    def _take_other(self, row: Row) -> None:
        text = " ".join(filter(None, map(str.strip, row.cells)))
        said = announces_step(text) if text[:1].isalnum() or text[:1] in _RULER or text[:1] in "[<(#" else None
        headings = self._headings(row.cells) if self.commented or not row.comment else None
        if said is not None:
            if sum(map(looks_like_a_number, row.cells)) >= max(2, len(self.tables[-1].headings) - 1):
                self.glued.append(row)
            self.announced.append((self.points, said, row.line))
        elif headings is not None:
            self.headers.append((self.points, row.line))
            self.under_header = True
            if headings != self.tables[-1].headings:
                self.tables.append(RawTable(line=row.line, headings=headings))
        elif not row.comment and is_mostly_numbers(row.cells):
            after_note = bool(self.notes) and self.notes[-1][0] == self.points
            self.odd.append((self.points, row, after_note))
        elif (named := names_step(text)) is not None:
            self.worded.append((self.points, named, row))
        else:
            self.notes.append((self.points, row))

    def settle_words(self) -> None:
        """Let lines that name steps by words alone divide them where neither numbered lines nor headers do; else they are notes."""
        if not self.worded:
            return
        divided = any(0 < at < self.points for at in (*(at for at, _, _ in self.announced), *(at for at, _ in self.headers)))
        if not divided and any(0 < at < self.points for at, _, _ in self.worded):
            self.announced = [(at, named, row.line) for at, named, row in self.worded]
        else:
            self.notes = sorted((*self.notes, *((at, row) for at, _, row in self.worded)), key=lambda note: note[1].line)


def divide_body(sheet: Sheet, path: PathText, layout: Layout | None = None) -> Blocks:
    """Return the tables and blocks of a body.

    Raises
    ------
    ReadError
        When nothing follows the header or units row, or a row of numbers is wider or narrower than the header (the last one is left
        out with a caution when it is narrower).
    """
    divider = _Divider(sheet, path, layout)
    at = 0
    while (at := divider.take_points(sheet.body, at)) < len(sheet.body):
        divider.take(sheet.body[at], sheet.body[at + 1] if at + 1 < len(sheet.body) else None)
        at += 1
    divider.settle_words()
    first = divider.tables[0]
    if first.units is None and sheet.units_above is not None:
        first.units = sheet.units_above
    findings = _about_odd_rows(divider)
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
            *_about_notes(divider, starts),
            *about_summaries(divider.summaries),
            *(_about_commas(divider, tables, layout) if sheet.delimiter == "," else ()),
        ),
    )


def _has_point(table: RawTable) -> bool:
    """Tell whether the last quantity of the first point is a number with a decimal point."""
    cell = table.rows[0].cells[table.known[-1]] if table.known else ""
    return "." in cell and looks_like_a_number(cell)


def _about_commas(divider: _Divider, tables: Sequence[RawTable], layout: Layout | None) -> tuple[Finding, ...]:
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


def _begins_a_step(cells: Sequence[str]) -> bool:
    """Tell whether the one cell that is filled announces a step."""
    filled = [cell for cell in cells if cell.strip()]
    return len(filled) == 1 and (announces_step(filled[0]) or names_step(filled[0])) is not None


def _is_ruler(cells: Sequence[str]) -> bool:
    return all(set(cell.strip()) <= _RULER for cell in cells) and any(len(cell.strip()) > 2 for cell in cells)


def is_mostly_numbers(cells: Sequence[str]) -> bool:
    """Tell whether cells look like a row of numbers, of whatever table."""
    written = [cell for cell in cells if cell.strip()]
    numbers = sum(looks_like_a_number(cell) or is_clock(cell) for cell in written)
    return 2 * numbers > len(written) or (0 < 2 * numbers == len(written) and looks_like_a_number(written[0]))


def _about_odd_rows(divider: _Divider) -> list[Finding]:
    """Leave out a last row that is cut short; refuse any other row of numbers that is not as wide as the header."""
    for at, row, after_note in divider.odd:
        width = len(divider.tables[-1].headings)
        seen = f"{len(row.cells)} cells under {width} columns"
        last = at == divider.points and row is divider.odd[-1][1]
        if last and after_note and at > 0:
            divider.notes.append((at, row))
            continue
        if last and at > 0 and len(row.cells) < width and row.line == row.last_line:
            reason = f"line {row.line}, the last, is cut short ({seen}) and was left out; export the run again if a point is missing"
            return [Finding(check="cut_short", severity="caution", reason=reason, rows=(row.line, row.line))]
        remedy = "every row needs one cell for each column; a number with a decimal comma counts as two"
        if row.line != row.last_line:
            remedy = f"a quotation mark opens here and closes in line {row.last_line}"
        raise ReadError(divider.path, seen, place=f"line {row.line}", remedy=remedy)
    return []


def _starts(divider: _Divider) -> tuple[tuple[int, ...], str]:
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


def _about_notes(divider: _Divider, starts: Sequence[int]) -> list[Finding]:
    """Say which lines stand among the points and which after them; refuse a point that is divided by another sign."""
    edges = {*starts, *(at for at, _ in divider.headers), *(at for at, *_ in divider.announced), divider.points}
    inside = [row for at, row in divider.notes if at not in edges and not row.comment]
    for row in inside:
        words = re.split(r"[,;|\s]+", " ".join(row.cells).strip())
        if len(words) > 1 and is_mostly_numbers(words):
            seen = f"this line is divided otherwise than the table: {' '.join(row.cells).strip()[:60]!r}"
            raise ReadError(divider.path, seen, place=f"line {row.line}", remedy="divide every row by the same sign")
    after = [row for at, row in divider.notes if at == divider.points]
    begun = [line for at, line in (*divider.headers, *((at, line) for at, _, line in divider.announced)) if at == divider.points]
    wider = divider.shortened if len(divider.shortened) < divider.points else []
    torn = [row for _, row in divider.notes if row.line != row.last_line]
    strayed = [row for at, row in divider.notes if at in edges and at != divider.points and _holds_numbers(row, divider)]
    commented = [row for _, row in divider.notes if row.comment and is_mostly_numbers(row.cells)]
    return [
        *_lines_told(inside, "caution", "among the points: not a row of the table, and left out"),
        *_lines_told(wider, "caution", "wider than the header by empty cells, as other points are not: were cells shifted?"),
        *_lines_told(divider.rejoined, "info", "the remark holds the sign that divides cells, and was kept in one"),
        *_lines_told(divider.bare if divider.units_repeated else [], "caution", "under a header without the units row that others have"),
        *_lines_told(divider.glued, "caution", "a step's announcement and the numbers of a point in one, the point left out"),
        *_lines_told(strayed, "caution", "numbers between two steps: not a row of the table, and left out"),
        *_lines_told(commented, "caution", "numbers behind a comment mark, left out"),
        *_lines_told(torn, "caution", "one text from a quotation mark to the next, kept as a note: were they rows?"),
        *_lines_told(after, "info", "after the table, kept as notes"),
        *((_begun(min(begun)),) if begun else ()),
    ]


def _holds_numbers(row: Row, divider: _Divider) -> bool:
    """Tell whether a note holds so many numbers, half as many as the table has columns, that it may be a point that went astray."""
    numbers = sum(looks_like_a_number(cell) for cell in row.cells)
    return not row.comment and numbers >= max(2, len(divider.tables[0].headings) // 2)


def _begun(line: int) -> Finding:
    reason = f"line {line} begins a step, and no point follows: the export is cut short; export the run again if a step is missing"
    return Finding(check="cut_short", severity="caution", reason=reason, rows=(line, line))


def _lines_told(rows: Sequence[Row], severity: Severity, what: str) -> list[Finding]:
    if not rows:
        return []
    lines = f"lines {rows[0].line} to {rows[-1].last_line}" if len(rows) > 1 else f"line {rows[0].line}"
    shown = " ".join(" ".join(rows[0].cells).split())[:60]
    reason = f"{lines}, {what}: {shown!r}{' ...' if len(rows) > 1 else ''}"
    return [Finding(check="notes", severity=severity, reason=reason, rows=(rows[0].line, rows[-1].last_line))]
