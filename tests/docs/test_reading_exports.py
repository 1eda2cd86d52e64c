"""The page on bringing an export in quotes the samples and the messages as they are."""

from __future__ import annotations

import io
import re
import tomllib
from pathlib import Path

import pytest
from openpyxl import Workbook

import rheokit as rk
from rheokit.base.errors import ReadError
from rheokit.reading import parts

TOP = Path(__file__).resolve().parents[2]
PAGE = (TOP / "docs" / "reading_exports.md").read_text(encoding="utf-8")
SAMPLES = TOP / "sample_rheometer_runs"
BLOCKS = re.findall(r"\(`(B26-\d+)`[^\n]*\):\n\n```text\n(.*?)```", PAGE, flags=re.DOTALL)
ENCODINGS = {"B26-017": "utf-16", "B26-043": "cp1252"}
CAUSES = {
    "shear rate has no unit": "t [s],Shear rate,τ [Pa]\n1,2,3\n",
    "unknown unit 'Pax'": "t [s],γ̇ [1/s],τ [Pax]\n1,2,3\n",
    "two columns for shear stress": "t [s],Shear stress [Pa],τ [Pa]\n1,2,3\n",
    "there is no header": "1,2,3\n2,3,4\n",
    "may be a number with decimals or one with thousands": "t [s];τ [Pa]\n1;1,234\n2;2,345\n",
    "is not a number": "t [s];τ [Pa]\n0.5;1.5\n1,5;2,5\n",
    "neither a shear rate nor a geometry": "t [s],M [mN·m],Ω [rad/s]\n1,2,3\n",
    "relative: none is invented": "Spindle,S4\nt [s],Speed [1/min],Viscosity [mPa·s],Torque [%]\n1,20,300,40\n",
    "decimal commas seem to have cut them": "t [s],γ̇ [1/s],τ [Pa],,,\n0,5,1,0,12,3\n1,0,2,0,22,5\n",
}


@pytest.mark.parametrize(("folder", "quoted"), BLOCKS, ids=[folder for folder, _ in BLOCKS])
def test_every_line_quoted_from_a_sample_stands_in_it(folder, quoted):
    path = next((SAMPLES / folder).glob("loop_load1.*"))
    lines = path.read_text(encoding=ENCODINGS.get(folder, "utf-8")).replace("\t", " ").splitlines()
    assert [line for line in quoted.splitlines() if line not in lines] == []


def test_five_samples_are_quoted_and_all_that_are_named_are_there():
    assert len(BLOCKS) == 5
    assert all((SAMPLES / name).is_dir() for name in re.findall(r"`(B26-\d+)`", PAGE))


@pytest.mark.parametrize("message", CAUSES)
def test_every_message_of_the_table_is_the_reader_s(tmp_path, message):
    assert f"| `{message}` |" in PAGE
    path = tmp_path / "run.csv"
    path.write_text(CAUSES[message], encoding="utf-8")
    with pytest.raises(ReadError, match=re.escape(message)):
        rk.read_run(path)


def test_no_message_of_the_table_is_untried():
    table = PAGE.split("| message |")[1].split("\n\n")[0]
    assert set(re.findall(r"^\| `([^|]+)` \|", table, flags=re.MULTILINE)) == set(CAUSES)


