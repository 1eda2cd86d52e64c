"""Turn text into rows of cells, each with the line it stands on."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import NamedTuple

from rheokit.base.errors import ReadError
from rheokit.reading.files import PathText

__all__ = ["DELIMITERS", "MOST_COLUMNS", "Row", "rows_of"]

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
"""Signs that may stand between cells, and their names."""

MOST_COLUMNS = 200
"""Rheometers export some ten to forty columns; a row of more than this is no table of ours."""

_MOST_LINES = 200_000
"""Ten points a second for five hours; it bounds the memory that a wrong file can take."""

_MOST_CHARACTERS = 100_000
"""Of one line: 200 columns of 500 characters; a longer line is refused before it is cut into cells."""


class Row(NamedTuple):
    """One row: its first and last line in the file (they differ where a quoted cell holds a line break) and its cells."""

    line: int
    last_line: int
    cells: list[str]


def _lines(text: str, path: PathText) -> Iterator[str]:
    for number, line in enumerate(io.StringIO(text, newline=""), 1):
        if len(line) > _MOST_CHARACTERS:
            raise ReadError(path, f"a line of {len(line):,} characters is no row of a table", place=f"line {number}")
        if number > _MOST_LINES:
            raise ReadError(path, f"more than {_MOST_LINES:,} lines", remedy="an export holds one load; split it")
        yield line


def rows_of(text: str, delimiter: str, path: PathText) -> Iterator[Row]:
    """Yield the rows that are not blank; a row whose cells are all empty is blank.

    Raises
    ------
    ReadError
        When a line is too long or a quoted cell does not end.
    """
    reader = csv.reader(_lines(text, path), delimiter=delimiter)
    before = 0
    try:
        for cells in reader:
            if "".join(cells).strip():
                yield Row(before + 1, reader.line_num, cells)
            before = reader.line_num
    except csv.Error as error:
        raise ReadError(path, f"the row cannot be cut into cells ({error})", place=f"line {before + 1}") from None
