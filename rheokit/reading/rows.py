"""Turn text into rows of cells, each with the line it stands on."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import NamedTuple

from rheokit.base.errors import ReadError
from rheokit.reading.files import PathText

__all__ = ["DELIMITERS", "MOST_COLUMNS", "MOST_LINES", "SPACES", "WIDE_SPACES", "Row", "at_spaces", "cut", "lines_of", "rows_of"]

SPACES = " "
WIDE_SPACES = "  "

DELIMITERS = {
    ",": "comma",
    ";": "semicolon",
    "\t": "tab",
    "|": "bar",
    WIDE_SPACES: "two or more spaces",
    SPACES: "spaces",
}
"""What may stand between cells, and its name."""

MOST_COLUMNS = 200
"""Rheometers export some ten to forty columns; a row of more than this is no table of ours."""

MOST_LINES = 200_000
"""Lines that are looked at one by one without another thought: ten points a second for five hours. The even part of a long export goes
another way (`large`), and where that cannot be, more lines are looked at if there is memory for them."""

_MOST_CHARACTERS = 100_000
"""Of one line: 200 columns of 500 characters; a longer line is refused before it is cut into cells."""

_AT_ONCE = 1_000
"""Lines that are joined to look for a quotation mark: quicker than one by one."""

_WIDE = re.compile(r" {2,}|\t+ *| +\t *")
_MARK = re.compile(r"[ \ufeff]*(?:#+|%+|;+|//+)")
_MARKS = frozenset("#%;/")


class Row(NamedTuple):
    """One row: its first and last line in the file (they differ where a quoted cell holds a line break) and its cells.

    A blank row has no cells; `comment` is the comment mark that stood before the first cell, empty where none did.
    """

    line: int
    last_line: int
    cells: list[str]
    comment: str = ""


def lines_of(text: str, path: PathText, *, most: int = MOST_LINES) -> list[str]:
    """Return the lines of a text without their ends (LF, CR LF or CR).

    Raises
    ------
    ReadError
        When a line is too long or there are too many.
    """
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    if text.count("\n") + (not text.endswith("\n")) > most:
        raise ReadError(path, f"more than {most:,} lines", remedy="an export holds one load; split it")
    lines = text.split("\n")
    if not lines[-1]:
        lines.pop()
    if len(text) > _MOST_CHARACTERS:
        for number, line in enumerate(lines, 1):
            if len(line) > _MOST_CHARACTERS:
                raise ReadError(path, f"a line of {len(line):,} characters is no row of a table", place=f"line {number}")
    return lines


def cut(lines: Sequence[str], delimiter: str, path: PathText, *, first_line: int = 1) -> Iterator[Row]:
    """Yield a row for every line, blank ones and comments too; a row whose cells are all empty is blank.

    Raises
    ------
    ReadError
        When a quoted cell does not end.
    """
    if delimiter == SPACES:
        yield from _simple(lines, at_spaces, delimiter, first_line)
    elif delimiter == WIDE_SPACES:
        yield from _simple(lines, _at_wide_spaces, delimiter, first_line)
    elif any('"' in "".join(lines[at : at + _AT_ONCE]) for at in range(0, len(lines), _AT_ONCE)):
        yield from _quoted(lines, delimiter, path, first_line)
    else:
        number = first_line
        for line in lines:
            if line[:1].isdigit():  # most lines: a point, neither blank nor a comment
                yield Row(number, number, line.split(delimiter))
            else:
                yield _row(line, number, lambda plain: plain.split(delimiter), delimiter)
            number += 1


def _simple(lines: Iterable[str], cells_of: Callable[[str], list[str]], delimiter: str, first_line: int) -> Iterator[Row]:
    return (_row(line, number, cells_of, delimiter) for number, line in enumerate(lines, first_line))


def _row(line: str, number: int, cells_of: Callable[[str], list[str]], delimiter: str) -> Row:
    if not line.strip(f"{delimiter} \t"):
        return Row(number, number, [])
    mark, plain = _at_mark(line, delimiter) if line[0] in _MARKS or line[0] == " " else ("", line)
    return Row(number, number, cells_of(plain), mark)


def _at_mark(line: str, delimiter: str) -> tuple[str, str]:
    """Return the comment mark of a line and what stands behind it; an empty mark and the whole line when it is no comment.

    A mark that is the delimiter, or fills a cell by itself (`#;Time`, `%;Pa`), is no comment mark.
    """
    marked = _MARK.match(line)
    if marked is None or delimiter in marked[0].strip():
        return "", line
    rest = line[marked.end() :]
    if delimiter not in {SPACES, WIDE_SPACES} and rest.lstrip(" ").startswith(delimiter):
        return "", line
    return marked[0].strip(" \ufeff"), rest


def at_spaces(line: str) -> list[str]:
    """Cut at every run of spaces; a unit in brackets stays with the name before it, and quotes hold a cell together."""
    words = [quoted or plain for quoted, plain in re.findall(r'"([^"]*)"|(\S+)', line)] if '"' in line else line.split()
    cells: list[str] = []
    for word in words:
        if cells and word.startswith(("[", "(")) and word.endswith(("]", ")")):
            cells[-1] += f" {word}"
        else:
            cells.append(word)
    return cells


def _at_wide_spaces(line: str) -> list[str]:
    return _WIDE.split(line.strip())


def _never_closes(lines: Sequence[str], delimiter: str) -> bool:
    """Tell whether a quoted cell is still open at the end of these lines; a mark inside a cell, as in 5", opens none."""
    if sum(line.count('"') for line in lines) % 2 == 0:
        return False
    try:
        list(csv.reader((f"{line}\n" for line in lines), delimiter=delimiter, strict=True))
    except csv.Error as error:
        return "unexpected end" in str(error)
    return False


def _quoted(lines: Sequence[str], delimiter: str, path: PathText, first_line: int) -> Iterator[Row]:
    reader = csv.reader((f"{line}\n" for line in lines), delimiter=delimiter)
    before = 0
    try:
        for cells in reader:
            first, last = first_line + before, first_line + reader.line_num - 1
            if (first != last or reader.line_num == len(lines)) and _never_closes(lines[before : reader.line_num], delimiter):
                seen = "a quotation mark opens here and never closes"
                raise ReadError(path, seen, place=f"line {first}", remedy="take it away, or close it")
            if "".join(cells).strip():
                line = lines[before] if first == last else ""
                mark, plain = _at_mark(line, delimiter) if line else ("", "")
                yield Row(first, last, next(csv.reader([plain.lstrip(" ")], delimiter=delimiter)) if mark else cells, mark)
            else:
                yield Row(first, last, [])
            before = reader.line_num
    except csv.Error as error:
        raise ReadError(path, f"the row cannot be cut into cells ({error})", place=f"line {first_line + before}") from None


def rows_of(text: str, delimiter: str, path: PathText) -> Iterator[Row]:
    """Yield the rows of a side file that are not blank; there are no comments.

    Raises
    ------
    ReadError
        When a line is too long or a quoted cell does not end.
    """
    return (row for row in _quoted(lines_of(text, path), delimiter, path, 1) if row.cells)
