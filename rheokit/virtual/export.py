"""Write a run the way instruments export it: text or a workbook, in any ``Shape``."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from pathlib import Path

from .shape import Cell, Reported, Shape
from .workbook import Sheet, ods_bytes, xlsx_bytes


def export_text(measurement: Reported, shape: Shape, preamble: Mapping[str, str] | None = None) -> str:
    """Text of an export: preamble lines and an empty line if there is a preamble, header, one row a point, notes.

    A number that does not exist (the viscosity at a rate of zero) is the shape's word for it, an empty cell as a rule.
    """
    lines = []
    if preamble:
        lines += [shape.comment + line for line in _preamble_lines(shape, preamble)]
        lines.append(shape.comment.rstrip())
    for number, rows in _blocks(measurement, shape):
        if shape.steps == "blocks" and lines and number > 1:
            lines.append("")
        if shape.announcement:
            lines.append(shape.comment + shape.announcement.format(number=number))
        if shape.header_repeated or number == 1:
            lines += _joined(shape.header(), shape)
        units = [column.unit for column in shape.columns]
        lines += _joined([[shape.printed(cell, unit) for cell, unit in zip(row, units, strict=True)] for row in rows], shape)
    if shape.notes:
        lines += ["", *(shape.comment + note for note in shape.notes)]
    return "".join(line + shape.line_end for line in lines)


def export_bytes(measurement: Reported, shape: Shape, preamble: Mapping[str, str] | None = None) -> bytes:
    """Bytes of an export: an encoded text, or a workbook."""
    if shape.container == "text":
        return export_text(measurement, shape, preamble).encode(shape.encoding)
    sheets = export_sheets(measurement, shape, preamble)
    return xlsx_bytes(sheets) if shape.container == "xlsx" else ods_bytes(sheets)


def export_sheets(measurement: Reported, shape: Shape, preamble: Mapping[str, str] | None = None) -> list[Sheet]:
    """Sheets of a workbook: the preamble above the first table, or on a sheet of its own where each step has one."""
    title: list[Sequence[Cell]] = [[key, value] for key, value in (preamble or {}).items()]
    sheets: list[Sheet] = [("Information", title)] if title and shape.steps == "sheets" else []
    rows: list[Sequence[Cell]] = [] if shape.steps == "sheets" or not title else [*title, []]
    for number, points in _blocks(measurement, shape):
        if shape.announcement and shape.steps != "sheets":
            rows.append([shape.announcement.format(number=number)])
        if shape.header_repeated or number == 1:
            rows += shape.header()
        rows += [[_rounded(cell, shape.digits) for cell in row] for row in points]
        if shape.steps == "sheets":
            sheets.append((f"Step {number}", _with_margin(rows, shape.margin)))
            rows = []
        elif shape.steps == "blocks":
            rows.append([])
    if shape.steps != "sheets":
        rows += [[note] for note in shape.notes]
        sheets.append(("Data", _with_margin(rows, shape.margin)))
    return sheets


def write_export(path: Path, measurement: Reported, shape: Shape, preamble: Mapping[str, str] | None = None) -> None:
    """Write an export; an existing file is never replaced.

    Raises
    ------
    FileExistsError
        If the path exists.
    """
    with path.open("xb") as file:
        file.write(export_bytes(measurement, shape, preamble))


def _preamble_lines(shape: Shape, preamble: Mapping[str, str]) -> list[str]:
    if shape.preamble == "{key}{delimiter}{value}" and shape.delimiter != " ":
        return _joined([list(pair) for pair in preamble.items()], shape)
    return [shape.preamble.format(key=key, delimiter=shape.delimiter, value=value) for key, value in preamble.items()]


def _blocks(measurement: Reported, shape: Shape) -> Iterator[tuple[int, list[tuple[Cell, ...]]]]:
    """Yield the number from 1 and the rows of each block: all rows at once, or step by step."""
    rows = list(zip(*(column.cells(measurement) for column in shape.columns), strict=True))
    if shape.steps == "one table":
        yield 1, rows
        return
    steps = measurement.step.tolist()
    for number, (_, places) in enumerate(groupby(range(len(rows)), key=lambda place: steps[place]), 1):
        yield number, [rows[place] for place in places]


def _joined(rows: Sequence[Sequence[str]], shape: Shape) -> list[str]:
    """Lines of rows of text; cells that hold the delimiter are quoted."""
    if shape.delimiter == " ":
        return ["  ".join(f"{cell:>12}" for cell in row) for row in rows]
    text = io.StringIO()
    csv.writer(text, delimiter=shape.delimiter, lineterminator="\n").writerows(rows)
    return text.getvalue().splitlines()


def _with_margin(rows: Sequence[Sequence[Cell]], margin: int) -> list[Sequence[Cell]]:
    return [*([] for _ in range(margin)), *([*[None] * margin, *row] for row in rows)]


def _rounded(cell: Cell, digits: int) -> Cell:
    return float(f"{cell:.{digits}g}") if isinstance(cell, float) else cell
