"""A laboratory's own precision: what its studies say of each characteristic, kept in one file that specifications take it from."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from types import MappingProxyType

from rheokit.base.carry import Carried
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number
from rheokit.characteristics import CHARACTERISTICS, At
from rheokit.release import specification_text as shape
from rheokit.release.asked import characteristic_of, conditions_of, uncertainty_of
from rheokit.release.toml_document import Document, Shape, document_in, read_document
from rheokit.release.written_file import Key
from rheokit.statistics.precision import StatedUncertainty

__all__ = ["PrecisionEntry", "PrecisionFile", "described", "precision_file_in", "read_precision_file"]


@dataclass(frozen=True, kw_only=True)
class PrecisionEntry(Carried):
    """What one study says of one characteristic.

    Attributes
    ----------
    characteristic, test, step, at
        What was measured and where; conditions in SI.
    repeatability, reproducibility
        Standard deviations of one load's number: on repeating it, and from one operator, day or instrument to another (None where the
        study does not tell).
    source, date
        Which study, and when it ended.
    """

    characteristic: str
    repeatability: StatedUncertainty
    source: str
    date: date
    test: str = ""
    step: str | int | None = None
    at: At = field(default_factory=dict)
    reproducibility: StatedUncertainty | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", MappingProxyType(dict(self.at)))

    def is_for(self, characteristic: str, test: str, step: str | int | None, at: At) -> bool:
        """Tell whether the entry is about this characteristic, measured there."""
        return (characteristic, test, step) == (self.characteristic, self.test, self.step) and _same(self.at, at)


@dataclass(frozen=True, kw_only=True)
class PrecisionFile:
    """A precision file: its name, the sha256 of its bytes, its entries."""

    name: str
    sha256: str
    entries: tuple[PrecisionEntry, ...]

    def find(self, characteristic: str, test: str, step: str | int | None, at: At) -> PrecisionEntry | None:
        """Return the entry about a characteristic measured there, or None."""
        return next((entry for entry in self.entries if entry.is_for(characteristic, test, step, at)), None)

    def table(self) -> Table:
        """Return the entries as a table."""
        rows = tuple(
            (
                described(entry.characteristic, entry.test, entry.step, entry.at),
                _shown(entry.repeatability, entry.characteristic),
                _shown(entry.reproducibility, entry.characteristic),
                entry.date.isoformat(),
                entry.source,
            )
            for entry in self.entries
        )
        columns = ("characteristic", "repeatability", "reproducibility", "date", "source")
        return Table(title=f"{self.name}, sha256 {self.sha256[:12]}", columns=columns, rows=rows)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def read_precision_file(path: str | Path) -> PrecisionFile:
    """Read and validate a precision file (TOML, `format = 1`, one `[[precision]]` for each characteristic).

    Raises
    ------
    SpecificationError
        Naming file, line, key, what was seen and what to write.
    """
    return _precision_file(read_document(Path(path), SHAPE))


def precision_file_in(text: str, path: Path) -> PrecisionFile:
    """Return the precision file that a text holds; the path is what messages call it."""
    return _precision_file(document_in(text.encode(), path, SHAPE))


def _precision_file(document: Document[shape.PrecisionFileText]) -> PrecisionFile:
    file = document.file
    entries: list[PrecisionEntry] = []
    for index, text in enumerate(document.content.precision):
        here = ("precision", index)
        characteristic = characteristic_of(here, text, f"precision {index + 1}", file)
        at = conditions_of(here, text, characteristic, file)
        if not text.source.strip():
            raise file.error((*here, "source"), "the source is empty", "say which study the numbers are from")
        if any(entry.is_for(text.characteristic, text.test or "", text.step, at) for entry in entries):
            where = described(text.characteristic, text.test or "", text.step, at)
            raise file.error((*here, "characteristic"), f"{where} stands twice", "keep the study that holds")
        between = text.reproducibility
        entries.append(
            PrecisionEntry(
                characteristic=text.characteristic,
                test=text.test or "",
                step=text.step,
                at=at,
                repeatability=uncertainty_of((*here, "repeatability"), text.repeatability, characteristic, file),
                reproducibility=None if between is None else uncertainty_of((*here, "reproducibility"), between, characteristic, file),
                source=text.source,
                date=text.date,
            )
        )
    return PrecisionFile(name=file.name, sha256=document.sha256, entries=tuple(entries))


def _known_keys(key: Key) -> list[str]:
    if not key:
        return list(shape.PrecisionFileText.model_fields)
    if key[-1] in {"repeatability", "reproducibility"}:
        return list(shape.StudiedText.model_fields)
    return list(shape.PrecisionText.model_fields)


SHAPE = Shape(
    kind=shape.PrecisionFileText,
    what="precision file",
    known_keys=_known_keys,
    needed="precision",
    without="a precision file without one says nothing; add one",
)


def described(characteristic: str, test: str, step: str | int | None, at: At) -> str:
    """Return in words what is measured where: `viscosity_at_rate (loop, down, shear_rate 100 1/s)`."""
    rules = CHARACTERISTICS[characteristic].at
    said = [test] if test else []
    said += [] if step is None else [str(step)]
    for name, value in at.items():
        amounts = value if isinstance(value, tuple) else (value,)
        words = " and ".join(amount if isinstance(amount, str) else number(amount) for amount in amounts)
        unit = _unit(rules[name].quantity) if name in rules and rules[name].quantity else ""
        said.append(f"{name} {words}{unit}")
    return f"{characteristic} ({', '.join(said)})" if said else characteristic


def _unit(name: str) -> str:
    unit = quantity(name).unit
    return "" if unit == "1" else f" {unit}"


def _shown(known: StatedUncertainty | None, characteristic: str) -> str:
    if known is None:
        return "not known"
    if known.relative is not None:
        size = f"{100.0 * known.relative:.3g} %"
    else:
        size = f"{known.absolute:.3g}{_unit(CHARACTERISTICS[characteristic].quantity)}"
    return f"{size} ({known.degrees_of_freedom:.3g} d.f.)"


def _same(one: At, other: At) -> bool:
    return one.keys() == other.keys() and all(_alike(value, other[name]) for name, value in one.items())


def _alike(one: float | tuple[float, ...] | str, other: float | tuple[float, ...] | str) -> bool:
    """Tell whether two conditions are the same, amounts to one part in a million."""
    if isinstance(one, str) or isinstance(other, str):
        return one == other
    first, second = (value if isinstance(value, tuple) else (value,) for value in (one, other))
    return len(first) == len(second) and all(math.isclose(a, b, rel_tol=1e-6) for a, b in zip(first, second, strict=True))
