"""A strain that is a hundredth of what was sheared, as spreadsheets store per cent, is told."""

from __future__ import annotations

import io

import numpy as np
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from openpyxl import Workbook

import rheokit as rk

TIME = np.arange(1.0, 21.0)
RATES = {
    "constant": np.full(20, 5.0),
    "ramp": np.linspace(5.0, 100.0, 20),
    "logarithmic staircase": np.geomspace(0.01, 100.0, 20),
    "reversed": np.full(20, -5.0),
}


def export(rate, factor=1.0, unit="%", time=TIME, rate_unit="1/s"):
    """Return rows of a strain that adds up from row to row, as exported in `unit`, times `factor`."""
    strain = np.cumsum(rate) * (100.0 if unit == "%" else 1.0) * factor
    head = f"t [s];γ̇ [{rate_unit}];τ [Pa];Strain [{unit}]\n"
    return head + "".join(f"{t:g};{r:.5g};{10 + abs(r):.5g};{s:.6g}\n" for t, r, s in zip(time, rate, strain, strict=True))


def told(run, check="unit_mix_up"):
    return [(finding.severity, str(finding)) for finding in run.findings if finding.check == check]


@pytest.mark.parametrize("unit", ["%", "1"])
@pytest.mark.parametrize("rate", RATES)
def test_a_strain_that_adds_up_is_silent(write, rate, unit):
    assert told(rk.read_run(write(export(RATES[rate], unit=unit)))) == []


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize(("factor", "said"), [(0.01, "1/100"), (100.0, "100"), (0.001, "1/1,000")])
def test_a_strain_in_another_unit_is_a_caution(write, rate, factor, said):
    for text in (export(RATES[rate], factor), export(RATES[rate], factor).replace(".", ",")):
        ((severity, reason),) = told(rk.read_run(write(text)))
        assert severity == "caution"
        assert reason.startswith(f"'Strain [%]' changes by {said} times 'γ̇ [1/s]' times 't [s]': one of the columns is in another unit")


def test_minutes_for_seconds_are_no_power_of_ten(write):
    ((_, reason),) = told(rk.read_run(write(export(RATES["constant"], time=60.0 * TIME))))
    assert "changes by 0.0167 times" in reason


def test_a_strain_that_starts_again_with_every_step_is_silent(write):
    first, second = export(RATES["constant"]), export(RATES["ramp"], time=20.0 + TIME)
    assert told(rk.read_run(write(first + second))) == []


def test_an_amplitude_of_strain_is_no_sum(write):
    head = "t [s];Strain [%];G' [Pa];G'' [Pa];ω [rad/s];γ̇ [1/s]\n"
    rows = "".join(f"{index};{0.1 * index:g};100;50;10;{0.01 * index:g}\n" for index in range(1, 12))
    assert told(rk.read_run(write(head + rows))) == []


def workbook(form, heading="Strain [%]"):
    book = Workbook()
    book.active.append(["Amplitude sweep"])
    book.active.append(["t [s]", "G' [Pa]", "G'' [Pa]", heading])
    for index in range(1, 12):
        book.active.append([index, 100, 50, 0.001 * index])
        book.active.cell(row=index + 2, column=4).number_format = form
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize("form", ["0%", "0.00%", "0.000%", "0.0%;[Red]-0.0%"])
def test_cells_shown_as_per_cent_under_a_heading_in_per_cent_are_a_caution(write, form):
    ((severity, reason),) = told(rk.read_run(write(workbook(form), "run.xlsx")), "percent_cells")
    assert severity == "caution"
    assert reason.startswith(
        "column 4 ('Strain [%]') holds cells that the workbook shows as per cent (the first is D3): one that shows 1 %"
    )


@pytest.mark.parametrize("form", ["General", "0.00", '0.00"%"', "0.00\\%"])
def test_plain_numbers_and_a_sign_that_is_only_shown_are_silent(write, form):
    assert told(rk.read_run(write(workbook(form), "run.xlsx")), "percent_cells") == []


def test_per_cent_under_a_heading_without_it_are_parts_of_one(write):
    run = rk.read_run(write(workbook("0.00%", "Strain [1]"), "run.xlsx"))
    assert told(run, "percent_cells") == []
    assert run.steps[0].columns["shear_strain"][:2].tolist() == [0.001, 0.002]


@pytest.mark.parametrize(("kind", "count"), [("percentage", 1), ("float", 0)])
def test_an_open_workbook_is_looked_at_too(write, kind, count):
    book, table = OpenDocumentSpreadsheet(), Table(name="Data")
    for row in (["t [s]", "G' [Pa]", "G'' [Pa]", "Strain [%]"], *([index, 100, 50, 0.001 * index] for index in range(1, 12))):
        line = TableRow()
        for at, cell in enumerate(row):
            written = (
                TableCell(valuetype="string") if isinstance(cell, str) else TableCell(valuetype=kind if at == 3 else "float", value=cell)
            )
            written.addElement(P(text=str(cell)))
            line.addElement(written)
        table.addElement(line)
    book.spreadsheet.addElement(table)
    out = io.BytesIO()
    book.write(out)
    assert len(told(rk.read_run(write(out.getvalue(), "run.ods")), "percent_cells")) == count
