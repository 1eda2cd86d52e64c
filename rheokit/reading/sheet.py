"""Divide the rows of an export into preamble, header and body, and settle the delimiter.

The rule: the header is the last line that names two quantities or more before the first row of numbers as wide as itself, and the
delimiter is the one that divides that line (where two would do, the one that shows the earlier and fuller header).
"""

from __future__ import annotations

from dataclasses import dataclass

from rheokit.base.errors import ReadError
from rheokit.reading.files import PathText
from rheokit.reading.headings import Heading, read_heading
from rheokit.reading.layout import Layout
from rheokit.reading.numbers import is_number
from rheokit.reading.rows import DELIMITERS, MOST_COLUMNS, Row, rows_of
from rheokit.reading.words import STEP

__all__ = ["Sheet", "divide"]

_MOST_PREAMBLE_ROWS = 200
"""The header stands among the first rows; a file without one is not searched to its end."""

_EXAMPLE = "write a header such as 'Time [s],Shear rate [1/s],Shear stress [Pa]', or name the columns in a layout file"


@dataclass(frozen=True, eq=False, kw_only=True)
class Sheet:
    """An export cut into its parts."""

    delimiter: str
    preamble: tuple[Row, ...]
    header: Row
    headings: tuple[Heading, ...]
    body: tuple[Row, ...]


@dataclass(frozen=True, eq=False, kw_only=True)
class _Candidate:
    delimiter: str
    preamble: tuple[Row, ...]
    header: Row
    headings: tuple[Heading, ...]
    followed: bool

    @property
    def rank(self) -> tuple[bool, int, int]:
        known = sum(heading.quantity is not None for heading in self.headings)
        return not self.followed, self.header.line, -known


def divide(text: str, path: PathText, layout: Layout | None = None) -> Sheet:
    """Return the parts of an export.

    Raises
    ------
    ReadError
        When it is no table, has no header, or the header has more columns than any table of ours.
    """
    present = [delimiter for delimiter in DELIMITERS if delimiter in text]
    if not present:
        signs = ", ".join(DELIMITERS.values())
        raise ReadError(path, f"this is not a table: no line is divided by any of {signs}", remedy=_EXAMPLE)
    found = [candidate for delimiter in present if (candidate := _header_under(delimiter, text, path, layout))]
    if not found:
        seen = f"there is no header: none of the first {_MOST_PREAMBLE_ROWS} rows names two quantities that are known"
        raise ReadError(path, seen, remedy=_EXAMPLE)
    best = min(found, key=lambda candidate: candidate.rank)
    if len(best.headings) > MOST_COLUMNS:
        seen = f"{len(best.headings)} columns; a table of one run has at most {MOST_COLUMNS}"
        raise ReadError(path, seen, place=f"line {best.header.line}")
    rows = rows_of(text, best.delimiter, path)
    body = tuple(row for row in rows if row.line > best.header.line)
    return Sheet(delimiter=best.delimiter, preamble=best.preamble, header=best.header, headings=best.headings, body=body)


def _header_under(delimiter: str, text: str, path: PathText, layout: Layout | None) -> _Candidate | None:
    """Return the header that shows when cells are divided by this sign, if one does."""
    seen: list[Row] = []
    best: tuple[int, tuple[Heading, ...]] | None = None
    for row, _ in zip(rows_of(text, delimiter, path), range(_MOST_PREAMBLE_ROWS), strict=False):
        if best is not None and _is_data(row, best[1]):
            return _candidate(delimiter, seen, best, followed=True)
        seen.append(row)
        headings = tuple(read_heading(cell, layout) for cell in row.cells) if len(row.cells) > 1 else ()
        if sum(heading.quantity is not None for heading in headings) >= 2:
            best = len(seen) - 1, headings
    return None if best is None else _candidate(delimiter, seen, best, followed=False)


def _candidate(delimiter: str, seen: list[Row], best: tuple[int, tuple[Heading, ...]], *, followed: bool) -> _Candidate:
    index, headings = best
    return _Candidate(delimiter=delimiter, preamble=tuple(seen[:index]), header=seen[index], headings=headings, followed=followed)


def _is_data(row: Row, headings: tuple[Heading, ...]) -> bool:
    """Tell whether most of the cells that stand under a quantity are numbers, in a row as wide as the header."""
    if len(row.cells) != len(headings):
        return False
    under = [cell for cell, heading in zip(row.cells, headings, strict=True) if heading.quantity not in {None, STEP} and cell.strip()]
    return 2 * sum(map(is_number, under)) > len(under)
