"""Write sheets of cells as a workbook. The libraries belong to the tests and the sample runs and are loaded only here."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import datetime

from .shape import Cell

Sheet = tuple[str, Sequence[Sequence[Cell]]]
"""Name of a sheet, and its rows."""

_WRITTEN = datetime(2026, 9, 1, 8, 0)
"""The same bytes of a document's properties every time."""


def xlsx_bytes(sheets: Sequence[Sheet]) -> bytes:
    """Bytes of an Office Open XML workbook (ISO/IEC 29500); needs openpyxl."""
    from openpyxl import Workbook  # noqa: PLC0415  # only who writes a workbook needs it

    book = Workbook()
    book.remove(book.active)
    book.properties.created = book.properties.modified = _WRITTEN
    for name, rows in sheets:
        sheet = book.create_sheet(name)
        for row, cells in enumerate(rows, 1):
            for column, cell in enumerate(cells, 1):
                if cell is not None and cell != "":
                    sheet.cell(row, column, cell)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def ods_bytes(sheets: Sequence[Sheet]) -> bytes:
    """Bytes of an OpenDocument spreadsheet (ISO/IEC 26300); needs odfpy."""
    from odf.opendocument import OpenDocumentSpreadsheet  # noqa: PLC0415  # only who writes a workbook needs it
    from odf.table import Table, TableCell, TableRow  # noqa: PLC0415
    from odf.text import P  # noqa: PLC0415

    book = OpenDocumentSpreadsheet()
    for name, rows in sheets:
        table = Table(name=name)
        for cells in rows:
            row = TableRow()
            for cell in cells:
                if cell is None or cell == "":
                    row.addElement(TableCell())
                    continue
                written = TableCell(valuetype="float", value=repr(cell)) if isinstance(cell, float) else TableCell(valuetype="string")
                written.addElement(P(text=f"{cell:g}" if isinstance(cell, float) else cell))
                row.addElement(written)
            table.addElement(row)
        book.spreadsheet.addElement(table)
    out = io.BytesIO()
    book.write(out)
    return out.getvalue()
