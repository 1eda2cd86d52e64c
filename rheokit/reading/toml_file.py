"""Read a TOML side file and check its keys: an unknown key is refused and the nearest known one named."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Collection, Mapping

from rheokit.base.errors import ReadError
from rheokit.reading.files import PathText, read_bytes
from rheokit.reading.text import decode

__all__ = ["check_keys", "nearest", "read_toml", "table_in", "text_in"]

_MOST_BYTES = 1_000_000
"""A side file is written by hand."""


def read_toml(path: PathText) -> dict[str, object]:
    """Return the tables of a TOML file whose `format` is 1.

    Raises
    ------
    ReadError
        When it cannot be read, is not TOML, or is of another format.
    """
    text = decode(read_bytes(path, most=_MOST_BYTES), path).characters
    try:
        tables: dict[str, object] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ReadError(path, f"this is not TOML: {error}") from None
    except RecursionError:
        raise ReadError(path, "this is not TOML: it is nested too deeply") from None
    if tables.get("format") != 1 or isinstance(tables["format"], bool):
        seen = f"it is {tables['format']!r}" if "format" in tables else "it is missing"
        raise ReadError(path, seen, place="format", remedy="write 'format = 1' as the first line")
    return tables


def nearest(word: str, known: Collection[str]) -> str:
    """Return a remedy that names the nearest known word, or all of them."""
    close = difflib.get_close_matches(word, known, n=1)
    return f"did you mean {close[0]!r}?" if close else f"known are {', '.join(known)}"


def check_keys(table: Mapping[str, object], known: Collection[str], place: str, path: PathText) -> None:
    """Refuse a key that is not known."""
    for key in table:
        if key not in known:
            raise ReadError(path, "unknown key", place=f"{place}{key}", remedy=nearest(key, known))


def table_in(tables: Mapping[str, object], key: str, path: PathText) -> dict[str, object]:
    """Return the table under a key, empty when there is none."""
    found = tables.get(key, {})
    if not isinstance(found, dict):
        raise ReadError(path, f"it is {found!r}, not a table", place=key, remedy=f"write '[{key}]' on a line of its own")
    return found


def text_in(table: Mapping[str, object], key: str, place: str, path: PathText) -> str | None:
    """Return the text under a key, or None when there is none; anything but text, and an empty text, is refused."""
    if key not in table:
        return None
    found = table[key]
    if not isinstance(found, str) or not found.strip():
        raise ReadError(path, f"it is {found!r}, not a text", place=f"{place}{key}", remedy="write it in quotes")
    return found.strip()
