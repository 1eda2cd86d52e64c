"""Which line of a TOML text holds a key, so that a message can name it. `tomllib` itself keeps no lines."""

from __future__ import annotations

import re

__all__ = ["line_of"]

_HEADER = re.compile(r"^\s*(?P<open>\[\[?)\s*(?P<name>[^\[\]]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"^\s*(?P<key>[A-Za-z0-9_\-.\"']+)\s*=")

Path = tuple[str | int, ...]


def line_of(text: str, path: Path) -> int | None:
    """Return the line (from 1) of the deepest part of a key path that has a line of its own, or None.

    `("requirement", 2, "upper")` is the key `upper` of the third `[[requirement]]`.
    """
    lines = _lines(text)
    for depth in range(len(path), 0, -1):
        if path[:depth] in lines:
            return lines[path[:depth]]
    return None


def _lines(text: str) -> dict[Path, int]:
    found: dict[Path, int] = {}
    counts: dict[str, int] = {}
    table: Path = ()
    for line_number, line in enumerate(text.splitlines(), 1):
        header = _HEADER.match(line)
        key = _KEY.match(line)
        if header:
            name = header["name"].replace('"', "").replace("'", "")
            table = tuple(part.strip() for part in name.split("."))
            if header["open"] == "[[":
                table = (*table, counts.get(name, 0))
                counts[name] = counts.get(name, 0) + 1
            for depth in range(1, len(table) + 1):
                found.setdefault(table[:depth], line_number)
        elif key:
            parts = tuple(part.strip("\"' ") for part in key["key"].split("."))
            for depth in range(1, len(parts) + 1):
                found.setdefault((*table, *parts[:depth]), line_number)
    return found
