"""What is refused, and that the message names file, line, column, what was seen and what would do."""

from __future__ import annotations

import re

import pytest

import rheokit as rk
from rheokit.base.errors import MissingFileError, ReadError
from rheokit.reading import parts

HEAD = "t [s],γ̇ [1/s],τ [Pa]\n"
REFUSED = {
    "empty": ("", r"run_07\.csv: the file is empty"),
    "blank": (" \n\n", r"run_07\.csv: the file is empty"),
    "only a mark": (b"\xef\xbb\xbf", r"run_07\.csv: the file is empty"),
    "binary": (
        b"\x7fELF\x01\0\0",
        r"run_07\.csv: this is a binary file, not text; export the run as delimited text \(CSV\) or as a workbook",
    ),
    "UTF-16 cut in the middle of a character": (
        "t [s],τ [Pa]\n1,2\n".encode("utf-16")[:-1],
        r"run_07\.csv: the text is not whole UTF-16, (little|big)-endian, from byte \d+ on; export the run again, as UTF-8",
    ),
    "NUL bytes at odd and even places": ("t,τ\n".encode("utf-16-le") + "1,2\n".encode("utf-16-be"), r"this is a binary file, not text"),
    "NUL in UTF-16": ("t,τ\n\0".encode("utf-16-le"), r"this is a binary file, not text"),
    "neither UTF-8 nor cp1252": (
        b"a\nT [\x81C],Stress [Pa]\n",
        r"run_07\.csv, line 2: the byte 0x81 is not UTF-8 text; save the export as UTF-8",
    ),
    "damaged UTF-8": (
        "a °\nT [°C],Stress [Pa]\n".encode().replace(b"C", b"\xff"),
        r"run_07\.csv, line 2: the byte 0xff is not UTF-8 text, though line 1 holds the UTF-8 sign '°'; the file is damaged",
    ),
    "no table": (
        "dear all\nthe ink is fine\n",
        r"run_07\.csv: this is not a table: no line is divided by any of comma, semicolon, tab, bar, spaces into known columns; write",
    ),
    "no header": (
        "1,2,3\n2,3,4\n",
        r"run_07\.csv: there is no header: none of the first 200 rows names two quantities that are known; write a",
    ),
    "header only": ("Batch,B1\n" + HEAD, r"run_07\.csv, line 2: nothing follows the header; export the measured points too"),
    "units row only": ("t,γ̇,τ\ns,1/s,Pa\n", r"run_07\.csv, line 2: nothing follows the units row"),
    "no unit": (
        "t [s],Shear rate,τ [Pa]\n1,2,3\n",
        r"run_07\.csv, line 1, column 2 \('Shear rate'\): shear rate has no unit; write the unit into the header, for example "
        r"'Shear rate \[1/s\]', into a units row under it, or into a layout file",
    ),
    "empty brackets": ("t [s],Strain [],τ [Pa]\n1,2,3\n", r"line 1, column 2 \('Strain \[\]'\): shear strain has no unit"),
    "unknown unit": (
        "t [s],γ̇ [1/s],τ [Pax]\n1,2,3\n",
        r"line 1, column 3 \('τ \[Pax\]'\): unknown unit 'Pax' \(.*\); write a unit of shear stress such as 'Pa' or .*, or name it in",
    ),
    "unit unlike any": (
        "t [s],γ̇ [1/s],τ [skt]\n1,2,3\n",
        r"unknown unit 'skt' \(.*\); write a unit of shear stress such as 'Pa', or name it in a layout file",
    ),
    "garbled unit": (
        "t [s],γ̇ [1/s],Viscosity [mPaÂ·s]\n1,2,3\n",
        r"unknown unit 'mPaÂ·s' \(.*\); its signs were garbled by a wrong encoding: write 'mPa·s', or save the export as UTF-8 again",
    ),
    "garbled degrees": (
        "t,γ̇,τ,T\ns,1/s,Pa,Â°C\n2,2,3,23\n",
        r"column 4 \('T'\): unknown unit 'Â°C' \(.*\); its signs were garbled by a wrong encoding: write '°C'",
    ),
    "unit in other capitals": ("t [s],γ̇ [1/s],τ [pa]\n1,2,3\n", r"did you mean Pa\?; correct the heading, or name the unit in a layout"),
    "units in a column": (
        "t [s],γ̇ [1/s],τ [Pa]\n1,2,3 Pa\n2,3,4 Pa\n",
        r"line 2, column 3 \('τ \[Pa\]'\): '3 Pa' is not a number; write the numbers alone, and the unit once: in the heading, or in a row",
    ),
    "units in every cell": (
        "t,Shear rate,τ\n1 s,2 1/s,3.5 Pa\n2 s,3 1/s,4.5 Pa\n",
        r"run_07\.csv, line 2: '1 s' is a number with its unit; write the numbers alone, and the unit once: in the heading, or in a row",
    ),
    "units in most cells": ("t [s],γ̇ [1/s],τ [Pa]\n,2 1/s,3.5Pa\n,3 1/s,4.5Pa\n", r"line 2: '2 1/s' is a number with its unit; write the"),
    "a NUL among the points": (
        "t [s],γ̇ [1/s],τ [Pa]\n1,2,3\n2,3\0,4\n3,4,5\n",
        r"run_07\.csv, line 3: NUL bytes stand in the text; the file is damaged, or was not written to its end: export the run again",
    ),
    "NUL to the end": (HEAD + "1,2,3\n2,3,4\n" + "\0" * 512, r"run_07\.csv, line 4: NUL bytes stand in the text; the file is damaged"),
    "a web page": (
        "<html><body><table><tr><th>t [s]</th><th>τ [Pa]</th></tr></table></body></html>\n",
        r"run_07\.csv: this is a web page or other marked-up text \(HTML, XML\), whatever its name says; open it in a spreadsheet program",
    ),
    "a web page on lines": ("\n<!DOCTYPE html>\n<table>\n<tr><td>t, s</td>\n<td>1;2</td></tr>\n</table>\n", "this is a web page or other"),
    "marked-up text": ("<?xml version='1.0'?>\n<Workbook>\n<Cell>1, 2</Cell>\n</Workbook>\n", "this is a web page or other marked-up"),
    "unit of something else": (
        "t [s],γ̇ [Pa],τ [Pa]\n1,2,3\n",
        r"column 2 \('γ̇ \[Pa\]'\): 'Pa' is not a unit of shear rate; write one such as '1/s'",
    ),
    "turns or radians": (
        "t [s],Speed [1/s]\n1,2\n",
        r"column 2 \('Speed \[1/s\]'\): '1/s' does not say whether angular_velocity counts turns",
    ),
    "two units": (
        "t [s],τ [Pa]\ns,kPa\n1,2\n",
        r"line 1, column 2 \('τ \[Pa\]'\): the heading says 'Pa' and the units row 'kPa'; correct one",
    ),
    "twice": (
        "t [s],Shear stress [Pa],τ [Pa]\n1,2,3\n",
        r"run_07\.csv, line 1: two columns for shear stress: 'Shear stress \[Pa\]' and 'τ \[Pa\]'; remove one, or name the one that counts",
    ),
    "too few cells": (
        HEAD + "1,2,3\n2,3\n3,4,5\n",
        r"run_07\.csv, line 3: 2 cells under 3 columns; every row needs one cell for each column",
    ),
    "too many cells": (
        HEAD + "1,2,3\n2,3,4,5\n",
        r"run_07\.csv, line 3: 4 cells under 3 columns; .* a number with a decimal comma counts as two",
    ),
    "two decimal marks": (
        "t [s];τ [Pa]\n0,5;1,5\n1;2.5\n",
        r"run_07\.csv, line 3, column 2 \('τ \[Pa\]'\): '2.5' is not a number; the numbers of this file have decimal comma",
    ),
    "word": (
        HEAD + "1,2,3\n2,three,4\n",
        r"line 3, column 2 \('γ̇ \[1/s\]'\): 'three' is not a number; write a number, or leave the cell empty",
    ),
    "underscore": (HEAD + "1,2,1_000\n", r"line 2, column 3 .*'1_000' is not a number"),
    "other digits": (HEAD + "1,2,٣\n", r"line 2, column 3 .*'٣' is not a number"),
    "hexadecimal": (HEAD + "1,2,0x10\n", r"'0x10' is not a number"),
    "too large": (HEAD + "1,2,1e999\n", r"line 2, column 3 \('τ \[Pa\]'\): '1e999' is too large for a number"),
    "too large in SI": ("t [s],τ [kPa]\n1,1e308\n", r"line 2, column 2 \('τ \[kPa\]'\): the number is too large in SI units"),
    "open quote": (
        HEAD + '1,2,3\n2,"3,4\n3,4,5\n',
        r"run_07\.csv, line 3: a quotation mark opens here and never closes; take it away, or close it",
    ),
    "first step without label": ("Step,t [s],τ [Pa]\n,1,2\n1,2,3\n", r"line 2, column 1 \('Step'\): the first point belongs to no step"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refused_with_the_place_and_the_remedy(write, case):
    content, message = REFUSED[case]
    with pytest.raises(ReadError, match=message) as caught:
        rk.read_run(write(content))
    assert "\n" not in str(caught.value)


def test_a_missing_file_a_folder_and_a_device_are_refused(tmp_path):
    with pytest.raises(MissingFileError, match=r"gone\.csv: there is no such file") as caught:
        rk.read_run(tmp_path / "gone.csv")
    assert isinstance(caught.value, FileNotFoundError)
    with pytest.raises(ReadError, match=re.escape(f"{tmp_path}: this is a folder, not a file; name one export, or read the folder")):
        rk.read_run(tmp_path)
    with pytest.raises(ReadError, match="this is not a regular file"):
        rk.read_run("/dev/zero")
    with pytest.raises(ReadError, match="this is no file name"):
        rk.read_run("a\0b")


def test_a_huge_file_is_refused_before_it_is_read_whole(tmp_path):
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.truncate(256_000_001)
    with pytest.raises(ReadError, match=r"the file is larger than 256,000,000 bytes; an export holds one load"):
        rk.read_run(path)


def test_a_file_of_more_lines_than_any_load_has_is_refused(write, monkeypatch):
    monkeypatch.setattr(parts, "_MOST_LONG_LINES", 300_000)
    with pytest.raises(ReadError, match=r"run_07\.csv: more than 300,000 lines; an export holds one load; split it"):
        rk.read_run(write("t [s],τ [Pa]\n" + '"1",2\n' * 300_000))


@pytest.mark.parametrize("tail", ["3,4", "3"])
def test_a_last_row_cut_short_is_left_out_and_said(write, tail):
    run = rk.read_run(write(HEAD + "1,2,3\n2,3,4\n" + tail))
    assert run.steps[0].time.tolist() == [1.0, 2.0]
    (finding,) = [finding for finding in run.findings if finding.check == "cut_short"]
    assert finding.severity == "caution"
    assert finding.rows == (4, 4)
    assert str(finding).startswith("line 4, the last, is cut short")


def test_the_only_row_cut_short_leaves_nothing_to_read(write):
    with pytest.raises(ReadError, match="line 2: 2 cells under 3 columns"):
        rk.read_run(write(HEAD + "1,2\n"))
