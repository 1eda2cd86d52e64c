"""Turn the rows of a table into columns of numbers in SI, with the lines they stand on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding
from rheokit.reading.columns import Settled
from rheokit.reading.files import PathText
from rheokit.reading.numbers import to_numbers
from rheokit.reading.rows import Row
from rheokit.reading.words import STEP

__all__ = ["Body", "read_body"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Body:
    """The measured points: quantity to values [SI] and to the cells as written, the step label and the line of each row."""

    values: Mapping[str, FloatArray]
    written: Mapping[str, tuple[str, ...]]
    labels: tuple[str, ...] | None
    lines: tuple[int, ...]
    findings: tuple[Finding, ...]


def read_body(settled: Settled, path: PathText) -> Body:
    """Return the numbers of a table in SI.

    Raises
    ------
    ReadError
        When a row has too few or too many cells (the last may be cut short), a cell is no number, or the first step has no label.
    """
    width = len(settled.columns)
    rows, findings = _whole_rows(settled.rows, width, path)
    lines = tuple(row.line for row in rows)
    across = list(zip(*(row.cells for row in rows), strict=True))
    values: dict[str, FloatArray] = {}
    written: dict[str, tuple[str, ...]] = {}
    labels: tuple[str, ...] | None = None
    for column, cells in zip(settled.columns, across, strict=True):
        if column.meaning == STEP:
            labels, more = _labels(cells, lines, column.place, path)
            findings += more
        elif column.meaning is not None and column.unit is not None:
            numbers = to_numbers(cells, lines, column.place, path)
            written[column.meaning] = cells
            with np.errstate(over="ignore"):
                values[column.meaning] = column.unit.to_si(numbers)
            _require_finite(values[column.meaning], lines, column.place, path)
    findings += _aside(settled, across) + _missing(values, lines)
    empty = [name for name, numbers in values.items() if np.isnan(numbers).all()]
    for name in empty:
        del values[name], written[name]
    return Body(values=values, written=written, labels=labels, lines=lines, findings=tuple(findings))


def _whole_rows(rows: Sequence[Row], width: int, path: PathText) -> tuple[Sequence[Row], list[Finding]]:
    """Refuse a row of another width, but leave out a last one that is cut short."""
    for index, row in enumerate(rows):
        if len(row.cells) == width:
            continue
        seen = f"{len(row.cells)} cells under {width} columns"
        last = index == len(rows) - 1
        if last and index > 0 and len(row.cells) < width and row.line == row.last_line:
            reason = f"line {row.line}, the last, is cut short ({seen}) and was left out; export the run again if a point is missing"
            return rows[:-1], [Finding(check="cut_short", severity="caution", reason=reason, rows=(row.line, row.line))]
        remedy = "every row needs one cell for each column; a number with a decimal comma counts as two"
        if row.line != row.last_line:
            remedy = f"a quotation mark opens here and closes in line {row.last_line}"
        raise ReadError(path, seen, place=f"line {row.line}", remedy=remedy)
    return rows, []


def _labels(cells: tuple[str, ...], lines: Sequence[int], place: str, path: PathText) -> tuple[tuple[str, ...], list[Finding]]:
    """Return the step label of each row; an empty cell belongs to the step above it."""
    labels: list[str] = []
    for cell, line in zip(cells, lines, strict=True):
        label = cell.strip() or (labels[-1] if labels else "")
        if not label:
            raise ReadError(path, "the first point belongs to no step", place=f"line {line}, {place}", remedy="write the step's number")
        labels.append(label)
    blank = sum(not cell.strip() for cell in cells)
    if not blank:
        return tuple(labels), []
    reason = f"{blank} rows name no step; each counts to the step above it"
    return tuple(labels), [Finding(check="step_column", severity="info", reason=reason)]


def _require_finite(values: FloatArray, lines: Sequence[int], place: str, path: PathText) -> None:
    infinite = np.isinf(values)
    if infinite.any():
        line = lines[int(np.argmax(infinite))]
        raise ReadError(path, "the number is too large in SI units", place=f"line {line}, {place}")


def _aside(settled: Settled, across: Sequence[tuple[str, ...]]) -> list[Finding]:
    """Name the columns that are not used; one without name and content is nothing to speak of."""
    names = [
        f"{column.number} ({column.heading!r})" if column.heading else f"{column.number} (no heading)"
        for column, cells in zip(settled.columns, across, strict=True)
        if column.meaning is None and (column.heading or "".join(cells).strip())
    ]
    if not names:
        return []
    reason = f"columns not known and not used: {', '.join(names)}; a layout file can name them"
    return [Finding(check="columns_aside", severity="info", reason=reason)]


def _missing(values: Mapping[str, FloatArray], lines: Sequence[int]) -> list[Finding]:
    """Name the columns with cells that hold no number; a viscosity at a rate of zero is not missed."""
    said = []
    for name, numbers in values.items():
        gone = np.isnan(numbers)
        if gone.all():
            said.append(f"{name.replace('_', ' ')} (every row: the column counts as absent)")
            continue
        if name == "viscosity" and "shear_rate" in values:
            gone &= values["shear_rate"] != 0.0
        if gone.any():
            said.append(
                f"{name.replace('_', ' ')} ({int(gone.sum())} of {len(lines)} rows, the first in line {lines[int(np.argmax(gone))]})"
            )
    if not said:
        return []
    return [Finding(check="missing_values", severity="info", reason=f"no number in: {', '.join(said)}")]
