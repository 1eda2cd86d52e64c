"""A writer of exports for the tests: numbers as they are printed, and a form that says how the file is laid out.

It shares no code with the reader nor with the virtual rheometer. A file is first a grid of cells, each row with its role, so that a
test knows where everything stands; then text or a workbook.
"""

from __future__ import annotations

import csv
import io
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np

NAMES: Mapping[str, Mapping[str, str]] = {
    "english": {
        "step": "Step", "time": "Time", "step_time": "Step time", "shear_rate": "Shear rate", "shear_stress": "Shear stress",
        "viscosity": "Viscosity", "torque": "Torque", "angular_velocity": "Angular velocity", "temperature": "Temperature",
        "normal_force": "Normal force", "shear_strain": "Strain", "point": "Point", "status": "Status", "remark": "Remark",
    },
    "german": {
        "step": "Abschnitt", "time": "Zeit", "step_time": "Abschnittszeit", "shear_rate": "Scherrate", "shear_stress": "Schubspannung",
        "viscosity": "Viskosität", "torque": "Drehmoment", "angular_velocity": "Drehzahl", "temperature": "Temperatur",
        "normal_force": "Normalkraft", "shear_strain": "Deformation", "point": "Messpunkt", "status": "Status", "remark": "Bemerkung",
    },
    "symbols": {
        "step": "Step", "time": "t", "step_time": "t_s", "shear_rate": "γ̇", "shear_stress": "τ", "viscosity": "η", "torque": "M",
        "angular_velocity": "Ω", "temperature": "T", "normal_force": "F_N", "shear_strain": "γ", "point": "No.", "status": "Status",
        "remark": "Remark",
    },
}  # fmt: skip

UNIT_FORMS: Mapping[str, str] = {
    "square": "{name} [{unit}]",
    "round": "{name} ({unit})",
    "in": "{name} in {unit}",
    "slash": "{name}/{unit}",
    "comma": "{name}, {unit}",
    "tight": "{name}[{unit}]",
    "row": "{name}",
    "row in brackets": "{name}",
}
"""How a heading and its unit share a cell; with `row` the unit stands in the row below."""

TEXTS = ("point", "status", "remark")
"""Columns that are no quantity."""

Steps = Literal["one", "column", "announced", "announced once", "headers", "blank lines", "restarts", "sheets"]


@dataclass(frozen=True, kw_only=True)
class Points:
    """What was measured, as printed: quantity to unit and cells (plain decimal numbers, empty where there is none), rows per step."""

    columns: Mapping[str, tuple[str, tuple[str, ...]]]
    lengths: tuple[int, ...]

    @property
    def labels(self) -> list[int]:
        """Number of the step of each row, from 1."""
        return [number for number, length in enumerate(self.lengths, 1) for _ in range(length)]


@dataclass(frozen=True, kw_only=True)
class Form:
    """How a file is laid out; a blank as delimiter is a run of blanks, `clock` writes times as h:mm:ss, UTF-16 has its mark."""

    name: str = ""
    container: Literal["text", "xlsx", "ods"] = "text"
    suffix: str = ".csv"
    encoding: str = "utf-8"
    delimiter: str = ","
    line_end: str = "\n"
    decimal: str = "."
    thousands: str = ""
    minus: str = "-"
    missing: str = ""
    words: Literal["english", "german", "symbols"] = "english"
    units: str = "square"
    steps: Steps = "column"
    preamble: tuple[tuple[str, str], ...] = ()
    preamble_with: Literal["delimiter", "colon"] = "delimiter"
    comment: str = ""
    notes: tuple[str, ...] = ()
    extra: tuple[str, ...] = ()
    order: tuple[int, ...] = ()
    clock: bool = False
    quoted: bool = False
    margin: int = 0


class Row(NamedTuple):
    """One row: what it is (preamble, announcement, header, units, data, note, blank), and its cells."""

    role: str
    cells: list[str]


Sheet = tuple[str, list[Row]]


def heading(form: Form, name: str, unit: str) -> str:
    """One cell of the header."""
    word = NAMES[form.words][name]
    if form.delimiter == " " and form.container == "text":
        word = word.replace(" ", "_")
    text = UNIT_FORMS[form.units].format(name=word, unit=unit) if unit else word
    return text.replace(" ", "") if form.delimiter == " " and form.container == "text" else text


def number(form: Form, cell: str, *, clock: bool = False) -> str:
    """One printed number in the signs of the form; a workbook holds plain numbers."""
    if not cell:
        return form.missing
    if form.container != "text":
        return cell
    if clock:
        whole, point, decimals = cell.partition(".")
        minutes, seconds = divmod(int(whole), 60)
        return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}" + (form.decimal + decimals if point else "")
    sign, size = ("-", cell[1:]) if cell[0] == "-" else ("", cell)
    mantissa, e, power = size.partition("e")
    whole, point, decimals = mantissa.partition(".")
    if form.thousands and not e:
        whole = f"{int(whole):,}".replace(",", form.thousands)
    return sign.replace("-", form.minus) + whole + point.replace(".", form.decimal) + decimals + e + power


