"""A layout file: settles what an export does not say about itself, or says wrongly. Every key but `format` may be left out.

::

    format = 1
    encoding = "utf-8"              # or utf-16, cp1252
    delimiter = "semicolon"         # comma, semicolon, tab, bar or spaces
    decimal = ","
    thousands = "."                 # . , ' space, or none
    header_line = 12                # as an editor counts; 0 where there is no header and columns go by number

    [columns]
    shear_stress = { column = "Result 3", unit = "Pa" }
    viscosity = { column = 7, unit = "mPa·s" }
    step = { column = "Part" }

    [geometry]
    kind = "cone-plate"
    radius = "12.5 mm"
    angle = "2 °"

    [steps]                         # kinds of steps, by number; they count before what the numbers look like
    1 = "shear"
    3 = { kind = "up", controlled = "stress" }
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from rheokit.base.errors import ReadError, UnitError
from rheokit.base.quantities import QUANTITIES, unit_of
from rheokit.base.run import CONTROLS, STEP_KINDS, Controlled, StepKind
from rheokit.geometry.geometry import Geometry
from rheokit.reading.files import PathText
from rheokit.reading.geometries import geometry_in_table
from rheokit.reading.toml_file import check_keys, nearest, read_toml, table_in, text_in
from rheokit.reading.words import STEP

__all__ = ["DELIMITER_WORDS", "THOUSANDS_WORDS", "Layout", "LayoutColumn", "LayoutStep", "read_layout"]

_KEYS = ("format", "encoding", "delimiter", "decimal", "thousands", "header_line", "columns", "geometry", "steps")

DELIMITER_WORDS: Mapping[str, str] = MappingProxyType({"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|", "spaces": " "})
"""Word in a layout file to the sign; `spaces` is a run of one or more."""

_ENCODINGS = {"utf-8": "utf-8", "utf-16": "utf-16", "cp1252": "cp1252"}
_DECIMALS = {".": ".", ",": ","}
THOUSANDS_WORDS: Mapping[str, str] = MappingProxyType({".": ".", ",": ",", "'": "'", "space": " ", "none": ""})
"""Word in a layout file to the mark between thousands."""


@dataclass(frozen=True, kw_only=True)
class LayoutColumn:
    """One column by the text of its heading (`column`) or by its number from 1, and its unit where the layout gives one."""

    quantity: str
    column: str
    unit: str | None
    number: int | None = None


@dataclass(frozen=True, kw_only=True)
class LayoutStep:
    """The kind that a layout names for one step, and what was controlled where it says so."""

    kind: StepKind
    controlled: Controlled | None = None


@dataclass(frozen=True, kw_only=True)
class Layout:
    """What a layout file says; None where it says nothing, and then the reader decides.

    Attributes
    ----------
    name
        File name of the layout.
    encoding
        `utf-8` (with or without byte order mark), `utf-16` or `cp1252`.
    delimiter
        `,` `;` tab `|`, or one space for runs of spaces.
    decimal
        The decimal mark, `.` or `,`.
    thousands
        The mark between thousands: `.` `,` `'` or a space; empty where there is none.
    header_line
        Line of the header as an editor counts; 0 where there is none and every column goes by its number.
    columns
        Heading of a column, or its number in the form `#7`, to what it is.
    geometry
        Turns torque and speed into stress and rate.
    steps
        Number of a step, from 1, to its kind.
    """

    name: str
    encoding: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    thousands: str | None = None
    header_line: int | None = None
    columns: Mapping[str, LayoutColumn] = field(default_factory=dict)
    geometry: Geometry | None = None
    steps: Mapping[int, LayoutStep] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "columns", MappingProxyType(dict(self.columns)))
        object.__setattr__(self, "steps", MappingProxyType(dict(self.steps)))


def read_layout(path: PathText) -> Layout:
    """Return a layout file.

    Raises
    ------
    ReadError
        When a key is unknown, a quantity, unit, kind or sign does not exist, two quantities name the same column, the two marks of
        a number are the same, or it says nothing at all.
    """
    tables = read_toml(path)
    check_keys(tables, _KEYS, "", path)
    if set(tables) == {"format"}:
        raise ReadError(path, "it says nothing", remedy=f"write one of {', '.join(_KEYS[1:])}, or read the export without a layout file")
    decimal, thousands = _word(tables, "decimal", _DECIMALS, path), _word(tables, "thousands", THOUSANDS_WORDS, path)
    if decimal is not None and decimal == thousands:
        raise ReadError(path, f"{decimal!r} is the decimal mark already", place="thousands", remedy="name the other mark, or 'none'")
    return Layout(
        name=Path(path).name,
        encoding=_word(tables, "encoding", _ENCODINGS, path),
        delimiter=_word(tables, "delimiter", DELIMITER_WORDS, path),
        decimal=decimal,
        thousands=thousands,
        header_line=_header_line(tables, path),
        columns=_columns(tables, path),
        geometry=geometry_in_table(table_in(tables, "geometry", path), "geometry", path) if "geometry" in tables else None,
        steps=_steps(tables, path),
    )


def _word(tables: Mapping[str, object], key: str, known: Mapping[str, str], path: PathText) -> str | None:
    """Return what a word of a layout file stands for."""
    word = text_in(tables, key, "", path)
    if word is None:
        return None
    if word not in known:
        raise ReadError(path, f"it is {word!r}", place=key, remedy=f"write one of {', '.join(map(repr, known))}")
    return known[word]


def _header_line(tables: Mapping[str, object], path: PathText) -> int | None:
    line = tables.get("header_line")
    if line is None:
        return None
    if not isinstance(line, int) or isinstance(line, bool) or line < 0:
        raise ReadError(path, f"it is {line!r}", place="header_line", remedy="write the line as an editor counts, or 0 where there is none")
    return line


def _columns(tables: Mapping[str, object], path: PathText) -> dict[str, LayoutColumn]:
    columns: dict[str, LayoutColumn] = {}
    for quantity, entry in table_in(tables, "columns", path).items():
        column = _column(quantity, entry, path)
        if column.column in columns:
            both = f"{columns[column.column].quantity} and {quantity}"
            raise ReadError(path, f"{both} name the same column {column.column!r}", place=f"columns.{quantity}")
        columns[column.column] = column
    if "columns" in tables and not columns:
        raise ReadError(path, "it names no column", place="columns", remedy="name one, or take the table away")
    return columns


def _column(quantity: str, entry: object, path: PathText) -> LayoutColumn:
    place = f"columns.{quantity}"
    if quantity != STEP and quantity not in QUANTITIES:
        raise ReadError(path, "unknown quantity", place=place, remedy=nearest(quantity, (STEP, *QUANTITIES)))
    if not isinstance(entry, dict):
        raise ReadError(path, f"it is {entry!r}", place=place, remedy='write { column = "heading", unit = "Pa" }')
    check_keys(entry, ("column", "unit"), f"{place}.", path)
    number = entry.get("column")
    if not isinstance(number, int) or isinstance(number, bool):
        number = None
    elif number < 1:
        raise ReadError(path, f"it is {number}", place=f"{place}.column", remedy="columns are numbered from 1")
    heading = f"#{number}" if number is not None else text_in(entry, "column", f"{place}.", path)
    if heading is None:
        raise ReadError(path, "it names no column", place=place, remedy='write { column = "heading", unit = "Pa" }')
    unit = text_in(entry, "unit", f"{place}.", path)
    if unit is not None and quantity != STEP:
        try:
            unit_of(unit, quantity)
        except UnitError as error:
            raise ReadError(path, str(error), place=f"{place}.unit") from None
    return LayoutColumn(quantity=quantity, column=" ".join(heading.split()), unit=unit, number=number)


def _steps(tables: Mapping[str, object], path: PathText) -> dict[int, LayoutStep]:
    steps: dict[int, LayoutStep] = {}
    for key, entry in table_in(tables, "steps", path).items():
        place = f"steps.{key}"
        if not (key.isascii() and key.isdigit() and 0 < len(key) <= 6 and int(key) >= 1):
            raise ReadError(path, "it is no number of a step", place=place, remedy='write the number of the step, such as 3 = "up"')
        if int(key) in steps:
            raise ReadError(path, f"step {int(key)} is named twice", place=place)
        steps[int(key)] = _step(entry, place, path)
    return steps


def _step(entry: object, place: str, path: PathText) -> LayoutStep:
    if isinstance(entry, str):
        entry = {"kind": entry}
    if not isinstance(entry, dict):
        raise ReadError(path, f"it is {entry!r}", place=place, remedy='write a kind such as "up"')
    check_keys(entry, ("kind", "controlled"), f"{place}.", path)
    kind, controlled = (text_in(entry, key, f"{place}.", path) for key in ("kind", "controlled"))
    known = next((one for one in STEP_KINDS if one == kind), None)
    if known is None:
        seen = "it names no kind" if kind is None else f"unknown kind of step {kind!r}"
        raise ReadError(path, seen, place=place, remedy=nearest(kind or "", STEP_KINDS))
    control = next((one for one in CONTROLS if one == controlled), None)
    if controlled is not None and control is None:
        seen = f"nothing is controlled by {controlled!r}"
        raise ReadError(path, seen, place=f"{place}.controlled", remedy=nearest(controlled, CONTROLS))
    return LayoutStep(kind=known, controlled=control)