HEAD = "t [s],γ̇ [1/s],τ [Pa]\n"
ROWS = "".join(f"{index},{10 * index},{100 + 20 * index}\n" for index in range(1, 13))
SEEN = {
    "midnight": "Time,γ̇ [1/s],τ [Pa]\n23:59:56,1,5\n23:59:58,2,6\n00:00:00,3,7\n",
    "page breaks": HEAD + "".join(row if at % 4 else HEAD * (at > 0) + row for at, row in enumerate(ROWS.splitlines(keepends=True))),
    "side table": f"{HEAD}{ROWS}\nStep,Viscosity [Pa·s]\n1,12\n2,13\n",
    "single row": f"{HEAD}{ROWS}\n13,5,50\n\n{ROWS}",
    "summary rows": "Point," + HEAD + "1,1,10,100\n2,2,20,120\n3,3,30,140\nMean,2,20,120\n",
    "marked numbers": HEAD + "1,10,100\n2,20,120*\n3,30,140\n",
    "bounds": HEAD + "1,10,100\n2,20,>120\n3,30,140\n",
    "missing values": HEAD + "1,10,100\n2,20,n/a\n3,30,140\n",
    "quantity missing": "t [s],γ̇ [1/s],Result 3\n1,10,100\n2,20,120\n",
    "derived column": HEAD + ROWS,
    "relative reading": "t [s],γ̇ [1/s],τ [Pa],Torque [%]\n1,10,100,20\n2,20,120,30\n",
    "columns aside": "t [s],γ̇ [1/s],τ [Pa],Result 4\n1,10,100,20\n2,20,120,30\n",
    "other header": f"{HEAD}{ROWS}t [s],γ̇ [1/s],Resvlt\n{ROWS}",
    "notes": HEAD + "1,10,100\nthe lid was opened\n2,20,120\n3,30,140\n",
    "rows above": f"9,90,200\n{HEAD}{ROWS}",
    "cut short": f"{HEAD}{ROWS}13,130",
    "time order": "Step," + HEAD + "1,1,10,100\n1,3,20,120\n1,2,30,140\n",
    "filler": HEAD + "1,10,100\n2,20,-9999\n3,30,140\n",
    "slow reading": HEAD.replace("τ [Pa]", '"τ [Pa]"') + ROWS,
    "percent cells": [["t [s]", "G' [Pa]", "G'' [Pa]", "Strain [%]"], *([index, 100, 50, 0.01 * index] for index in range(1, 5))],
    "formula": [["t [s]", "γ̇ [1/s]", "τ [Pa]"], *([index, 10 * index, f"=A{index + 1}*2"] for index in range(1, 4)), [4, 40, 8.0]],
}


def as_file(what: str | list[list[object]]) -> bytes:
    """Return a text as UTF-8, and rows as a workbook whose last column is shown as per cent."""
    if isinstance(what, str):
        return what.encode()
    book = Workbook()
    for number, row in enumerate(what, 1):
        book.active.append(row)
        book.active.cell(row=number, column=len(row)).number_format = "0%"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize("finding", SEEN)
def test_every_finding_of_the_table_is_the_reader_s(tmp_path, monkeypatch, finding):
    if finding == "slow reading":  # a short text for a long one
        for limit in ("LARGE", "MOST_UNEVEN"):
            monkeypatch.setattr(parts, limit, 0)
    path = tmp_path / "run.csv"
    path.write_bytes(as_file(SEEN[finding]))
    run = rk.read_run(path)
    said = {
        one.severity
        for one in (*run.findings, *(one for step in run.steps for one in step.findings))
        if one.check == finding.replace(" ", "_")
    }
    assert len(said) == 1
    assert f"| `{finding}` | {said.pop()} |" in PAGE


def test_no_finding_of_the_table_is_untried():
    table = PAGE.split("| finding |")[1].split("\n\n")[0]
    assert set(re.findall(r"^\| `([^|]+)` \|", table, flags=re.MULTILINE)) == set(SEEN)


def test_the_mix_up_is_quoted_as_it_is_said():
    (said,) = [finding for finding in rk.read_run(SAMPLES / "B26-049" / "loop_load2.csv").findings if finding.check == "unit_mix_up"]
    assert str(said) in " ".join(PAGE.split())


def test_the_layout_file_of_the_page_is_one(tmp_path):
    text = next(block for block in re.findall(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL) if "[columns]" in block)
    assert tomllib.loads(text)["format"] == 1
    layout, export = tmp_path / "layout.toml", tmp_path / "export.csv"
    layout.write_text(text, encoding="utf-8")
    export.write_text(
        "Point,t [s],γ̇ [1/s],Result 3,Remark,State,Result 6\n1,0.5,10,100,,ok,10000\n2,1.5,20,160,,ok,8000\n", encoding="utf-8"
    )
    step = rk.read_run(export, layout).steps[0]
    assert (step.shear_stress.tolist(), step.column("viscosity").tolist()) == ([100.0, 160.0], [10.0, 8.0])
