"""Headers of more than one row: names over two rows, and units above the names."""

from __future__ import annotations

import io

import pytest
from openpyxl import Workbook

import rheokit as rk
from rheokit.base.errors import ReadError
from rheokit.reading.export import read_export

ROWS = [["1", "1.5", "10"], ["2", "2.5", "20"], ["3", "3.5", "30"]]


def as_text(delimiter, head, rows=ROWS):
    text = "\n".join(delimiter.join(row) for row in (*head, *rows)) + "\n"
    return (text.replace(".5", ",5") if delimiter == ";" else text).encode()


def as_workbook(head, rows=ROWS):
    book = Workbook()
    for row in head:
        book.active.append(row)
    for row in rows:
        book.active.append([float(cell) for cell in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def written(write, form, head):
    if form == "workbook":
        return write(as_workbook(head), "run.xlsx")
    return write(as_text({"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}[form], head))


def header_said(run):
    return [str(finding).split(": ")[-1] for finding in run.findings if finding.check == "header"]


def assert_read(run):
    (step,) = run.steps
    assert step.columns["time"].tolist() == [1.0, 2.0, 3.0]
    assert step.columns["shear_rate"].tolist() == [1.5, 2.5, 3.5]
    assert step.columns["shear_stress"].tolist() == [10.0, 20.0, 30.0]
    assert not [finding for finding in run.findings if finding.severity != "info"]


FORMS = ["comma", "semicolon", "tab", "bar", "workbook"]
SPACED = (
    "Time   Shear        Shear\n[s]    rate [1/s]   stress [Pa]\n1      1.5          10\n2      2.5          20\n3      3.5          30\n"
)
TWO_ROWS = {
    "units in the second": [["Time", "Shear", "Shear"], ["[s]", "rate [1/s]", "stress [Pa]"]],
    "units in a third": [["Time", "Shear", "Shear"], ["", "rate", "stress"], ["s", "1/s", "Pa"]],
    "merged cells": [["Time", "Shear", ""], ["[s]", "rate [1/s]", "stress [Pa]"]],
    "the lower names two": [["Zeit", "Schergeschwindigkeit", "Schubspannung"], ["t [s]", "D [1/s]", "tau [Pa]"]],
    "units under symbols": [["Zeit", "Schergeschwindigkeit", "Schubspannung"], ["t", "D", "tau"], ["s", "1/s", "Pa"]],
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("head", TWO_ROWS)
def test_names_over_two_rows_are_read_together(write, form, head):
    run = rk.read_run(written(write, form, [["Batch", "B1"], [], *TWO_ROWS[head]]))
    assert_read(run)
    word = "rows" if form == "workbook" else "lines"
    assert header_said(run) == [f"the names of the columns stand over two rows, {word} 3 and 4"]
    assert run.metadata == {"Batch": "B1"}


def test_a_header_that_names_two_by_itself_is_completed_by_the_row_under_it(write):
    head = [["Time", "Temperature", "Shear", "Shear"], ["[s]", "[°C]", "rate [1/s]", "stress [Pa]"]]
    run = rk.read_run(write(as_text(",", head, [["1", "23", "2", "4"], ["2", "23", "3", "6"]])))
    assert run.steps[0].columns["shear_stress"].tolist() == [4.0, 6.0]
    assert run.steps[0].columns["temperature"].tolist() == [296.15, 296.15]


@pytest.mark.parametrize("between", ["", "\n", "Step 2\n", "[Ramp down]\n"])
def test_names_over_two_rows_may_be_repeated_with_every_step(write, between):
    head = "Time,Shear,Shear\n[s],rate [1/s],stress [Pa]\n"
    run = rk.read_run(write(f"{head}1,1,10\n2,2,20\n{between}{head}3,2,20\n4,1,10\n"))
    assert [step.columns["shear_stress"].tolist() for step in run.steps] == [[10.0, 20.0], [20.0, 10.0]]
    assert not [finding for finding in run.findings if finding.severity != "info"]


def test_names_over_two_rows_may_be_set_apart_by_spaces(write):
    assert_read(rk.read_run(write(SPACED)))


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("units", [["s", "1/s", "Pa"], ["[s]", "[1/s]", "[Pa]"]])
def test_units_may_stand_above_the_names(write, form, units):
    path = written(write, form, [["Batch", "B1"], [], units, ["Time", "Shear rate", "Shear stress"]])
    reading = read_export(path)
    assert_read(reading.run)
    assert header_said(reading.run) == [f"the units stand in {'row' if form == 'workbook' else 'line'} 3, above the names"]
    assert reading.decisions.units_line == 3
    assert reading.run.metadata == {"Batch": "B1"}


def test_each_of_many_headers_may_have_its_units_above(write):
    block = "s,1/s,Pa\nTime,Shear rate,Shear stress\n1,2,3\n2,3,4\n"
    run = rk.read_run(write(f"{block}\n{block}"))
    assert [len(step) for step in run.steps] == [2, 2]


@pytest.mark.parametrize("above", ["s,1/s,K", "s,,Pa", "s,1/s", "s,1/s,Pa\n", "1,2,3", "s,1/s,Pa,°C"])
def test_a_row_above_that_is_no_units_row_gives_no_unit(write, above):
    with pytest.raises(ReadError, match=r"has no unit; write the unit into the header"):
        rk.read_run(write(f"{above}\nTime,Shear rate,Shear stress\n1,2,3\n2,3,4\n"))


def test_units_under_the_names_count_more_than_units_above(write):
    run = rk.read_run(write("s,1/s,Pa\nTime,Shear rate,Shear stress\nmin,1/min,kPa\n1,2,3\n2,3,4\n"))
    assert run.steps[0].columns["time"].tolist() == [60.0, 120.0]


@pytest.mark.parametrize(
    "text",
    [
        "Shear,loop\nt [s],γ̇ [1/s],τ [Pa]\n1,2,3\n2,3,4\n",
        "Time,Shear,Shear\nt [s],γ̇ [1/s],τ [Pa]\n1,2,3\n2,3,4\n",
        "Test,loop,x\nt [s],γ̇ [1/s],Q\n1,2,3\n2,3,4\n",
        "t,γ̇,Q\ns,1/s,shear stress\n1,2,3\n2,3,4\n",
    ],
)
def test_other_rows_are_not_joined(write, text):
    assert header_said(rk.read_run(write(text))) == []