def grid(points: Points, form: Form) -> list[Sheet]:
    """Rows of each sheet; a text has one."""
    names, rows = _columns(points, form)
    units = {name: unit for name, (unit, _) in points.columns.items()}
    if form.clock:
        units["time"] = "h:mm:ss"
    header = [Row("header", [heading(form, name, units.get(name, "")) for name in names])]
    if form.units.startswith("row"):
        brackets = "[{}]" if "brackets" in form.units else "{}"
        # A run of blanks has no empty cells.
        empty = "-" if form.delimiter == " " else ""
        header.append(Row("units", [brackets.format(units[name]) if units.get(name) else empty for name in names]))
    top = [Row("preamble", [key, value]) for key, value in form.preamble]
    if top:
        top.append(Row("blank", []))
    notes = [Row("blank", []), *(Row("note", [note]) for note in form.notes)] if form.notes else []
    if form.steps == "sheets":
        sheets = [("Information", top[:-1])] if top else []
        parts = itertools.pairwise(np.cumsum((0, *points.lengths)).tolist())
        return sheets + [(f"Step {number}", [*header, *rows[start:end]]) for number, (start, end) in enumerate(parts, 1)]
    return [("Data", [*top, *_blocks(points, form, header, rows), *notes])]


def _columns(points: Points, form: Form) -> tuple[list[str], list[Row]]:
    """Names of the columns in the form's order, and the rows of data."""
    labels = points.labels
    cells: dict[str, list[str]] = {}
    if form.steps == "column":
        cells["step"] = [str(label) for label in labels]
    for name, (_, column) in points.columns.items():
        cells[name] = [number(form, cell, clock=form.clock and name == "time") for cell in column]
    texts = {"point": [str(index) for index in range(1, len(labels) + 1)], "status": ["ok"] * len(labels)}
    texts["remark"] = ["restless" if index == len(labels) // 2 else form.missing for index in range(len(labels))]
    cells |= {name: texts[name] for name in form.extra}
    names = list(cells)
    if form.order:
        names = [names[place] for place in sorted(range(len(names)), key=lambda place: form.order[place % len(form.order)])]
    return names, [Row("data", list(row)) for row in zip(*(cells[name] for name in names), strict=True)]


def _blocks(points: Points, form: Form, header: list[Row], rows: list[Row]) -> list[Row]:
    if form.steps in {"one", "column", "restarts"}:
        return [*header, *rows]
    out: list[Row] = []
    start = 0
    for step, length in enumerate(points.lengths, 1):
        if step > 1:
            out.append(Row("blank", []))
        if form.steps.startswith("announced"):
            out.append(Row("announcement", [f"Step {step}"]))
        if step == 1 or form.steps in {"announced", "headers"}:
            out += header
        out += rows[start : start + length]
        start += length
    return out


def rendered(sheets: Sequence[Sheet], form: Form) -> bytes:
    """Bytes of the file."""
    if form.container != "text":
        return _workbook(sheets, form)
    mark = b"\xfe\xff" if form.encoding == "utf-16-be" else b""
    return mark + text_of(sheets[0][1], form).encode(form.encoding)


def text_of(rows: Sequence[Row], form: Form) -> str:
    """Text of a sheet."""
    return "".join(_line(row, form) + form.line_end for row in rows)


def _line(row: Row, form: Form) -> str:
    mark = form.comment if row.role in {"preamble", "announcement", "note"} else ""
    if row.role == "blank" or not row.cells:
        return ""
    if row.role == "preamble" and (form.preamble_with == "colon" or form.delimiter == " "):
        return f"{mark}{row.cells[0]}: {row.cells[1]}"
    if form.delimiter == " ":
        return mark + "   ".join(f"{cell:>9}" if row.role == "data" else cell for cell in row.cells)
    if row.role in {"note", "announcement"}:
        return mark + row.cells[0]
    out = io.StringIO()
    quoting = csv.QUOTE_ALL if form.quoted else csv.QUOTE_MINIMAL
    csv.writer(out, delimiter=form.delimiter, lineterminator="", quoting=quoting).writerow(row.cells)
    return mark + out.getvalue()


def _workbook(sheets: Sequence[Sheet], form: Form) -> bytes:
    out = io.BytesIO()
    margin = form.margin
    padded = [(name, [[]] * margin + [[""] * margin + row.cells for row in rows]) for name, rows in sheets]
    if form.container == "xlsx":
        _xlsx(padded, out)
    else:
        _ods(padded, out)
    return out.getvalue()


def _value(cell: str) -> float | str:
    try:
        return float(cell)
    except ValueError:
        return cell


def _xlsx(sheets: Sequence[tuple[str, list[list[str]]]], out: io.BytesIO) -> None:
    from openpyxl import Workbook  # noqa: PLC0415  only workbooks need it

    book = Workbook(write_only=True)
    for name, rows in sheets:
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append([_value(cell) if cell else None for cell in row])
    book.save(out)


def _ods(sheets: Sequence[tuple[str, list[list[str]]]], out: io.BytesIO) -> None:
    from odf.opendocument import OpenDocumentSpreadsheet  # noqa: PLC0415  only workbooks need it
    from odf.table import Table, TableCell, TableRow  # noqa: PLC0415
    from odf.text import P  # noqa: PLC0415

    book = OpenDocumentSpreadsheet()
    for name, rows in sheets:
        table = Table(name=name)
        for cells in rows:
            row = TableRow()
            for cell in cells:
                value = _value(cell)
                kind = {"valuetype": "float", "value": repr(value)} if isinstance(value, float) else {"valuetype": "string"} if cell else {}
                written = TableCell(**kind)
                if cell:
                    written.addElement(P(text=cell))
                row.addElement(written)
            table.addElement(row)
        book.spreadsheet.addElement(table)
    book.write(out)


def without(points: Points, *names: str) -> Points:
    """Return the same points without some columns."""
    return replace(points, columns={name: column for name, column in points.columns.items() if name not in names})
