"""A layout file: names the column and unit of a quantity where the export's own header does not.

::

    format = 1
    [columns]
    shear_stress = { column = "Result 3", unit = "Pa" }
    step = { column = "Part" }
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from rheokit.base.errors import ReadError, UnitError
from rheokit.base.quantities import QUANTITIES, unit_of
from rheokit.reading.files import PathText
from rheokit.reading.toml_file import check_keys, nearest, read_toml, table_in, text_in
from rheokit.reading.words import STEP

__all__ = ["Layout", "LayoutColumn", "read_layout"]


@dataclass(frozen=True, kw_only=True)
class LayoutColumn:
    """One column by the text of its heading, and its unit where the layout gives one."""

    quantity: str
    column: str
    unit: str | None


@dataclass(frozen=True, kw_only=True)
class Layout:
    """The columns that a layout file names, by the text of their headings."""

    name: str
    columns: Mapping[str, LayoutColumn]

    def __post_init__(self) -> None:
        object.__setattr__(self, "columns", MappingProxyType(dict(self.columns)))


def read_layout(path: PathText) -> Layout:
    """Return a layout file.

    Raises
    ------
    ReadError
        When a key is unknown, a quantity or unit does not exist, or two quantities name the same column.
    """
    tables = read_toml(path)
    check_keys(tables, ("format", "columns"), "", path)
    columns: dict[str, LayoutColumn] = {}
    for quantity, entry in table_in(tables, "columns", path).items():
        column = _column(quantity, entry, path)
        if column.column in columns:
            both = f"{columns[column.column].quantity} and {quantity}"
            raise ReadError(path, f"{both} name the same column {column.column!r}", place=f"columns.{quantity}")
        columns[column.column] = column
    if not columns:
        raise ReadError(path, "it names no column", place="columns", remedy="or read the export without a layout file")
    return Layout(name=Path(path).name, columns=columns)


def _column(quantity: str, entry: object, path: PathText) -> LayoutColumn:
    place = f"columns.{quantity}"
    if quantity != STEP and quantity not in QUANTITIES:
        raise ReadError(path, "unknown quantity", place=place, remedy=nearest(quantity, (STEP, *QUANTITIES)))
    if not isinstance(entry, dict):
        raise ReadError(path, f"it is {entry!r}", place=place, remedy='write { column = "heading", unit = "Pa" }')
    check_keys(entry, ("column", "unit"), f"{place}.", path)
    heading = text_in(entry, "column", f"{place}.", path)
    if heading is None:
        raise ReadError(path, "it names no column", place=place, remedy='write { column = "heading", unit = "Pa" }')
    unit = text_in(entry, "unit", f"{place}.", path)
    if unit is not None and quantity != STEP:
        try:
            unit_of(unit, quantity)
        except UnitError as error:
            raise ReadError(path, str(error), place=f"{place}.unit") from None
    return LayoutColumn(quantity=quantity, column=" ".join(heading.split()), unit=unit)
