"""Divide the rows of an export into preamble, header and body, and settle the delimiter.

The rule: the header is the last line that names two quantities or more before the first row of numbers as wide as itself, and the
delimiter is the one that divides that line (where two would do, the one that shows the earlier and fuller header). Spaces are tried
only where no other sign shows a header that numbers follow. A layout file may name both.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding
from rheokit.reading.clock import is_clock
from rheokit.reading.decimals import looks_like_a_number
from rheokit.reading.files import PathText
from rheokit.reading.header_rows import count_named, has_unknown, names_over_two_rows, units_above
from rheokit.reading.headings import Heading, read_headings
from rheokit.reading.layout import Layout
from rheokit.reading.numbers import is_missing
from rheokit.reading.row_width import fitted, rejoined
from rheokit.reading.rows import DELIMITERS, MOST_COLUMNS, SPACES, WIDE_SPACES, Row, at_spaces, cut
from rheokit.reading.words import STEP

__all__ = ["EXAMPLE", "Sheet", "about_rows_above", "divide", "divide_rows", "is_data", "known_columns"]

MOST_PREAMBLE_ROWS = 200
"""The header stands among the first rows; a file without one is not searched to its end."""

_SEARCHED = 2_000
"""Lines cut into cells while looking for the header: the rows of a preamble and the blank lines between them."""

EXAMPLE = "write a header such as 'Time [s],Shear rate [1/s],Shear stress [Pa]', or name the columns in a layout file"
_MARKUP = re.compile(r"[\s\ufeff]*(?:<(?:!--|!doctype|\?xml|[a-z][a-z0-9:]*[\s/>])|mime-version\s*:)", re.IGNORECASE)
_OF_A_COURSE = frozenset({"time", "step_time", "shear_rate", "shear_stress", "torque", "angular_velocity", "shear_strain"})
"""Quantities that are measured point by point; a table of others only sums up."""

_SIGNS = tuple(sign for sign in DELIMITERS if sign not in {SPACES, WIDE_SPACES})


@dataclass(frozen=True, eq=False, kw_only=True)
class Sheet:
    """An export cut into its parts; the body still holds blank rows and comments.

    `line` is 0 where a layout says there is no header, `names_over` the two rows where the names stand over two, and `units_above`
    the units row where it stands above the names.
    """

    delimiter: str
    preamble: tuple[Row, ...]
    line: int
    headings: tuple[Heading, ...]
    body: Sequence[Row]
    commented: bool = False
    units_above: Row | None = None
    names_over: tuple[Row, Row] | None = None

    def with_body(self, body: Sequence[Row]) -> Sheet:
        """Return the sheet with these rows under its header; `replace` takes three times as long."""
        return Sheet(
            delimiter=self.delimiter,
            preamble=self.preamble,
            line=self.line,
            headings=self.headings,
            body=body,
            commented=self.commented,
            units_above=self.units_above,
            names_over=self.names_over,
        )


@dataclass(frozen=True, eq=False, kw_only=True)
class _Candidate:
    sheet: Sheet
    last_line: int
    followed: bool

    @property
    def rank(self) -> tuple[bool, int, int]:
        known = sum(heading.quantity is not None for heading in self.sheet.headings)
        return not self.followed, self.sheet.line, -known


def known_columns(headings: Sequence[Heading]) -> list[int]:
    """Return the index of every column that names a quantity."""
    return [index for index, heading in enumerate(headings) if heading.quantity is not None and heading.quantity != STEP]


def is_data(cells: Sequence[str], headings: Sequence[Heading]) -> bool:
    """Tell whether most of the cells that stand under a quantity and are not missing are numbers, in a row as wide as the header."""
    if len(cells) != len(headings):
        return False
    numbers = others = 0
    for cell in map(cells.__getitem__, known_columns(headings)):
        if looks_like_a_number(cell) or is_clock(cell):
            numbers += 1
        elif not is_missing(cell):
            others += 1
    return numbers > others


def divide(lines: Sequence[str], path: PathText, layout: Layout | None = None) -> Sheet:
    """Return the parts of an export.

    Raises
    ------
    ReadError
        When it is no table, has no header, or the header has more columns than any table of ours.
    """
    candidates = _by_layout(layout.delimiter) if layout is not None and layout.delimiter is not None else None
    head = lines[:_SEARCHED]
    if candidates is not None:
        found = [one for sign in candidates if (one := _under(sign, head, path, layout))]
    else:
        text = "\n".join(head)
        found = [one for sign in _SIGNS if sign in text and (one := _under(sign, head, path, layout))]
        if not any(one.followed for one in found):
            found += [one for sign in (WIDE_SPACES, SPACES) if (one := _under(sign, head, path, layout))]
        if not any(one.followed for one in found):
            divided = ((sign, cut(head, sign, path)) for sign in (*_SIGNS, WIDE_SPACES) if sign in text)
            found += [one for sign, rows in divided if (one := _over_two_rows(rows, sign, layout))]
    if not found:
        raise _no_header(lines, path, layout)
    best = min(found, key=lambda candidate: candidate.rank)
    _refuse_wide(best.sheet, path)
    delimiter, after = best.sheet.delimiter, best.last_line
    body: Sequence[Row] = list(cut(lines[after:], delimiter, path, first_line=after + 1))
    if delimiter == WIDE_SPACES:
        body = _narrow(body, len(best.sheet.headings))
    return best.sheet.with_body(body)


def divide_rows(rows: Sequence[Row], path: PathText, layout: Layout | None = None) -> Sheet | None:
    """Return the parts of a table that is cut into cells already (a sheet of a workbook), or None when it has no header."""
    found = _header_in(rows, "", layout) or _over_two_rows(rows, "", layout)
    if found is None:
        return None
    _refuse_wide(found.sheet, path)
    return replace(found.sheet, body=[row for row in rows if row.line > found.last_line])


def about_rows_above(sheet: Sheet) -> tuple[Finding, ...]:
    """Say which rows of numbers stand above the header (a header that was damaged, or a row that went astray), and of what rows it is."""
    said = []
    if sheet.names_over:
        said.append(f"the names of the columns stand over two rows, lines {sheet.names_over[0].line} and {sheet.line}")
    if sheet.units_above is not None:
        said.append(f"the units stand in line {sheet.units_above.line}, above the names")
    rows = tuple(Finding(check="header", severity="info", reason=reason) for reason in said)
    above = [row for row in sheet.preamble if not row.comment and (_is_point(row, sheet) or _swallowed_numbers(row))]
    above = above or _under_names(sheet.preamble)
    if not above:
        return rows
    first, last = above[0].line, above[-1].last_line
    where = f"line {first}" if len(above) == 1 else f"{len(above)} rows from line {first}"
    reason = f"{where}: numbers above the header in line {sheet.line}, left out; is there a header above them that cannot be read?"
    return (*rows, Finding(check="rows_above", severity="caution", reason=reason, rows=(first, last)))


def _is_point(row: Row, sheet: Sheet) -> bool:
    """Tell whether a row would be a point of the table: numbers under two and half of its columns at least, so that no key and value is."""
    if not is_data(row.cells, sheet.headings):
        return False
    return sum(map(looks_like_a_number, row.cells)) >= max(2, len(known_columns(sheet.headings)) // 2)


def _under_names(rows: Sequence[Row]) -> list[Row]:
    """Return the rows of two numbers and more that stand under names such as a time and a rate, as under a header of their own."""
    numbers = [
        at for at, row in enumerate(rows) if not row.comment and _may_be_numbers(row.cells) and sum(map(looks_like_a_number, row.cells)) > 1
    ]
    if not numbers:
        return []
    named = (at for at, row in enumerate(rows) if len(row.cells) > 1 and _names_a_course(read_headings(row.cells, None)))
    first = next(named, len(rows))
    return [rows[at] for at in numbers if at > first]


def _may_be_numbers(cells: Sequence[str]) -> bool:
    return len(cells) > 2 or (len(cells) == 2 and not cells[0][:1].isalpha())  # most are a key and its value


def _names_a_course(headings: Sequence[Heading]) -> bool:
    return count_named(headings) > 1 and any(heading.quantity in _OF_A_COURSE for heading in headings)


def _swallowed_numbers(row: Row) -> bool:
    """Tell whether a row holds, from a quotation mark to the next, lines with two numbers and more."""
    if row.line == row.last_line:
        return False
    lines = (line for cell in row.cells for line in cell.splitlines()[1:])
    return any(sum(map(looks_like_a_number, re.split(r"[,;|\s]+", line))) > 1 for line in lines)


def _by_layout(delimiter: str) -> tuple[str, ...]:
    return (WIDE_SPACES, SPACES) if delimiter == SPACES else (delimiter,)


def _refuse_wide(sheet: Sheet, path: PathText) -> None:
    if len(sheet.headings) > MOST_COLUMNS:
        seen = f"{len(sheet.headings)} columns; a table of one run has at most {MOST_COLUMNS}"
        raise ReadError(path, seen, place=f"line {sheet.line}")


def _no_header(lines: Sequence[str], path: PathText, layout: Layout | None) -> ReadError:
    if layout is not None and layout.header_line:
        seen = f"line {layout.header_line} is no header: the layout file says it is, and it names no two columns that are known"
        return ReadError(path, seen, remedy="count the lines as an editor does, and name its columns in the layout file")
    if _MARKUP.match(next(filter(str.strip, lines), "")) is not None:
        remedy = "open it in a spreadsheet program and save it as .xlsx, or as delimited text (CSV)"
        return ReadError(path, "this is a web page or other marked-up text (HTML, XML), whatever its name says", remedy=remedy)
    if not any(sign in line for line in lines[:_SEARCHED] for sign in _SIGNS):
        signs = ", ".join(DELIMITERS[sign] for sign in _SIGNS)
        return ReadError(path, f"this is not a table: no line is divided by any of {signs}, spaces into known columns", remedy=EXAMPLE)
    seen = f"there is no header: none of the first {MOST_PREAMBLE_ROWS} rows names two quantities that are known"
    return ReadError(path, seen, remedy=EXAMPLE)


def _under(delimiter: str, head: Sequence[str], path: PathText, layout: Layout | None) -> _Candidate | None:
    return _header_in(cut(head, delimiter, path), delimiter, layout)


def _header_in(rows: Iterable[Row], delimiter: str, layout: Layout | None) -> _Candidate | None:
    """Return the header that shows when cells are divided by this sign, if one does."""
    if layout is not None and layout.header_line is not None:
        return _where_told(rows, delimiter, layout)
    seen: list[Row] = []
    best: tuple[int, tuple[Heading, ...]] | None = None
    for row in _first_rows(rows):
        if best is not None and not row.comment and _is_data_under(row, best[1], delimiter):
            return _candidate(delimiter, seen, best, layout, followed=True)
        seen.append(row)
        headings = read_headings(row.cells, layout) if len(row.cells) > 1 else ()
        if count_named(headings) >= 2 and (best is None or headings != best[1]):  # repeated, it begins a second table
            best = len(seen) - 1, headings
    return None if best is None else _candidate(delimiter, seen, best, layout, followed=False)


def _over_two_rows(rows: Iterable[Row], delimiter: str, layout: Layout | None) -> _Candidate | None:
    """Return a header whose names stand in two rows, neither of which is one by itself, if points follow it (or the units under it)."""
    if layout is not None and layout.header_line is not None:
        return None
    seen = list(_first_rows(rows))
    for at, (above, below) in enumerate(pairwise(seen)):
        headings = names_over_two_rows(above, below, layout)
        if headings is not None and any(is_data(row.cells, headings) for row in seen[at + 2 : at + 4]):
            found = _candidate(delimiter, [*seen[:at], below], (at, headings), None, followed=True)
            return replace(found, sheet=replace(found.sheet, names_over=(above, below)))
    return None


def _first_rows(rows: Iterable[Row]) -> Iterator[Row]:
    return (row for row, _ in zip((row for row in rows if row.cells), range(MOST_PREAMBLE_ROWS), strict=False))


def _candidate(
    delimiter: str, seen: Sequence[Row], best: tuple[int, tuple[Heading, ...]], layout: Layout | None, *, followed: bool
) -> _Candidate:
    index, headings = best
    header, above = seen[index], seen[:index]
    names_over = None
    if has_unknown(headings) and (layout is None or layout.header_line is None):
        if len(seen) > index + 1 and (names := names_over_two_rows(header, seen[index + 1], layout)):
            names_over, header, headings = (header, seen[index + 1]), seen[index + 1], names
        elif above and (names := names_over_two_rows(above[-1], header, layout)):
            names_over, headings, above = (above[-1], header), names, above[:-1]
    units = units_above(above[-1], header, headings) if above else None
    sheet = Sheet(
        delimiter=delimiter,
        preamble=tuple(above if units is None else above[:-1]),
        line=header.line,
        headings=headings,
        body=(),
        commented=bool(header.comment),
        units_above=units,
        names_over=names_over,
    )
    return _Candidate(sheet=sheet, last_line=header.last_line, followed=followed)


def _is_data_under(row: Row, headings: Sequence[Heading], delimiter: str) -> bool:
    if len(row.cells) == len(headings):
        return is_data(row.cells, headings)
    if delimiter == WIDE_SPACES:
        return is_data(at_spaces("  ".join(row.cells)), headings)
    return is_data(rejoined(fitted(row.cells, headings), headings, delimiter, None), headings)


def _where_told(rows: Iterable[Row], delimiter: str, layout: Layout) -> _Candidate | None:
    """Return the header in the line that the layout names, or, where it says there is none, the first row that its columns fit."""
    seen: list[Row] = []
    for row in (row for row in rows if row.cells):
        if layout.header_line == row.line:
            headings = read_headings(row.cells, layout)
            if len(known_columns(headings)) >= 1 and len(headings) > 1:
                return _candidate(delimiter, [*seen, row], (len(seen), headings), layout, followed=True)
        elif layout.header_line == 0:
            headings = read_headings([""] * len(row.cells), layout)
            if len(known_columns(headings)) == len(layout.columns) - _names_step(layout) and is_data(row.cells, headings):
                sheet = Sheet(delimiter=delimiter, preamble=tuple(seen), line=0, headings=headings, body=())
                return _Candidate(sheet=sheet, last_line=row.line - 1, followed=True)
        seen.append(row)
    return None


def _names_step(layout: Layout) -> int:
    return sum(column.quantity == STEP for column in layout.columns.values())


def _narrow(rows: Sequence[Row], width: int) -> Sequence[Row]:
    """Cut rows of numbers at single spaces where the header is cut at wide ones: all of them or none."""
    numbers = [index for index, row in enumerate(rows) if row.cells and not row.comment and looks_like_a_number(row.cells[0].split()[0])]
    if all(len(rows[index].cells) == width for index in numbers):
        return rows
    again = {index: at_spaces("  ".join(rows[index].cells)) for index in numbers}
    if any(len(again[index]) != width for index in numbers[:-1]):
        return rows
    return [row if index not in again else row._replace(cells=again[index]) for index, row in enumerate(rows)]
