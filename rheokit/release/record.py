"""The Record: pure JSON that holds everything a page about a check needs, and is written whole or not at all."""

from __future__ import annotations

import hashlib
import json
import math
import os
import platform
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar, Self

import numpy as np

from rheokit.base.errors import OutputError, printable
from rheokit.base.estimate import Condition, Estimate, Interval, Source
from rheokit.base.finding import Finding
from rheokit.base.version import VERSION

__all__ = ["FORMAT", "Record", "estimate_document", "finding_document", "pure", "versions"]

FORMAT = "rheokit record 1"
Json = Any
"""What `json` writes: dict, list, str, int, float, bool or None."""


def pure(value: float | None) -> float | str | None:
    """Return a number as JSON can hold it: open ends as words, no NaN."""
    if value is None or math.isfinite(value):
        return value
    if math.isnan(value):
        return None
    return "infinite" if value > 0 else "minus infinite"


def finding_document(finding: Finding) -> dict[str, Json]:
    """Return a finding as JSON."""
    return {
        "check": finding.check,
        "severity": finding.severity,
        "reason": finding.reason,
        "value": pure(finding.value),
        "limit": pure(finding.limit),
        "unit": finding.unit,
        "rows": list(finding.rows) if finding.rows else None,
        "source": finding.source,
    }


def _condition(condition: Condition) -> dict[str, Json]:
    value = condition.value if isinstance(condition.value, str) else pure(condition.value)
    return {"value": value, "unit": condition.unit, "shown": str(condition)}


def _interval(interval: Interval | None) -> dict[str, Json] | None:
    if interval is None:
        return None
    return {"lower": pure(interval.lower), "upper": pure(interval.upper), "level": interval.level, "reason": interval.reason}


def source_document(source: Source) -> dict[str, Json]:
    """Return a source as JSON."""
    return {"sha256": source.sha256, "run": source.run, "step": source.step, "rows": list(source.rows) if source.rows else None}


def estimate_document(estimate: Estimate | None) -> dict[str, Json] | None:
    """Return an estimate as JSON."""
    if estimate is None:
        return None
    return {
        "name": estimate.name,
        "value": estimate.value,
        "unit": estimate.unit,
        "standard_error": pure(estimate.standard_error),
        "degrees_of_freedom": pure(estimate.degrees_of_freedom),
        "method": estimate.method,
        "conditions": {key: _condition(held) for key, held in sorted(estimate.conditions.items())},
        "components": {part: pure(size) for part, size in sorted(estimate.components.items())},
        "interval": _interval(estimate.interval),
        "determined": estimate.determined,
        "reason": estimate.reason,
        "sources": [source_document(source) for source in estimate.sources],
        "findings": [finding_document(finding) for finding in estimate.findings],
    }


def versions() -> dict[str, str]:
    """Return the versions that the numbers depend on."""
    return {"rheokit": VERSION, "numpy": np.__version__, "python": platform.python_version()}


@dataclass(frozen=True, kw_only=True)
class Record:
    """One check as a document of plain JSON; every page about it is made from this alone."""

    document: Mapping[str, Json]
    format: ClassVar[str] = FORMAT
    """What `format` says in the document."""

    @property
    def sha256(self) -> str:
        """The sha256 of the document's bytes."""
        return hashlib.sha256(self.to_bytes()).hexdigest()

    @property
    def id(self) -> str:
        """First twelve digits of it."""
        return self.sha256[:12]

    def to_json(self, *, ascii_only: bool = False) -> str:
        """Return the document as text: sorted keys, no NaN, one newline at the end; `ascii_only` for a terminal, which acts on nothing."""
        return json.dumps(self.document, ensure_ascii=ascii_only, allow_nan=False, indent=1, sort_keys=True) + "\n"

    def to_bytes(self) -> bytes:
        """Return the text as UTF-8; a character that UTF-8 cannot hold (half a surrogate pair, from a file name) as its JSON escape."""
        return self.to_json().encode("utf-8", errors="backslashreplace")

    @classmethod
    def from_json(cls, text: str) -> Self:
        """Return the record that a text holds.

        Raises
        ------
        ValueError
            When it is not a record of this format.
        """
        document = json.loads(text)
        if not isinstance(document, dict) or document.get("format") != cls.format:
            raise ValueError(f"not a record of the format {cls.format!r}")
        return cls(document=document)

    @property
    def file_name(self) -> str:
        """A name that any file system takes, from the batch's id and the record's."""
        return f"{self._batch_in_a_name()}-{self.id}.json"

    def _batch_in_a_name(self) -> str:
        return re.sub(r"[^A-Za-z0-9_-]+", "_", str(self.document["batch"]["id"])).strip("_")[:60] or "batch"

    def write(self, folder: str | Path, *, never_inside: Path | None = None, page: str | None = None, pdf: bytes | None = None) -> Path:
        """Write the record into a folder and return its path; a file of that name is never replaced.

        A `page` (HTML) and a `pdf` made from this record are written beside it under the same name.

        Raises
        ------
        OutputError
            When the folder lies in the batch folder, the file is there already, or it cannot be written; nothing is left half written.
        """
        target = Path(folder)
        if never_inside is not None and target.resolve().is_relative_to(never_inside.resolve()):
            raise OutputError(f"{printable(target)}: lies in the batch folder, which is never written to; name another folder")
        path = target / self.file_name
        try:
            target.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            reason = error.strerror or str(error)
            raise OutputError(f"{printable(target)}: is no folder and cannot be made one ({reason}); name a folder") from None
        if page is not None:
            _write_or_say(path.with_suffix(".html"), page.encode("utf-8", errors="xmlcharrefreplace"))
        if pdf is not None:
            _write_or_say(path.with_suffix(".pdf"), pdf)
        _write_or_say(path, self.to_bytes())
        return path


def _write_or_say(path: Path, content: bytes) -> None:
    try:
        _write_new(path, content)
    except FileExistsError:
        raise OutputError(f"{printable(path)}: is there already and is not replaced; name another folder") from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"{printable(path)}: cannot be written ({reason}); name a folder you may write to") from None


def _write_new(path: Path, content: bytes) -> None:
    """Write a new file whole: into a temporary one beside it, then given its name, which fails if the name is taken."""
    if path.exists():
        raise FileExistsError(path)
    temporary = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        with temporary.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        _give_name(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)


def _give_name(temporary: Path, path: Path) -> None:
    try:
        path.hardlink_to(temporary)
    except FileExistsError:
        raise
    except OSError:  # some file systems know no links; there a name is taken by the rename, after one more look
        if path.exists():
            raise FileExistsError(path) from None
        temporary.rename(path)
