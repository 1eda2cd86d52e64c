"""Turn bytes into text, by rules that leave one reading or refuse.

Side files (TOML, results typed in) are UTF-8. An export may be

- UTF-8, with or without a byte order mark;
- UTF-16 with a byte order mark, or without one when its NUL bytes stand at odd places only (little-endian) or at even places only
  (big-endian), as they do in any text whose signs are mostly Latin;
- cp1252, when the bytes are not UTF-8, hold no sign that is UTF-8 beyond ASCII (that would be damaged UTF-8), and every byte is a
  character of cp1252.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding
from rheokit.reading.files import PathText

__all__ = ["Text", "about_encoding", "decode", "decode_export", "utf8_name"]

_BOM = b"\xef\xbb\xbf"
_UTF16 = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
_NAMES = {"utf-16-le": "UTF-16, little-endian", "utf-16-be": "UTF-16, big-endian"}
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f]")
_UTF8_SIGN = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")
"""A sign of two to four bytes; in cp1252 the same bytes are a capital letter with an accent before a sign such as `°`: no word of ours."""

CP1252 = "cp1252"


class Text(NamedTuple):
    """The characters of a file and the encoding they were read with."""

    characters: str
    encoding: str


def decode(data: bytes, path: PathText) -> Text:
    """Return the text of a side file, which is UTF-8.

    Raises
    ------
    ReadError
        When the file is empty, holds NUL bytes (a binary file) or bytes that are not UTF-8; the line is named.
    """
    if data.startswith(tuple(_UTF16)):
        raise ReadError(path, "the text is UTF-16", remedy="save it as UTF-8")
    if b"\0" in data:
        raise _binary(path)
    return _not_empty(Text(_utf8(data, path), utf8_name(data)), path)


def decode_export(data: bytes, path: PathText, encoding: str | None = None) -> Text:
    """Return the text of an export, by the rules of this module or in the encoding that a layout file names.

    Raises
    ------
    ReadError
        When the file is empty, binary, damaged UTF-8 or UTF-16, or of another encoding; the line is named.
    """
    if encoding is not None:
        return _not_empty(_as_told(data, encoding, path), path)
    if data[:2] in _UTF16:
        encoding = _UTF16[data[:2]]
        return _not_empty(Text(_utf16(data[2:], encoding, path), f"{_NAMES[encoding]}, with byte order mark"), path)
    if b"\0" in data:
        encoding = _order_of_nul(data, path)
        return _not_empty(Text(_utf16(data, encoding, path), f"{_NAMES[encoding]}, without byte order mark"), path)
    try:
        text = Text(data.decode("utf-8-sig"), utf8_name(data))
    except UnicodeDecodeError:
        text = Text(_cp1252(data, path), CP1252)
    return _not_empty(text, path)


def _as_told(data: bytes, encoding: str, path: PathText) -> Text:
    if encoding == "utf-8":
        return Text(_utf8(data, path), utf8_name(data))
    if encoding == CP1252:
        try:
            return Text(data.decode(CP1252), f"{CP1252} (layout file)")
        except UnicodeDecodeError as error:
            raise ReadError(path, f"the byte 0x{data[error.start]:02x} is no character of cp1252", remedy="name another encoding") from None
    order = _UTF16.get(data[:2])
    return Text(_utf16(data[2:] if order else data, order or _order_of_nul(data, path), path), "UTF-16 (layout file)")


def about_encoding(encoding: str) -> tuple[Finding, ...]:
    """Say so when the encoding was not written into the file."""
    if encoding == CP1252:
        reason = "the bytes are not UTF-8 and were read as cp1252; look at the signs beyond ASCII, or save the export as UTF-8"
    elif encoding.endswith("without byte order mark"):
        reason = f"the text was read as {encoding}, by the places of its NUL bytes"
    else:
        return ()
    return (Finding(check="encoding", severity="info", reason=reason),)


def _not_empty(text: Text, path: PathText) -> Text:
    if not text.characters or text.characters.isspace():
        raise ReadError(path, "the file is empty")
    return text


def _binary(path: PathText) -> ReadError:
    return ReadError(path, "this is a binary file, not text", remedy="export the run as delimited text (CSV) or as a workbook")


def utf8_name(data: bytes) -> str:
    """Return how UTF-8 is called, with its mark or without."""
    return "UTF-8 with byte order mark" if data.startswith(_BOM) else "UTF-8"


def _utf8(data: bytes, path: PathText) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _not_utf8(data, error.start, path) from None


def _not_utf8(data: bytes, at: int, path: PathText) -> ReadError:
    line = data.count(b"\n", 0, at) + 1
    return ReadError(path, f"the byte 0x{data[at]:02x} is not UTF-8 text", place=f"line {line}", remedy="save the export as UTF-8")


def _order_of_nul(data: bytes, path: PathText) -> str:
    """Return the byte order of UTF-16 without a mark, in which a good part of the bytes are NUL."""
    rest = data.rstrip(b"\0") if data.endswith(b"\0\0\0") else data
    if 0 in data and 4 * rest.count(0) < len(rest) and _CONTROL.search(rest.replace(b"\0", b"").decode("latin-1")) is None:
        seen, place = "NUL bytes stand in the text", f"line {data.count(bytes([10]), 0, data.index(0)) + 1}"
        raise ReadError(path, seen, place=place, remedy="the file is damaged, or was not written to its end: export the run again")
    odd, even = data[1::2].count(0), data[::2].count(0)
    if len(data) % 2 or (odd and even):
        raise _binary(path)
    return "utf-16-le" if odd else "utf-16-be"


def _utf16(data: bytes, encoding: str, path: PathText) -> str:
    try:
        characters = data.decode(encoding)
    except UnicodeDecodeError as error:
        seen = f"the text is not whole {_NAMES[encoding]}, from byte {error.start} on"
        raise ReadError(path, seen, remedy="export the run again, as UTF-8") from None
    if _CONTROL.search(characters):
        raise _binary(path)
    return characters


def _cp1252(data: bytes, path: PathText) -> str:
    sign = _UTF8_SIGN.search(data)
    if sign is not None:
        try:
            data.decode("utf-8")
        except UnicodeDecodeError as error:
            raise _damaged(data, error.start, sign, path) from None
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError as error:
        raise _not_utf8(data, error.start, path) from None


def _damaged(data: bytes, at: int, sign: re.Match[bytes], path: PathText) -> ReadError:
    other = data.count(b"\n", 0, sign.start()) + 1
    seen = f"the byte 0x{data[at]:02x} is not UTF-8 text, though line {other} holds the UTF-8 sign {sign[0].decode('utf-8', 'replace')!r}"
    place = f"line {data.count(bytes([10]), 0, at) + 1}"
    return ReadError(path, seen, place=place, remedy="the file is damaged: export the run again, as UTF-8")
