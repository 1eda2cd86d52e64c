"""Exceptions: each means "there is no answer" and says what is wrong, where, and what would do.

::

    RheokitError
    ├── ReadError (ValueError)                an export, folder or side file that cannot be read
    │   └── MissingFileError (FileNotFoundError)
    ├── UnitError (ValueError)                a unit that is missing, unknown or of another quantity
    ├── GeometryError (ValueError)            a measuring geometry that is incomplete or impossible
    ├── SpecificationError (ValueError)       a specification that does not stand up
    ├── StepError (LookupError)               no such step, or more than one
    ├── RangeError (ValueError)               a value asked for outside what was measured
    ├── FitError (ValueError)                 data or a request that no fit can answer
    ├── DeclarationError (TypeError)          a Law that disagrees with its own functions
    ├── ComparisonError (ValueError)          two things that must not be compared
    ├── RetestError (ValueError)              a batch measured again beyond what its specification allows
    └── OutputError (OSError)                 a result that may not be written there

A limit that is not met is an answer, not an exception.
"""

from __future__ import annotations

import unicodedata
from functools import partial

__all__ = [
    "ComparisonError",
    "DeclarationError",
    "FitError",
    "GeometryError",
    "MissingFileError",
    "OutputError",
    "RangeError",
    "ReadError",
    "RetestError",
    "RheokitError",
    "SpecificationError",
    "StepError",
    "UnitError",
    "printable",
]


def printable(text: object, longest: int = 200) -> str:
    """Return text from a file as one line that no terminal acts on.

    Control, format and surrogate characters become visible escapes and long text is cut with an ellipsis.
    """
    shown = "".join(
        character if unicodedata.category(character) not in {"Cc", "Cf", "Cs", "Zl", "Zp"} else _escape(character)
        for character in str(text)
    )
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"


def _escape(character: str) -> str:
    return character.encode("unicode_escape").decode("ascii")


class RheokitError(Exception):
    """Base of every error of this library; its message is one line."""


class ReadError(RheokitError, ValueError):
    """A file that cannot be read: `path`, `place` (line, column or key), `seen` and `remedy` are attributes."""

    def __init__(self, path: object, seen: str, *, place: str = "", remedy: str = "") -> None:
        self.path = str(path)
        self.place = place
        self.seen = seen
        self.remedy = remedy
        super().__init__(self.named(path))

    def named(self, path: object) -> str:
        """Return the message with the file called otherwise: by its name in a folder, where the full path is nobody's business."""
        where = printable(path) + (f", {printable(self.place)}" if self.place else "")
        return f"{where}: {printable(self.seen, 400)}" + (f"; {printable(self.remedy, 400)}" if self.remedy else "")

    def __reduce__(self) -> tuple[object, ...]:
        # The default calls the class with the message alone; a worker's error would not arrive.
        return partial(type(self), place=self.place, remedy=self.remedy), (self.path, self.seen)


class MissingFileError(ReadError, FileNotFoundError):
    """A file or folder that is not there."""

    def __str__(self) -> str:
        return str(self.args[0])


class UnitError(RheokitError, ValueError):
    """A unit that is missing, unknown, or belongs to another quantity."""


class GeometryError(RheokitError, ValueError):
    """A measuring geometry that is incomplete, impossible or not known."""


class SpecificationError(RheokitError, ValueError):
    """A specification that does not stand up: `path`, `key`, `line`, `seen` and `remedy` are attributes."""

    def __init__(self, path: object, seen: str, *, key: str = "", line: int | None = None, remedy: str = "") -> None:
        self.path = str(path)
        self.key = key
        self.line = line
        self.seen = seen
        self.remedy = remedy
        where = printable(path) + (f", line {line}" if line is not None else "") + (f", {printable(key)}" if key else "")
        super().__init__(f"{where}: {printable(seen, 400)}" + (f"; {printable(remedy, 400)}" if remedy else ""))

    def __reduce__(self) -> tuple[object, ...]:
        return partial(type(self), key=self.key, line=self.line, remedy=self.remedy), (self.path, self.seen)


class StepError(RheokitError, LookupError):
    """A step that is not in the run, or a kind that matches more than one."""


class RangeError(RheokitError, ValueError):
    """A value asked for outside what was measured."""


class FitError(RheokitError, ValueError):
    """Data or a request that no fit can answer."""


class DeclarationError(RheokitError, TypeError):
    """A Law or Parameter that disagrees with its own functions."""


class ComparisonError(RheokitError, ValueError):
    """Two things that must not be compared: other units, conditions or methods."""


class RetestError(RheokitError, ValueError):
    """A batch measured again beyond what its specification fixed beforehand, or with a result left out."""


class OutputError(RheokitError, OSError):
    """A result that may not or cannot be written where it was asked for."""

    def __str__(self) -> str:
        return str(self.args[0])
