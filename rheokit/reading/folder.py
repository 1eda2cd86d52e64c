"""Sort the files of a batch folder: exports, the batch file, results typed in, and what is left alone and why."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath

from rheokit.base.errors import MissingFileError, ReadError
from rheokit.base.finding import Finding
from rheokit.reading.files import PathText

__all__ = ["BATCH_FILE", "RESULTS_FILE", "Folder", "inside", "scan"]

BATCH_FILE = "batch.toml"
RESULTS_FILE = "results.csv"

_EXPORT_SUFFIXES = frozenset({"", ".csv", ".txt", ".tsv", ".dat", ".xlsx", ".xls", ".ods"})
_MOST_FILES = 2_000
"""A batch has tens of exports; a folder of this many is not one batch."""


@dataclass(frozen=True, kw_only=True)
class Folder:
    """A batch folder: names of the exports in it, whether the two side files are there, and what was passed over."""

    path: Path
    exports: tuple[str, ...]
    has_batch_file: bool
    has_results: bool
    findings: tuple[Finding, ...]


def scan(folder: PathText, *, most: int = _MOST_FILES) -> Folder:
    """Return what a folder holds; subfolders are not searched.

    A folder of more than `most` files is refused.

    Raises
    ------
    ReadError
        When it is missing, not a folder, cannot be listed, or holds too many files to be one batch.
    """
    path = Path(folder)
    try:
        entries = sorted(os.scandir(path), key=lambda entry: entry.name)
    except FileNotFoundError:
        raise MissingFileError(folder, "there is no such folder", remedy="check the path") from None
    except NotADirectoryError:
        raise ReadError(
            folder, "this is a file, not a folder", remedy="name the folder of the batch, or read one export with read_run"
        ) from None
    except OSError as error:
        raise ReadError(folder, f"the folder cannot be listed ({error.strerror or type(error).__name__})") from None
    except ValueError as error:
        raise ReadError(folder, f"this is no folder name ({error})") from None  # a name that holds a NUL
    if len(entries) > most:
        raise ReadError(folder, f"{len(entries)} files are not one batch")
    root = _real(path)
    exports, passed = [], []
    names = {entry.name for entry in entries}
    for entry in entries:
        why = _passed_over(entry, root)
        if why:
            passed.append(f"{entry.name!r} ({why})")
        elif entry.name not in {BATCH_FILE, RESULTS_FILE}:
            exports.append(entry.name)
    reason = f"not read: {', '.join(passed)}"
    findings = (Finding(check="passed_over", severity="info", reason=reason, source=path.name),) if passed else ()
    return Folder(
        path=path, exports=tuple(exports), has_batch_file=BATCH_FILE in names, has_results=RESULTS_FILE in names, findings=findings
    )


def _passed_over(entry: os.DirEntry[str], root: Path) -> str:
    """Say why an entry of the folder is not an export, or nothing."""
    name = entry.name
    reasons = (
        ("hidden", name.startswith(".")),
        ("temporary", name.startswith("~$") or name[:1] == name[-1:] == "#" or name.lower().endswith(("~", ".tmp", ".bak"))),
        ("a folder", Path(entry.path).is_dir()),  # os.DirEntry would raise on links that lead in a circle
        ("not an export", Path(name).suffix.lower() not in _EXPORT_SUFFIXES),
        ("a link that leads out of the folder", entry.is_symlink() and not _real(entry.path).is_relative_to(root)),
    )
    return "" if name in {BATCH_FILE, RESULTS_FILE} else next((why for why, true in reasons if true), "")


def _real(path: str | Path) -> Path:
    # Path.resolve would raise on links that lead in a circle.
    return Path(os.path.realpath(path))


def inside(folder: Path, file: str) -> Path | None:
    """Return the path of a file named in the batch file, or None when the name leads out of the folder."""
    posix, windows = PurePosixPath(file), PureWindowsPath(file)
    if posix.is_absolute() or windows.anchor or ".." in posix.parts or ".." in windows.parts or "\0" in file:
        return None
    path = folder.joinpath(*windows.parts)
    return path if _real(path).is_relative_to(_real(folder)) else None
