"""Rows of fits as a CSV or a Parquet file, and back to the last digit."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType, ModuleType

from rheokit.base.errors import OutputError
from rheokit.fitting.archive_part import Cell, is_text

__all__ = ["FORMATS", "Format"]

Row = dict[str, Cell]

# With one of these a spreadsheet begins a formula, or leaves it out when it looks for one; full-width forms count as well.
_FORMULA = tuple("=+-@\t\r\n'＝＋－＠")
_COUNTS = frozenset({"step", "points", "findings"})
_NEEDED = ("file", "sha256", "step", "kind", "model", "weighting", "floor [Pa]")


@dataclass(frozen=True, kw_only=True)
class Format:
    """How rows are written to a file and read from it; `check` refuses what is not installed."""

    check: Callable[[], object]
    write: Callable[[Path, Sequence[Row]], None]
    read: Callable[[Path], list[Row]]


def _columns(rows: Sequence[Row]) -> list[str]:
    return list(dict.fromkeys(name for row in rows for name in row))


def _checked(names: Sequence[str]) -> None:
    lacking = [name for name in _NEEDED if name not in names]
    if lacking:
        raise ValueError(f"it has no column {lacking[0]!r} and was not written by this command")


# --- CSV -------------------------------------------------------------------------------------------------------------------------


def _write_csv(path: Path, rows: Sequence[Row]) -> None:
    """Write rows as UTF-8; text stands in quotation marks, and what a spreadsheet would take for a formula behind an apostrophe."""
    names = _columns(rows)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, quoting=csv.QUOTE_NONNUMERIC)
        writer.writerow(names)
        for row in rows:
            writer.writerow([_written(row.get(name)) for name in names])


def _written(cell: Cell) -> Cell:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, str) and cell.lstrip(" ").startswith(_FORMULA):
        return f"'{cell}"
    return cell


def _read_csv(path: Path) -> list[Row]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.reader(file, strict=True)
        try:
            names = next(reader, [])
            _checked(names)
            return [_read_row(names, cells, reader.line_num) for cells in reader]
        except csv.Error as error:
            raise ValueError(f"line {reader.line_num}: {error}") from None


def _read_row(names: Sequence[str], cells: Sequence[str], line: int) -> Row:
    if len(cells) != len(names):
        raise ValueError(f"line {line} has {len(cells)} cells under {len(names)} columns")
    return {name: _read_cell(name, text, line) for name, text in zip(names, cells, strict=True)}


def _read_cell(column: str, text: str, line: int) -> Cell:
    if not text:
        return None
    if is_text(column):
        return text[1:] if text.startswith("'") else text
    try:
        if column == "converged":
            return {"true": True, "false": False}[text]
        return int(text) if column in _COUNTS else float(text)
    except (KeyError, ValueError):
        raise ValueError(f"line {line}, column {column!r}: {text!r} does not belong there") from None


# --- Parquet ---------------------------------------------------------------------------------------------------------------------


def _parquet() -> tuple[ModuleType, ModuleType]:
    """Return pyarrow and its Parquet module; the one place where they are imported."""
    try:
        import pyarrow as pa  # noqa: PLC0415 - heavy, and only wanted where Parquet is asked for
        import pyarrow.parquet as pq  # noqa: PLC0415 - as above
    except ImportError:
        raise OutputError("Parquet needs pyarrow, which is not installed: pip install 'rheokit[parquet]', or write a .csv") from None
    return pa, pq


def _write_parquet(path: Path, rows: Sequence[Row]) -> None:
    pa, pq = _parquet()
    kinds = {"converged": pa.bool_(), **dict.fromkeys(_COUNTS, pa.int64())}
    names = _columns(rows)
    fields = [pa.field(name, pa.string() if is_text(name) else kinds.get(name, pa.float64())) for name in names]
    pq.write_table(pa.Table.from_pylist([{name: row.get(name) for name in names} for row in rows], schema=pa.schema(fields)), path)


def _read_parquet(path: Path) -> list[Row]:
    _, pq = _parquet()
    table = pq.read_table(path)
    _checked(table.column_names)
    rows: list[Row] = table.to_pylist()
    return rows


def _nothing() -> None:
    """Ask for nothing: CSV comes with Python."""


FORMATS: Mapping[str, Format] = MappingProxyType(
    {
        ".csv": Format(check=_nothing, write=_write_csv, read=_read_csv),
        ".parquet": Format(check=_parquet, write=_write_parquet, read=_read_parquet),
    }
)
"""Ending of the file name, in lower case, to how it is written."""
