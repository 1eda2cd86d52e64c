"""Read the sheets of a workbook (.xlsx, .xls, .ods) into rows of cells; numbers keep all their digits."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Sequence
from typing import NamedTuple

from rheokit.base.errors import ReadError
from rheokit.reading.archive import MOST_CELLS, check_archive, unreadable
from rheokit.reading.compound import check_compound
from rheokit.reading.files import PathText
from rheokit.reading.numbers import Exact
from rheokit.reading.rows import Row

__all__ = ["WorkbookSheet", "is_workbook", "read_sheets"]

_ZIP, _OLE = b"PK\x03", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"

_Value = float | int | str | bool | dt.time | dt.date | dt.datetime | dt.timedelta


class WorkbookSheet(NamedTuple):
    """One sheet: its name, its rows (blank ones have no cells), and whether it is shown when the workbook is opened."""

    name: str
    rows: tuple[Row, ...]
    visible: bool


def is_workbook(data: bytes) -> bool:
    """Tell a workbook from text by its first bytes; suffixes lie."""
    return data.startswith((_ZIP, _OLE))


def read_sheets(data: bytes, path: PathText) -> tuple[WorkbookSheet, ...]:
    """Return the sheets of a workbook that hold cells (charts do not).

    Raises
    ------
    ReadError
        When it is cut short, damaged, protected by a password, of no known kind, or beyond memory.
    """
    from python_calamine import CalamineError, CalamineWorkbook, PasswordError, SheetTypeEnum, SheetVisibleEnum  # noqa: PLC0415

    check = check_archive if data.startswith(_ZIP) else check_compound
    check(data, path)
    try:
        with CalamineWorkbook.from_filelike(io.BytesIO(data)) as workbook:
            sheets = []
            for about in workbook.sheets_metadata:
                if about.typ != SheetTypeEnum.WorkSheet:
                    continue
                cells = workbook.get_sheet_by_name(about.name).to_python(skip_empty_area=False)
                sheets.append(WorkbookSheet(about.name, _rows(cells), about.visible == SheetVisibleEnum.Visible))
            return tuple(sheets)
    except PasswordError:
        raise ReadError(path, "the workbook is protected by a password", remedy="save it without one") from None
    except (CalamineError, OSError, ValueError) as error:
        raise unreadable(path, f"{error}") from None
    except BaseException as error:  # a panic of the parser is nothing else, and its class cannot be imported
        if type(error).__name__ != "PanicException":
            raise
        raise unreadable(path, f"it is damaged ({error})") from None


def _rows(cells: Sequence[Sequence[_Value]]) -> tuple[Row, ...]:
    if cells and len(cells) * len(cells[0]) > MOST_CELLS:
        cells = cells[: MOST_CELLS // len(cells[0])]
    written = [[_text(value) for value in row] for row in cells]
    width = max((index + 1 for row in written for index, cell in enumerate(row) if cell), default=0)
    return tuple(Row(line, line, row[:width] if any(row) else []) for line, row in enumerate(written, 1))


def _text(value: _Value) -> str:
    """Return a cell as text that reads back to the same number or time."""
    if type(value) is float:  # most cells
        return Exact(int(value) if value.is_integer() and abs(value) < 1e15 else repr(value))
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return Exact(value)
    if isinstance(value, dt.time):
        value = dt.timedelta(hours=value.hour, minutes=value.minute, seconds=value.second, microseconds=value.microsecond)
    if isinstance(value, dt.timedelta):
        return _clock(value)
    return value.isoformat(" ") if isinstance(value, dt.datetime) else value.isoformat()


def _clock(span: dt.timedelta) -> str:
    minutes, seconds = divmod(span.seconds, 60)
    fraction = f".{span.microseconds:06d}" if span.microseconds else ""
    return f"{24 * span.days + minutes // 60:02d}:{minutes % 60:02d}:{seconds:02d}{fraction}"
