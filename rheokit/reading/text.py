"""Turn bytes into text: UTF-8, with or without a byte order mark."""

from __future__ import annotations

from typing import NamedTuple

from rheokit.base.errors import ReadError
from rheokit.reading.files import PathText

__all__ = ["Text", "decode"]

_BOM = b"\xef\xbb\xbf"
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


class Text(NamedTuple):
    """The characters of a file and the encoding they were read with."""

    characters: str
    encoding: str


def decode(data: bytes, path: PathText) -> Text:
    """Return the text of a file.

    Raises
    ------
    ReadError
        When the file is empty, holds NUL bytes (a binary file) or bytes that are not UTF-8; the line is named.
    """
    if data.startswith(_UTF16):
        raise ReadError(path, "the text is UTF-16", remedy="save it as UTF-8")
    if b"\0" in data:
        raise ReadError(path, "this is a binary file, not text", remedy="export the run as delimited text (CSV)")
    try:
        characters = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        seen = f"the byte 0x{data[error.start]:02x} is not UTF-8 text"
        raise ReadError(path, seen, place=f"line {line}", remedy="save the export as UTF-8") from None
    if not characters.strip():
        raise ReadError(path, "the file is empty")
    return Text(characters, "UTF-8 with byte order mark" if data.startswith(_BOM) else "UTF-8")
