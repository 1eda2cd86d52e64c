"""Look into the zip archive of a workbook before it is read: it is whole, and neither its parts nor its sheets are beyond memory.

The reader of workbooks lays a sheet out as one rectangle from its first to its last cell, so that two cells in opposite corners would
ask for more memory than there is. Every sheet is therefore measured here first, from its cell references and repeat counts.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from xml.parsers import expat

from rheokit.base.errors import ReadError
from rheokit.reading.files import PathText

__all__ = ["MOST_CELLS", "MOST_UNPACKED", "check_archive", "too_wide", "unreadable"]

MOST_UNPACKED = 150_000_000
"""[bytes] Of all parts of a workbook together: some 400,000 rows of ten columns."""

MOST_CELLS = 4_000_000
"""Of the rectangle that a sheet spans."""

_END_OF_ARCHIVE, _LAST = b"PK\x05\x06", 66_000
"""What the directory at the end of an archive begins with, and how far before the end it may stand: 22 bytes and a comment of 65,535."""

_PIECE = 1_000_000
"""[bytes] Unpacked at a time."""

_COLUMN = re.compile(rb"""\sr\s*=\s*["']\s*([A-Za-z]{1,8})""")
_ROW = re.compile(rb"""\sr\s*=\s*["']\s*[A-Za-z$]*([0-9]{1,18})""")
_ROW_START = re.compile(rb"<(?:\w+:)?row\b")
_ROW_NAMED = re.compile(rb"<(?:\w+:)?row\b[^>]*?\sr\s*=")
_CELL_START = re.compile(rb"<(?:\w+:)?c[\s>/]")
_REPEATED = re.compile(rb"""number-(?:rows|columns)-repeated\s*=\s*["']([0-9]{1,18})["']""")
_TABLE_CELL = re.compile(rb"<[\w-]+:(?:covered-)?table-cell\b")


def unreadable(path: PathText, why: str, *, remedy: str = "export the run again") -> ReadError:
    """Return the error of a workbook that is damaged."""
    return ReadError(path, f"the workbook cannot be read: {why}", remedy=remedy)


def too_wide(path: PathText, rows: int, columns: int) -> ReadError:
    """Return the error of a sheet whose cells are too far apart."""
    seen = f"a sheet spans {rows:,} rows and {columns:,} columns; at most {MOST_CELLS:,} cells are read"
    return ReadError(path, seen, remedy="delete the cells far from the table, or export the run as text")


def check_archive(data: bytes, path: PathText) -> None:
    """Refuse a workbook (xlsx, ods) that is cut short, damaged or beyond memory.

    Raises
    ------
    ReadError
        Saying what is wrong.
    """
    if _END_OF_ARCHIVE not in data[-_LAST:]:
        seen = f"it is cut short, as its last part is not among its {len(data):,} bytes"
        raise unreadable(path, seen, remedy="copy the whole file, or export the run again")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            unpacked = sum(part.file_size for part in parts)
            contents = {part.filename: _unpacked(archive, part) for part in parts} if unpacked <= MOST_UNPACKED else {}
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError) as error:
        raise unreadable(path, f"it is cut short or damaged ({error})") from None
    if unpacked > MOST_UNPACKED:
        seen = f"the workbook unpacks to {unpacked:,} bytes; at most {MOST_UNPACKED:,} are read"
        raise ReadError(path, seen, remedy="an export holds one load; split it, or export it as text")
    for name, content in contents.items():
        _check_part(name, content, path)


def _unpacked(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> bytes:
    """Return the bytes of a part, up to the size that the archive states: read at once, a part that understates it would fill memory."""
    with archive.open(part) as file:
        return b"".join(iter(lambda: file.read(_PIECE), b""))


def _check_part(name: str, content: bytes, path: PathText) -> None:
    if name.endswith((".xml", ".rels")):
        _check_xml(name, content, path)
    if "/worksheets/" in name and name.endswith(".xml"):
        rows, columns = _extent_of_sheet(content)
    elif name == "content.xml":
        rows, columns = _extent_of_tables(content)
    else:
        return
    if rows * columns > MOST_CELLS:
        raise too_wide(path, rows, columns)


def _check_xml(name: str, content: bytes, path: PathText) -> None:
    """Refuse what is no whole XML, in which the reader of workbooks may look for an end for ever, or declares entities."""
    if b"<!DOCTYPE" in content or b"<!ENTITY" in content or b"\0" in content:
        raise unreadable(path, f"{name} declares entities, or is not UTF-8, which no export does")
    try:
        expat.ParserCreate().Parse(content, True)
    except (expat.ExpatError, LookupError, ValueError) as error:  # the last two for encodings that do not exist
        raise unreadable(path, f"{name} is damaged ({error})") from None


def _extent_of_sheet(content: bytes) -> tuple[int, int]:
    """Return the last row and column that a sheet of an xlsx workbook can reach, by the references of its rows and cells."""
    named = _COLUMN.findall(content)
    columns = max(map(_column_number, set(named)), default=0)
    # Rows without a reference stand behind the one before, and so do cells.
    loose = len(_ROW_START.findall(content)) - len(_ROW_NAMED.findall(content))
    rows = max(map(int, set(_ROW.findall(content))), default=0) + loose
    if len(named) < len(_CELL_START.findall(content)):
        columns += max(len(_CELL_START.findall(part)) for part in _ROW_START.split(content))
    return rows, columns


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters.upper():
        number = 26 * number + letter - 64
    return number


def _extent_of_tables(content: bytes) -> tuple[int, int]:
    """Return the rows and columns that the largest table of an ods workbook reaches, up to its last cells that hold something."""
    largest = 0, 0
    for table in re.split(rb"<[\w-]+:table\s", content)[1:]:
        rows = reached = columns = 0
        for row in re.split(rb"<[\w-]+:table-row\b", table)[1:]:
            head = row.partition(b">")[0]
            rows += _repeats(head)
            if b":value" in row or b":p>" in row or b":p " in row:
                reached, columns = rows, max(columns, _width(row))
        largest = max(largest, (reached, columns), key=lambda extent: extent[0] * extent[1])
    return largest


def _repeats(head: bytes) -> int:
    found = _REPEATED.search(head)
    return int(found[1]) if found else 1


def _width(row: bytes) -> int:
    """Return the column of the last cell of a row that holds something."""
    if b"columns-repeated" not in row:
        return len(_TABLE_CELL.findall(row))
    column = reached = 0
    for cell in _TABLE_CELL.split(row)[1:]:
        column += _repeats(cell.partition(b">")[0])
        if b":value" in cell or b":p>" in cell or b":p " in cell:
            reached = column
    return reached
