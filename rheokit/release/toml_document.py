"""A TOML file of a known shape: read, validated, and complained of with file, line and key."""

from __future__ import annotations

import difflib
import hashlib
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from pydantic import BaseModel, ValidationError

from rheokit.base.errors import SpecificationError, printable
from rheokit.release.specification_text import TAGS
from rheokit.release.written_file import Key, WrittenFile

__all__ = ["Document", "Shape", "read_document"]

LARGEST_FILE = 1_000_000
"""Bytes; a file of any length a person writes is far below."""

Content = TypeVar("Content", bound=BaseModel)


@dataclass(frozen=True, kw_only=True)
class Shape(Generic[Content]):
    """The shape of a kind of file.

    Attributes
    ----------
    kind, what
        Its model, and what a message calls such a file.
    known_keys
        The keys that may stand at a place, for the nearest one to a misspelt.
    needed, without
        The array of tables of which there is at least one, and why.
    """

    kind: type[Content]
    what: str
    known_keys: Callable[[Key], list[str]]
    needed: str
    without: str


@dataclass(frozen=True, kw_only=True)
class Document(Generic[Content]):
    """A file that stands up: its text, the sha256 of its bytes, and its content."""

    file: WrittenFile
    sha256: str
    content: Content


def read_document(path: Path, shape: Shape[Content]) -> Document[Content]:
    """Read a file and validate its shape.

    Raises
    ------
    SpecificationError
        Naming file, line, key, what was seen and what to write.
    """
    try:
        if path.is_dir():
            raise SpecificationError(path, "is a folder", remedy=f"name the {shape.what} itself")
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise SpecificationError(path, f"cannot be read ({error.strerror or error})", remedy="check the path") from None
    return document_in(raw, path, shape)


def document_in(raw: bytes, path: Path, shape: Shape[Content]) -> Document[Content]:
    """Return the document that some bytes hold; the path is what messages call it."""
    if len(raw) > LARGEST_FILE:
        raise SpecificationError(path, f"is larger than {LARGEST_FILE} bytes", remedy=f"name a {shape.what}")
    try:
        written = WrittenFile(name=path.name, text=raw.decode("utf-8-sig"))
        held = tomllib.loads(written.text)
    except UnicodeDecodeError:
        raise SpecificationError(path, "is not UTF-8 text", remedy="save it as UTF-8 TOML") from None
    except tomllib.TOMLDecodeError as error:
        raise SpecificationError(path, f"is not valid TOML: {error}", remedy="mend that line") from None
    try:
        content = shape.kind.model_validate(held)
    except ValidationError as error:
        raise _shape_error(error, held, written, shape) from None
    return Document(file=written, sha256=hashlib.sha256(raw).hexdigest(), content=content)


def _shape_error(error: ValidationError, held: object, file: WrittenFile, shape: Shape[Content]) -> SpecificationError:
    """Turn pydantic's first complaint into a sentence of ours; a misspelt key comes before the key it leaves missing."""
    complaints = sorted(error.errors(include_url=False), key=lambda complaint: complaint["type"] != "extra_forbidden")
    first = complaints[0]
    key = tuple(part for part in first["loc"] if part not in {"str", "int", "list[str]", *TAGS})
    if first["type"] == "extra_forbidden":
        known = shape.known_keys(key[:-1])
        near = difflib.get_close_matches(str(key[-1]), known, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"the keys here are {', '.join(known)}"
        return file.error(key, f"unknown key {str(key[-1])!r}", hint)
    if key == (shape.needed,) and first["type"] in {"missing", "too_short"}:
        return file.error(key, f"there is no [[{shape.needed}]]", shape.without)
    if first["type"] == "missing":
        return file.error(key, f"the key {str(key[-1])!r} is missing", "add it")
    seen = _value_at(held, key)
    shown = repr(printable(seen)) if isinstance(seen, str) else printable(seen)
    return file.error(key, f"{first['msg'][:1].lower()}{first['msg'][1:]}, not {shown}")


def _value_at(document: object, key: Key) -> object:
    for part in key:
        try:
            document = document[part]  # type: ignore[index]  # anything else than a table or list is refused below
        except (KeyError, IndexError, TypeError):
            return "nothing"
    return document
