"""Look into a workbook of the old binary kind (.xls) before it is read: its chains end, and its cells stand within memory.

A compound file ([MS-CFB]) is cut into sectors that a table links to chains; its stream `Workbook` is a row of records ([MS-XLS]), of
which those for cells begin with row and column. A damaged chain may never end, and a damaged column number asks the reader of
workbooks, which lays a sheet out as one rectangle, for more memory than there is.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

from rheokit.reading.archive import MOST_CELLS, too_wide, unreadable
from rheokit.reading.files import PathText

__all__ = ["check_compound"]

_END = 0xFFFFFFFE
_HEAD = 512
_ENTRY = 128
_MINI = 64
_STREAMS = ("workbook", "book")
_BEGINS_A_SHEET = frozenset({0x0009, 0x0209, 0x0409, 0x0809})
_ONE_CELL = frozenset(
    {0x0001, 0x0002, 0x0003, 0x0004, 0x0005, 0x0006, 0x00D6, 0x00FD, 0x0201, 0x0203, 0x0204, 0x0205, 0x0206, 0x027E, 0x0406}
)
_CELLS_OF_A_ROW = frozenset({0x00BD, 0x00BE})
_SHEET_PLACE = 0x0085
_MOST_COLUMNS = 256


class _Damaged(Exception):  # noqa: N818 - becomes a ReadError with the file's name
    """A compound file that does not hold together."""


def check_compound(data: bytes, path: PathText) -> None:
    """Refuse an old workbook that is cut short, damaged or beyond memory.

    Raises
    ------
    ReadError
        Saying what is wrong.
    """
    try:
        extents = _extents(_stream(data))
    except (_Damaged, struct.error) as error:
        raise unreadable(path, f"it is cut short or damaged ({error})") from None
    for rows, columns in extents:
        if columns > _MOST_COLUMNS:
            raise unreadable(path, f"it is damaged (a cell in column {columns}; such a workbook has {_MOST_COLUMNS})")
        if rows * columns > MOST_CELLS:
            raise too_wide(path, rows, columns)


def _stream(data: bytes) -> bytes:
    """Return the stream of records."""
    if len(data) < _HEAD:
        raise _Damaged("its head is not there")
    size = 1 << min(struct.unpack_from("<H", data, 0x1E)[0], 20)
    if size not in {512, 4096}:
        raise _Damaged(f"sectors of {size} bytes")
    table = _table(data, size)
    directory = _joined(data, _chain(table, struct.unpack_from("<I", data, 0x30)[0]), size, size)
    entries = [directory[at : at + _ENTRY] for at in range(0, len(directory) - _ENTRY + 1, _ENTRY)]
    for entry in entries:
        if _name(entry) in _STREAMS and entry[66] == 2:
            start, length = struct.unpack_from("<II", entry, 116)
            if length >= struct.unpack_from("<I", data, 0x38)[0]:
                found = _joined(data, _chain(table, start), size, size)
            else:
                small = _joined(data, _chain(table, struct.unpack_from("<I", entries[0], 116)[0]), size, size)
                links = _joined(data, _chain(table, struct.unpack_from("<I", data, 0x3C)[0]), size, size)
                found = _joined(small, _chain(struct.unpack(f"<{len(links) // 4}I", links), start), _MINI, 0)
            if len(found) < length:
                raise _Damaged(f"{len(found):,} of {length:,} bytes of its sheets are there")
            return found[:length]
    raise _Damaged("it holds no sheets")


def _name(entry: bytes) -> str:
    length = min(max(struct.unpack_from("<H", entry, 64)[0] - 2, 0), 62)
    return entry[:length].decode("utf-16-le", "replace").lower()


def _table(data: bytes, size: int) -> Sequence[int]:
    """Return the table that links each sector to the next."""
    sectors = list(struct.unpack_from("<109I", data, 0x4C))
    following, seen = struct.unpack_from("<I", data, 0x44)[0], set[int]()
    while following < _END - 2:
        if following in seen:
            raise _Damaged("its list of sectors runs in a circle")
        seen.add(following)
        more = struct.unpack(f"<{size // 4}I", _sector(data, following, size, size))
        sectors += more[:-1]
        following = more[-1]
    content = b"".join(_sector(data, sector, size, size) for sector in sectors if sector < _END - 2)
    return struct.unpack(f"<{len(content) // 4}I", content)


def _sector(data: bytes, number: int, size: int, offset: int) -> bytes:
    found = data[offset + number * size : offset + (number + 1) * size]
    if len(found) < size:
        raise _Damaged(f"sector {number} is not there")
    return found


def _chain(table: Sequence[int], start: int) -> list[int]:
    chain: list[int] = []
    sector = start
    while sector != _END:
        if sector >= len(table) or len(chain) > len(table):
            raise _Damaged("a chain of sectors does not end")
        chain.append(sector)
        sector = table[sector]
    return chain


def _joined(data: bytes, chain: Sequence[int], size: int, offset: int) -> bytes:
    return b"".join(_sector(data, sector, size, offset) for sector in chain)


def _extents(stream: bytes) -> list[tuple[int, int]]:
    """Return the last row and column of every sheet, as far as its records reach."""
    found = [(0, 0)]
    at = 0
    while at + 4 <= len(stream):
        kind, length = struct.unpack_from("<HH", stream, at)
        if kind in _ONE_CELL or kind in _CELLS_OF_A_ROW:
            row, column = struct.unpack_from("<HH", stream, at + 4)
            if kind in _CELLS_OF_A_ROW and length >= 6:
                column = max(column, struct.unpack_from("<H", stream, at + 2 + length)[0])
            found[-1] = max(found[-1][0], row + 1), max(found[-1][1], column + 1)
        elif kind == _SHEET_PLACE and struct.unpack_from("<I", stream, at + 4)[0] >= len(stream):
            raise _Damaged("a sheet stands behind the end")
        elif kind in _BEGINS_A_SHEET:
            found.append((0, 0))
        at += 4 + length
    return found
