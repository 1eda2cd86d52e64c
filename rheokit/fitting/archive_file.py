"""The file that fits of an archive are written to: CSV or Parquet, whole or not at all, with a journal from which a run is taken up again.

While a run goes on, `FILE.journal` beside the file takes one line of JSON for every part that is done. At the end the file is written
under another name and given its own, and the journal is removed. Whatever moment a run ends at, the file is the old one or the new one.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from rheokit.base.errors import OutputError, ReadError, printable
from rheokit.fitting.archive_part import Cell, name_of
from rheokit.fitting.archive_table import FORMATS
from rheokit.reading.files import read_bytes, sha256_of

__all__ = ["ArchiveFile"]

Row = dict[str, Cell]


class ArchiveFile:
    """Rows of fits on their way to a file.

    Parameters
    ----------
    path
        Ends in `.csv` or `.parquet`.
    resume
        Whether to go on from what is there.

    Raises
    ------
    OutputError
        When the suffix is none of these, what Parquet needs is not installed, or, without `resume`, the file or its journal is there;
        with it, when what is there cannot be read.
    """

    def __init__(self, path: Path, *, resume: bool) -> None:
        self.path = path
        self.journal = path.with_name(f"{path.name}.journal")
        if path.suffix.lower() not in FORMATS:
            raise OutputError(f"{printable(path)}: is neither .csv nor .parquet; give the file one of these endings")
        if not path.parent.is_dir():
            raise OutputError(f"{printable(path)}: there is no folder {printable(path.parent)}; make it, or name another")
        self._format = FORMATS[path.suffix.lower()]
        self._format.check()
        self._resume = resume
        if not resume:
            self._refuse_what_is_there()
        self._failed: set[str] = set()
        self.rows: list[Row] = self._taken_up() if resume else []
        self._known = {_key(row) for row in self.rows}
        self.added = 0

    def _refuse_what_is_there(self) -> None:
        if os.path.lexists(self.path):
            raise OutputError(f"{printable(self.path)}: is there already and is not replaced; name another file, or go on with --resume")
        if os.path.lexists(self.journal):
            raise OutputError(f"{printable(self.journal)}: is left from a run that was interrupted; go on with --resume, or remove it")

    def _taken_up(self) -> list[Row]:
        """Return the rows of the file and of the journal, each once."""
        rows: dict[tuple[Cell, ...], Row] = {}
        if self.path.exists():
            try:
                found = self._format.read(self.path)
            except (OSError, ValueError) as error:
                raise OutputError(f"{printable(self.path)}: cannot be gone on with ({printable(error)}); name another file") from None
            rows = {_key(row): row for row in found}
        for row in self._journal_rows():
            rows.setdefault(_key(row), row)
        return list(rows.values())

    def _journal_rows(self) -> list[Row]:
        """Return the rows of the journal, and cut off a last line that was not finished."""
        if not self.journal.exists():
            return []
        data = self.journal.read_bytes()
        whole = data[: data.rfind(b"\n") + 1]
        try:
            parts = [json.loads(line) for line in whole.splitlines()]
            rows = [dict(row) for part in parts for row in part["rows"]]
            _ = [_key(row) for row in rows]
            self._failed.update(name for part in parts for name in part["failed"])
        except (ValueError, TypeError, KeyError):
            raise OutputError(f"{printable(self.journal)}: is no journal of such a run; remove it, or name another file") from None
        if len(whole) < len(data):
            with self.journal.open("r+b") as file:
                file.truncate(len(whole))
        return rows

    def left_to_do(self, paths: Iterable[Path], *, model: str, step: str | int, weighting: str, floor: float) -> list[Path]:
        """Return the exports of which the rows hold no such fit; those that failed before the interruption come last.

        So the others are taken in the same parts as without an interruption, and get the same numbers to the last digit. An export that
        cannot be opened is left for whoever reads it to say so.
        """
        column = "kind" if isinstance(step, str) else "step"
        done = {
            row["sha256"]
            for row in self.rows
            if (row[column], row["model"], row["weighting"], row["floor [Pa]"]) == (step, model, weighting, floor)
        }
        left = [path for path in paths if not done or _sha256(path) not in done]
        return sorted(left, key=lambda path: name_of(path) in self._failed)

    def append(self, rows: Sequence[Row], failed: Sequence[str]) -> None:
        """Take rows and the names of exports without a fit in and write them to the journal, on the disk before it returns.

        Raises
        ------
        OutputError
            When the journal cannot be written.
        """
        new = []
        for row in rows:
            if _key(row) not in self._known:
                self._known.add(_key(row))
                new.append(row)
        try:
            with self.journal.open("ab" if self._resume or self.added else "xb") as file:
                file.write(json.dumps({"rows": new, "failed": list(failed)}, allow_nan=False).encode("ascii") + b"\n")
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise OutputError(f"{printable(self.journal)}: cannot be written ({_why(error)}); name a folder you may write to") from None
        self.rows += new
        self.added += 1

    def finish(self) -> None:
        """Write the file from all rows, whole or not at all, and remove the journal; without rows there is no file.

        Raises
        ------
        OutputError
            When it cannot be written, or a file of that name has come up meanwhile; the journal then stays.
        """
        if self.rows and (self.added or not self.path.exists()):
            temporary = self.path.with_name(f".{self.path.name}.writing")
            try:
                self._format.write(temporary, self.rows)
                with temporary.open("r+b") as file:
                    os.fsync(file.fileno())
                self._give_name(temporary)
            except FileExistsError:
                raise OutputError(f"{printable(self.path)}: has come up meanwhile and is not replaced; go on with --resume") from None
            except OSError as error:
                raise OutputError(f"{printable(self.path)}: cannot be written ({_why(error)}); name a folder you may write to") from None
            finally:
                temporary.unlink(missing_ok=True)
        self.journal.unlink(missing_ok=True)

    def _give_name(self, temporary: Path) -> None:
        """Give a finished file its name: in place of the old one where the run went on from it, else only if the name is free."""
        if self._resume:
            temporary.replace(self.path)
            return
        try:
            self.path.hardlink_to(temporary)
        except FileExistsError:
            raise
        except OSError:  # some file systems know no links; there a name is taken by the rename, after one more look
            if self.path.exists():
                raise FileExistsError(self.path) from None
            temporary.rename(self.path)


def _key(row: Mapping[str, Any]) -> tuple[Cell, ...]:
    return row["sha256"], row["step"], row["model"], row["weighting"], row["floor [Pa]"]


def _sha256(path: Path) -> str:
    try:
        return sha256_of(read_bytes(path))
    except ReadError:
        return ""


def _why(error: OSError) -> str:
    return error.strerror or type(error).__name__
