"""Find the exports that a person names: files, folders, and patterns such as `2026/*/loop*.csv`, expanded here on every platform."""

from __future__ import annotations

import glob
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from rheokit.base.errors import ReadError, printable
from rheokit.reading.files import PathText
from rheokit.reading.folder import scan

__all__ = ["Named", "find_exports"]

_MOST_FILES = 1_000_000
"""A folder of an archive holds thousands of exports; one of this many is a mistake."""


@dataclass(frozen=True, kw_only=True)
class Named:
    """The exports that were named, each once, in order; `missing` says of each name that led to none why."""

    paths: tuple[Path, ...]
    missing: tuple[tuple[str, str], ...]


def find_exports(names: Iterable[PathText]) -> Named:
    """Return the exports behind names of files, folders and patterns.

    A file that is named is taken as it is. From a folder come the exports in it, not those in its subfolders; hidden and temporary
    files, what has the suffix of no export and the side files of a batch (`batch.toml`, `results.csv`) are left out. A pattern of
    `*`, `?`, `[…]` and `**` (any depth) stands for the folders and files that match, which are treated as if their folder had been
    named. A name that exists is never taken for a pattern.
    """
    found: dict[str, Path] = {}
    missing = []
    listed: dict[Path, frozenset[str]] = {}
    for name in [os.fspath(given) for given in names]:
        try:
            paths = _behind(name, listed)
        except ReadError as error:
            missing.append((name, error.seen))
            continue
        if not paths:
            missing.append((name, "there is no export in this folder; those of its subfolders are named by a pattern, as in 'folder/*'"))
        for path in paths:
            found.setdefault(os.path.normcase(os.path.realpath(path)), path)
    return Named(paths=tuple(found.values()), missing=tuple(missing))


def _behind(name: str, listed: dict[Path, frozenset[str]]) -> list[Path]:
    """Return the exports behind one name; none for an empty folder."""
    path = Path(name)
    if path.is_dir():
        return [path / export for export in scan(path, most=_MOST_FILES).exports]
    if os.path.lexists(name) or "\0" in name or not glob.has_magic(name):
        return [path]  # what is not there is said when it is read
    found: list[Path] = []
    for match in sorted(glob.glob(name, recursive=True)):  # noqa: PTH207 - Path.glob takes no pattern that begins at the root
        one = Path(match)
        if one.is_dir():
            found += [one / export for export in scan(one, most=_MOST_FILES).exports]
        elif one.name in _exports_of(one.parent, listed):
            found.append(one)
    if not found:
        raise ReadError(printable(name), "no export matches this pattern")
    return found


def _exports_of(folder: Path, listed: dict[Path, frozenset[str]]) -> frozenset[str]:
    if folder not in listed:
        listed[folder] = frozenset(scan(folder, most=_MOST_FILES).exports)
    return listed[folder]
