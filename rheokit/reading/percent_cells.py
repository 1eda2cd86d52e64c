"""Find numbers that a workbook shows as per cent: a cell that shows 1 % holds 0.01, under a heading in % a hundredth of what it shows."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence

from rheokit.base.finding import Finding
from rheokit.reading.columns import Column

__all__ = ["about_percent_cells"]

_CELL = re.compile(rb"<(?:\w+:)?c\b([^>]*[^>/])>\s*<(?:\w+:)?v>")
_PLACE = re.compile(rb"""\br\s*=\s*["']([A-Z]{1,3})([0-9]{1,7})["']""")
_STYLE = re.compile(rb"""\bs\s*=\s*["']([0-9]{1,6})["']""")
_FORMATS = re.compile(rb"<(?:\w+:)?cellXfs\b.*?</(?:\w+:)?cellXfs>", re.DOTALL)
_FORMAT = re.compile(rb"""<(?:\w+:)?xf\b[^>]*?\bnumFmtId\s*=\s*["']([0-9]{1,6})["']""")
_OWN = re.compile(rb"<(?:\w+:)?numFmt\b([^>]*)>")
_NUMBER = re.compile(rb"""\bnumFmtId\s*=\s*["']([0-9]{1,6})["']""")
_CODE = re.compile(rb"""\bformatCode\s*=\s*"([^"]*)\"""")
_LITERAL = re.compile(rb"&quot;.*?&quot;|\\.")
"""Between quotation marks or behind a backslash a per cent sign is only shown."""

_BUILT_IN = frozenset({9, 10})
"""`0%` and `0.00%` (ECMA-376, part 1, 18.8.30, by memory)."""


def about_percent_cells(data: bytes, columns: Sequence[Column]) -> tuple[Finding, ...]:
    """Return a caution for each column in % whose cells a workbook (.xlsx, .ods) shows as per cent; the archive has been checked before."""
    in_percent = {_letters(column.number): column for column in columns if column.unit is not None and column.unit.symbol == "%"}
    if not in_percent or not data.startswith(b"PK"):
        return ()
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        names = archive.namelist()
        if "content.xml" in names:
            places = {"": ""} if b'value-type="percentage"' in archive.read("content.xml") else {}
        else:
            styles = _percent_styles(archive.read("xl/styles.xml")) if "xl/styles.xml" in names else frozenset()
            sheets = [name for name in names if "/worksheets/" in name and name.endswith(".xml")] if styles else []
            places = {letters: place for name in reversed(sheets) for letters, place in _shown(archive.read(name), styles).items()}
    found = [(column, places.get(letters, places.get(""))) for letters, column in in_percent.items()]
    return tuple(_said(column, place) for column, place in found if place is not None)


def _said(column: Column, place: str) -> Finding:
    where = f" (the first is {place})" if place else ""
    reason = (
        f"{column.place} holds cells that the workbook shows as per cent{where}: one that shows 1 % holds 0.01 and is read as 0.01 %, "
        "a hundredth of it; format the column as plain numbers, or name its unit '1' in a layout file"
    )
    return Finding(check="percent_cells", severity="caution", reason=reason)


def _percent_styles(styles: bytes) -> frozenset[int]:
    """Return the index of every cell format whose number format multiplies by a hundred."""
    formats = set(_BUILT_IN)
    for own in _OWN.findall(styles):
        number, code = _NUMBER.search(own), _CODE.search(own)
        if number and code and b"%" in _LITERAL.sub(b"", code[1]):
            formats.add(int(number[1]))
    cells = _FORMATS.search(styles)
    return frozenset(index for index, one in enumerate(_FORMAT.findall(cells[0] if cells else b"")) if int(one) in formats)


def _shown(sheet: bytes, styles: frozenset[int]) -> dict[str, str]:
    """Return the first cell of each column that is shown as per cent and holds a value."""
    found: dict[str, str] = {}
    for cell in _CELL.findall(sheet):
        style, place = _STYLE.search(cell), _PLACE.search(cell)
        if style and place and int(style[1]) in styles:
            letters = place[1].decode()
            found.setdefault(letters, f"{letters}{place[2].decode()}")
    return found


def _letters(number: int) -> str:
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters
