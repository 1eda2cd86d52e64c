"""Workbooks of every kind read to the numbers that their cells hold, and what is damaged or beyond memory is refused."""

from __future__ import annotations

import datetime as dt
import io
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from openpyxl import Workbook
from workbooks.old_workbook import xls

import rheokit as rk
from rheokit.base.errors import ReadError
from rheokit.reading import archive
from rheokit.reading.inspection import inspect_export

HEAD = ["Time [s]", "Shear rate [1/s]", "Shear stress [Pa]"]
POINTS = [[0.1234567890123456, 1, 2.5], [1.5, 10, 1.234567890123456e-7], [2, 123456.7890123456, -3.25]]
"""Numbers of 16 digits, as many as the writer of these workbooks keeps."""


def xlsx(sheets: dict[str, list[list[object]]], hidden: tuple[str, ...] = ()) -> bytes:
    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
        sheet.sheet_state = "hidden" if name in hidden else "visible"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def ods(sheets: dict[str, list[list[object]]]) -> bytes:
    book = OpenDocumentSpreadsheet()
    for name, rows in sheets.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for cell in row:
                if isinstance(cell, str):
                    written = TableCell(valuetype="string")
                    written.addElement(P(text=cell))
                else:
                    written = TableCell() if cell is None else TableCell(valuetype="float", value=repr(cell))
                line.addElement(written)
            table.addElement(line)
        book.spreadsheet.addElement(table)
    out = io.BytesIO()
    book.write(out)
    return out.getvalue()


def old(sheets: dict[str, list[list[object]]]) -> bytes:
    return xls({name: [["" if cell is None else cell for cell in row] for row in rows] for name, rows in sheets.items()})


OLD = Path(__file__).parents[1] / "workbooks" / "old_flow_curve.xls"
"""Written by the general-purpose writer xlwt 1.3.0, which knows nothing of rheology: a merged title, a preamble, names over units, moments
as dates (one of them midnight, which is a date without a time), numbers with and without decimals, a summary, a hidden sheet."""


def test_an_old_workbook_of_another_writer_reads_to_its_numbers():
    run = rk.read_run(OLD)
    (step,) = run.steps
    index = np.arange(1.0, 13.0)
    np.testing.assert_array_equal(step.time, 2.0 * (index - 1.0))
    np.testing.assert_array_equal(step.shear_rate, 8.5 * index)
    np.testing.assert_array_equal(step.shear_stress, 60.0 + 12.25 * index)
    # One rounding when it was written, one when it was read.
    np.testing.assert_allclose(step.columns["viscosity"], (60.0 + 12.25 * index) / (8.5 * index), rtol=4e-16, atol=0.0)
    np.testing.assert_allclose(step.columns["temperature"], 296.16, rtol=4e-16, atol=0.0)
    assert dict(run.metadata) == {
        "line 1": "Up-ramp of an invented ink",
        "Batch": "B26-041",
        "Prüfer": "µ-Labor 2",
        "Mean": "55.25 139.625",
    }
    assert [finding.check for finding in run.findings] == ["sheets", "summary_rows", "step_column"]
    assert str(run.findings[0]) == "the hidden sheet 'Old' was not read"


@pytest.mark.parametrize("size", [100, 600, 2816, 5120, 5631])
def test_an_old_workbook_cut_short_is_refused(write, size):
    data = OLD.read_bytes()
    assert len(data) == 5632
    with pytest.raises(
        ReadError, match=r"the workbook cannot be read: it is cut short or damaged \((its head|sector \d+) is not there\); exp"
    ):
        rk.read_run(write(data[:size], "run.xls"))


WRITERS = {".xlsx": xlsx, ".ods": ods, ".xls": old}


@pytest.mark.parametrize("suffix", WRITERS)
@pytest.mark.parametrize(
    "rows",
    [
        [HEAD, *POINTS],
        [["Up and down"], [], ["Batch", "B1"], [], HEAD, *POINTS],
        [["", "", "", *HEAD], *(["", "", "", *point] for point in POINTS)],
        [["Batch", "B1"], [None], ["Time", "Shear rate", "Shear stress"], ["s", "1/s", "Pa"], *POINTS, [], ["End of data"]],
    ],
    ids=["bare", "title rows", "empty columns", "units row and notes"],
)
def test_the_cells_of_one_sheet_are_the_numbers(write, suffix, rows):
    run = rk.read_run(write(WRITERS[suffix]({"Data": rows}), f"run{suffix}"))
    for index, name in enumerate(("time", "shear_rate", "shear_stress")):
        assert run.steps[0].columns[name].tolist() == [float(point[index]) for point in POINTS]
    assert run.metadata.get("Batch") in {None, "B1"}
    assert [finding for finding in run.findings if finding.severity != "info"] == []


@pytest.mark.parametrize("suffix", WRITERS)
def test_every_sheet_is_a_step_and_the_first_one_metadata(write, suffix):
    sheets = {
        "About": [["Batch", "B1"], ["Operator", "technician 2"]],
        "Rest": [HEAD, *POINTS],
        "Ramp": [HEAD[:2], *(row[:2] for row in POINTS)],
    }
    run = rk.read_run(write(WRITERS[suffix](sheets), f"run{suffix}"))
    assert [len(step) for step in run.steps] == [3, 3]
    assert run.steps[1].columns["shear_rate"].tolist() == [1.0, 10.0, 123456.7890123456]
    assert np.isnan(run.steps[1].columns["shear_stress"]).all()
    assert dict(run.metadata) == {"Batch": "B1", "Operator": "technician 2"}
    assert run.steps[0].rows == (2, 4)
    assert "the tables of 2 sheets follow each other, each a step or more: 'Rest', 'Ramp'" in map(str, run.findings)


def test_blocks_and_step_columns_divide_a_sheet_as_they_do_a_text(write):
    blocks = [HEAD, *POINTS[:2], [], HEAD, *POINTS[1:]]
    assert [len(step) for step in rk.read_run(write(xlsx({"Data": blocks}), "a.xlsx")).steps] == [2, 2]
    column = [["Step", *HEAD], *([number, *point] for number, point in zip((1, 1, 2), POINTS, strict=True))]
    assert [len(step) for step in rk.read_run(write(xlsx({"Data": column}), "b.xlsx")).steps] == [2, 1]


def test_a_hidden_sheet_is_not_read_and_named(write):
    run = rk.read_run(write(xlsx({"Data": [HEAD, *POINTS], "Old": [HEAD, *POINTS]}, hidden=("Old",)), "run.xlsx"))
    assert len(run.steps) == 1
    assert "the hidden sheet 'Old' was not read" in map(str, run.findings)


@pytest.mark.parametrize(
    ("cells", "seconds"),
    [
        ([dt.time(0, 0, 5), dt.time(0, 1, 5, 250_000)], [5.0, 65.25]),
        ([dt.timedelta(seconds=5), dt.timedelta(hours=30)], [5.0, 108_000.0]),
        ([dt.datetime(2026, 9, 14, 23, 59, 59), dt.datetime(2026, 9, 15, 0, 0, 1)], [0.0, 2.0]),
        (["00:00:05", "0:01:05,25"], [5.0, 65.25]),
    ],
    ids=["times of day", "durations", "moments", "texts"],
)
def test_times_in_cells_are_seconds(write, cells, seconds):
    rows = [["Time", "Shear rate [1/s]"], *([cell, 1.0] for cell in cells)]
    run = rk.read_run(write(xlsx({"Data": rows}), "run.xlsx"))
    # A workbook keeps times as parts of a day, to some 1e-15 of one and rounded to milliseconds when they are shown.
    np.testing.assert_allclose(run.steps[0].time, seconds, atol=1e-3)


