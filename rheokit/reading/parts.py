"""From the bytes of an export to its points and its metadata, whichever way they were written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rheokit.base.finding import Finding
from rheokit.reading.blocks import divide_body
from rheokit.reading.body import Body, read_body
from rheokit.reading.files import PathText
from rheokit.reading.layout import Layout
from rheokit.reading.preamble import read_preamble
from rheokit.reading.rows import DELIMITERS, lines_of
from rheokit.reading.sheet import about_rows_above, divide
from rheokit.reading.text import about_encoding, decode_export

__all__ = ["Parts", "read_parts"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Parts:
    """An export taken apart: points, metadata, what was seen, and how the file was read."""

    body: Body
    metadata: Mapping[str, str]
    findings: tuple[Finding, ...]
    encoding: str
    delimiter: str
    header_line: int
    units_line: int | None


def read_parts(data: bytes, path: PathText, layout: Layout | None) -> Parts:
    """Return the parts of an export.

    Raises
    ------
    ReadError
        When it cannot be read.
    """
    text = decode_export(data, path, layout.encoding if layout is not None else None)
    sheet = divide(lines_of(text.characters, path), path, layout)
    blocks = divide_body(sheet, path, layout)
    body = read_body(blocks, sheet.delimiter, path, layout)
    metadata, about_preamble = read_preamble(sheet.preamble, blocks.notes, sheet.delimiter)
    units = blocks.tables[0].units
    return Parts(
        body=body,
        metadata=metadata,
        findings=(*about_encoding(text.encoding), *about_rows_above(sheet), *about_preamble),
        encoding=text.encoding,
        delimiter=DELIMITERS[sheet.delimiter],
        header_line=sheet.line,
        units_line=None if units is None else units.line,
    )
