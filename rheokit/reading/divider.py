"""Take the rows of a body one by one: points into tables, and everything else to where it is settled later.

A row as wide as the header is a point when a number, or a word for a missing one, stands under a quantity. Everything else is a header
again (it names two quantities or more), the units row under a header, a ruler, a line that announces a step, a comment, or a note.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import islice

from rheokit.base.errors import ReadError
from rheokit.reading.clock import is_clock
from rheokit.reading.columns import is_units_row
from rheokit.reading.decimals import looks_like_a_number
from rheokit.reading.files import PathText
from rheokit.reading.header_rows import as_units_row
from rheokit.reading.headings import Heading, read_headings
from rheokit.reading.layout import Layout
from rheokit.reading.numbers import is_missing
from rheokit.reading.row_width import fitted, rejoined
from rheokit.reading.rows import Row
from rheokit.reading.sheet import Sheet, known_columns
from rheokit.reading.summaries import is_summary, summaries_in
from rheokit.reading.words import STEP, announces_step, names_step, role_of

__all__ = ["Divider", "RawTable", "is_mostly_numbers"]

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


class Divider:
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
        if row.comment and self.under_header:
            row = as_units_row(row, table.headings, commented=self.commented)
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
