"""Write the smallest workbook of the old binary kind (.xls): one stream of records in a compound file.

By the published descriptions of both formats, [MS-XLS] and [MS-CFB]; from memory, and held to by a second reader being able to read it.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence

_SECTOR = 512
_FREE, _END, _FAT = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD


def _record(kind: int, content: bytes) -> bytes:
    return struct.pack("<HH", kind, len(content)) + content


def _text(text: str) -> bytes:
    return struct.pack("<HB", len(text), 1) + text.encode("utf-16-le")


def _sheet(rows: Sequence[Sequence[object]]) -> bytes:
    records = [_record(0x0809, struct.pack("<HHHHII", 0x0600, 0x0010, 0, 1997, 0, 6))]
    for row, cells in enumerate(rows):
        for column, cell in enumerate(cells):
            where = struct.pack("<HHH", row, column, 0)
            records.append(
                _record(0x0204, where + _text(cell)) if isinstance(cell, str) else _record(0x0203, where + struct.pack("<d", cell))
            )
    return b"".join(records) + _record(0x000A, b"")


def stream(sheets: Mapping[str, Sequence[Sequence[object]]]) -> bytes:
    """Return the records of a workbook."""
    begin = _record(0x0809, struct.pack("<HHHHII", 0x0600, 0x0005, 0, 1997, 0, 6)) + _record(0x0042, struct.pack("<H", 1200))
    bodies = [_sheet(rows) for rows in sheets.values()]
    names = [struct.pack("<BB", len(name), 0) + name.encode("ascii") for name in sheets]
    at = len(begin) + sum(4 + 6 + len(name) for name in names) + 4
    bounds = b""
    for name, body in zip(names, bodies, strict=True):
        bounds += _record(0x0085, struct.pack("<IH", at, 0) + name)
        at += len(body)
    return begin + bounds + _record(0x000A, b"") + b"".join(bodies)


def _entry(name: str, kind: int, child: int, start: int, size: int) -> bytes:
    written = name.encode("utf-16-le")
    head = written.ljust(64, b"\0") + struct.pack("<HBB", len(written) + 2 if name else 0, kind, 1)
    return head + struct.pack("<III", _FREE, _FREE, child) + bytes(16 + 4 + 16) + struct.pack("<IQ", start, size)


def xls(sheets: Mapping[str, Sequence[Sequence[object]]]) -> bytes:
    """Return a workbook as the bytes of a compound file: its table of sectors, its directory, then the one stream."""
    content = stream(sheets)
    content = content.ljust(max(4096, -(-len(content) // _SECTOR) * _SECTOR), b"\0")
    count = len(content) // _SECTOR
    chain = [_FAT, _END, *range(3, 2 + count), _END]
    if len(chain) > _SECTOR // 4:
        raise ValueError("one sector of the table holds 128 entries")
    table = b"".join(struct.pack("<I", one) for one in [*chain, *[_FREE] * (_SECTOR // 4 - len(chain))])
    directory = _entry("Root Entry", 5, 1, _END, 0) + _entry("Workbook", 2, _FREE, 2, len(content)) + 2 * _entry("", 0, _FREE, 0, 0)
    header = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16) + struct.pack("<HHHHH", 0x3E, 3, 0xFFFE, 9, 6) + bytes(6)
    header += struct.pack("<IIIIIIIII", 0, 1, 1, 0, 4096, _END, 0, _END, 0)
    header += struct.pack("<I", 0) + struct.pack("<I", _FREE) * 108
    return header + table + directory + content