def test_numbers_written_as_text_are_read_by_their_own_marks(write):
    rows = [HEAD, [1.5, "1,25", 3.0], [2.5, "1.234,5", 4.125]]
    run = rk.read_run(write(xlsx({"Data": rows}), "run.xlsx"))
    assert run.steps[0].shear_rate.tolist() == [1.25, 1234.5]
    assert run.steps[0].time.tolist() == [1.5, 2.5]


def test_a_workbook_is_told_by_its_bytes_and_shown_by_inspection(write):
    path = write(xlsx({"Data": [HEAD, *POINTS]}), "run.csv")
    file = dict(inspect_export(path)[0].rows)
    assert file["encoding"] == "workbook"
    assert file["header"] == "line 1"


def zipped(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in parts.items():
            book.writestr(name, content)
    return out.getvalue()


def parts_of(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return {name: book.read(name) for name in book.namelist()}


GOOD = xlsx({"Data": [HEAD, *POINTS]})
SHEET = "xl/worksheets/sheet1.xml"


def spoilt(old: bytes, new: bytes, part: str = SHEET) -> bytes:
    parts = parts_of(GOOD)
    assert old in parts[part]
    return zipped({**parts, part: parts[part].replace(old, new)})


REFUSED = {
    "cut short": (
        GOOD[: len(GOOD) // 2],
        rf"the workbook cannot be read: it is cut short, as its last part is not among its {len(GOOD) // 2:,} bytes; copy the whole file",
    ),
    "cut short to a stub": (GOOD[:3], "the workbook cannot be read: it is cut short"),
    "the last bytes gone": (GOOD[:-10], r"the workbook cannot be read: it is cut short or damaged \(.+\); export the run again"),
    "a web page": (b"<html><table><tr><td>1</td></tr></table></html>", r"run\.xlsx: this is a web page or other marked-up text"),
    "a byte flipped": (GOOD[:60] + bytes([GOOD[60] ^ 1]) + GOOD[61:], r"the workbook cannot be read: it is cut short or damaged"),
    "no workbook": (zipped({"a.txt": b"hello"}), r"the workbook cannot be read: "),
    "an old workbook cut short": (old({"Data": [HEAD, *POINTS]})[:-600], r"the workbook cannot be read: "),
    "no old workbook": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, r"the workbook cannot be read: "),
    "entities": (
        spoilt(b"<worksheet", b"<!DOCTYPE x [<!ENTITY a 'b'>]><worksheet"),
        r"sheet1\.xml declares entities, or is not UTF-8, which no export does",
    ),
    "a far cell": (
        spoilt(b'<c r="C4"', b'<c r="XFD900000"'),
        r"a sheet spans 900,000 rows and 16,384 columns; at most 4,000,000 cells are read",
    ),
    "cells without reference": (
        spoilt(b"</row></sheetData>", b"</row><row>" + b"<c><v>1</v></c>" * 20_000 + b"</row>" + b"<row/>" * 2000 + b"</sheetData>"),
        r"a sheet spans 2,005 rows and 20,003 columns; at most",
    ),
    "XML that does not end": (spoilt(b"</sheetData>", b"<"), r"the workbook cannot be read: xl/worksheets/sheet1\.xml is damaged \(.+\)"),
    "XML in UTF-16": (
        zipped({**parts_of(GOOD), SHEET: parts_of(GOOD)[SHEET].decode().encode("utf-16")}),
        r"sheet1\.xml declares entities, or is not UTF-8, which no export does",
    ),
    "a far cell of an old workbook": (
        old({"Data": [HEAD, *POINTS]}).replace(struct.pack("<HHHHH", 0x0203, 14, 3, 2, 0), struct.pack("<HHHHH", 0x0203, 14, 3, 60_000, 0)),
        r"the workbook cannot be read: it is damaged \(a cell in column 60001; such a workbook has 256\)",
    ),
    "chains of sectors in a circle": (
        old({"Data": [HEAD, *POINTS]}).replace(struct.pack("<III", 3, 4, 5), struct.pack("<III", 3, 4, 3)),
        r"the workbook cannot be read: it is cut short or damaged \(a chain of sectors does not end\)",
    ),
    "no table": (xlsx({"A": [["hello"]], "B": [[1, 2]]}), r"run\.xlsx: there is no table: no sheet of 'A', 'B' has a row that names two"),
    "empty": (xlsx({"A": []}), r"run\.xlsx: it is empty; write a header"),
    "no unit": (
        xlsx({"A": [["Time [s]", "Shear rate"], [1, 2]]}),
        r"run\.xlsx, sheet 'A', row 1, column 2 \('Shear rate'\): shear rate has no",
    ),
    "a word": (
        xlsx({"A": [["x"], HEAD, [1, 2, 3], [1, "fast", 3]]}),
        r"run\.xlsx, sheet 'A', row 4, column 2 \('Shear rate \[1/s\]'\): 'fast' is not a number",
    ),
    "two candidates": (
        xlsx({"A": [["τ [Pa]", "Shear stress [Pa]"], [1, 2]]}),
        r"sheet 'A', row 1: two columns for shear stress: 'τ \[Pa\]'",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_refused_with_sheet_row_and_remedy(write, case):
    content, message = REFUSED[case]
    with pytest.raises(ReadError, match=message) as caught:
        rk.read_run(write(content, "run.xlsx"))
    assert "\n" not in str(caught.value)


def test_a_workbook_that_unpacks_beyond_the_limit_is_refused_before_it_is_unpacked(write):
    bomb = zipped({**parts_of(GOOD), "xl/media/a.bin": bytes(archive.MOST_UNPACKED)})
    assert len(bomb) < 1_000_000
    with pytest.raises(
        ReadError, match=r"the workbook unpacks to 150,\d{3},\d{3} bytes; at most 150,000,000 are read; .* export it as text"
    ):
        rk.read_run(write(bomb, "run.xlsx"))


CELL = '<table:table-cell office:value-type="float" office:value="1"{}/>'


def repeated(row: str, rows: str = "") -> bytes:
    content = parts_of(ods({"Data": [HEAD, *POINTS]}))
    body = content["content.xml"].replace(b"</table:table>", f"<table:table-row{rows}>{row}</table:table-row></table:table>".encode())
    return zipped({**content, "content.xml": body})


def test_repeated_cells_count_as_often_as_they_stand_there(write):
    far = repeated(CELL.format(' table:number-columns-repeated="16384"'), ' table:number-rows-repeated="1048576"')
    with pytest.raises(ReadError, match=r"a sheet spans 1,048,580 rows and 16,384 columns; at most 4,000,000 cells are read; delete"):
        rk.read_run(write(far, "run.ods"))


def test_repeated_empty_cells_behind_the_table_do_no_harm(write):
    empty = repeated('<table:table-cell table:number-columns-repeated="16384"/>', ' table:number-rows-repeated="1048570"')
    assert len(rk.read_run(write(empty, "run.ods")).steps[0]) == 3


def test_a_batch_folder_takes_workbooks_and_exports_without_suffix(write, tmp_path):
    write(xlsx({"Data": [["Batch", "B1"], HEAD, *POINTS]}), "loop_load1.xlsx")
    write("t [s],γ̇ [1/s],τ [Pa]\n1,2,3\n", "loop_load2")
    write(b"", "~$loop_load1.xlsx")
    write(b"", ".~lock.loop_load1.ods#")
    batch = rk.read_batch(tmp_path)
    assert [run.name for run in batch.runs["loop"]] == ["loop_load1.xlsx", "loop_load2"]
    (passed,) = [finding for finding in batch.findings if finding.check == "passed_over"]
    assert str(passed) == "not read: '.~lock.loop_load1.ods#' (hidden), '~$loop_load1.xlsx' (temporary)"
