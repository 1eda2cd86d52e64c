"""A summary beside the data is no step, and what one table holds does not keep another from being completed."""

from __future__ import annotations

import io

import numpy as np
import pytest
from openpyxl import Workbook

import rheokit as rk

DATA = "t [s];γ̇ [1/s];τ [Pa]\n1;1;10\n2;2;20\n3;4;40\n"
SUMMARY = "Step;Viscosity [Pa·s];Temperature [°C]\n1;10;23\n2;11;23\n"


def workbook(sheets):
    book = Workbook()
    book.remove(book.active)
    for name, text in sheets:
        sheet = book.create_sheet(name)
        for line in text.splitlines():
            sheet.append([float(cell) if cell.replace(".", "", 1).isdigit() else cell or None for cell in line.split(";")])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def told(run, check="side_table"):
    return [(finding.severity, str(finding)) for finding in run.findings if finding.check == check]


@pytest.mark.parametrize("delimiter", [";", ",", "\t", "|"])
@pytest.mark.parametrize("between", ["", "\n", "\nResults\n"])
def test_a_summary_under_the_data_is_no_step(write, delimiter, between):
    run = rk.read_run(write((DATA + between + SUMMARY).replace(";", delimiter)))
    (step,) = run.steps
    np.testing.assert_array_equal(step.columns["viscosity"], [10.0, 10.0, 10.0])
    ((severity, reason),) = told(run)
    assert severity == "info"
    assert reason.endswith("a table of viscosity, temperature only, with neither rate, stress nor time: no step, left aside")
    assert [finding for finding in run.findings if finding.severity != "info"] == []


def test_a_summary_does_not_hide_what_divides_the_steps(write):
    text = DATA + "\n4;10;100\n5;20;200\n6;40;400\n\n" + SUMMARY
    assert [len(step) for step in rk.read_run(write(text)).steps] == [3, 3]
    above = SUMMARY + "\n" + DATA + "\n4;10;100\n5;20;200\n6;40;400\n"
    run = rk.read_run(write(above))
    assert [len(step) for step in run.steps] == [3, 3]


def test_a_summary_without_units_is_no_reason_to_refuse(write):
    run = rk.read_run(write(DATA + "\nStep;Viscosity;Temperature\n1;10;23\n"))
    assert [len(step) for step in run.steps] == [3]


def test_a_table_is_completed_whatever_another_holds(write):
    run = rk.read_run(write(DATA + "\nt [s];γ̇ [1/s];η [mPa·s]\n4;10;1000\n5;20;2000\n"))
    first, second = run.steps
    np.testing.assert_array_equal(first.columns["viscosity"], [10.0, 10.0, 10.0])
    np.testing.assert_array_equal(second.columns["shear_stress"], [10.0, 40.0])
    reasons = [str(finding) for finding in run.findings if finding.check == "derived_column"]
    assert reasons == [
        "lines 2 to 4: viscosity was not exported; it is shear stress over shear rate",
        "lines 7 to 8: shear stress was not exported; it is viscosity times shear rate",
    ]


def test_a_table_of_torque_beside_one_of_stress_uses_the_geometry(write):
    cone = "Geometry,cone-plate\nCone radius,12.5 mm\nCone angle,2 °\n\n".replace(",", ";")
    run = rk.read_run(write(cone + DATA + "\nt [s];γ̇ [1/s];M [mN·m]\n4;10;1\n5;20;2\n"))
    np.testing.assert_allclose(run.steps[1].columns["shear_stress"], [244.462, 488.924], rtol=1e-5)  # the six digits written here


def test_a_table_without_the_time_of_the_others_is_a_caution(write):
    run = rk.read_run(write(DATA + "\nγ̇ [1/s];τ [Pa]\n2;20\n3;30\n"))
    assert len(run.steps) == 2
    ((severity, reason),) = told(run)
    assert severity == "caution"
    assert reason == "the table under line 6 has no time, as others have, and is read as a step: is it a summary?"


@pytest.mark.parametrize("row", ["2.5;2.33;23.3", ";2.33;23.3"])
def test_a_single_row_behind_an_empty_line_is_a_caution(write, row):
    ((severity, reason),) = told(rk.read_run(write(f"{DATA}\n{row}\n")), "single_row")
    assert severity == "caution"
    assert reason == "line 6 stands alone behind an empty line and is read as a step: is it a summary of rows above?"


@pytest.mark.parametrize("text", [DATA, DATA + "\n4;10;100\n5;20;200\n6;40;400\n", DATA.replace("\n", "\n\n"), DATA[: DATA.index("3;4")]])
def test_usual_blocks_are_silent(write, text):
    run = rk.read_run(write(text))
    assert told(run) == told(run, "single_row") == []


def test_a_summary_sheet_is_no_step(write):
    run = rk.read_run(write(workbook([("Raw", DATA), ("Summary", SUMMARY)]), "run.xlsx"))
    (step,) = run.steps
    np.testing.assert_array_equal(step.columns["viscosity"], [10.0, 10.0, 10.0])
    ((severity, reason),) = told(run)
    assert severity == "info"
    assert reason.startswith("sheet 'Summary': a table of viscosity, temperature only")
    assert [finding for finding in run.findings if finding.severity != "info"] == []
    first = rk.read_run(write(workbook([("Summary", SUMMARY), ("Raw", DATA)]), "run.xlsx"))
    assert [len(step) for step in first.steps] == [3]


def test_a_copied_sheet_does_not_count_twice(write):
    run = rk.read_run(write(workbook([("Raw", DATA), ("Raw (2)", "Copy\n\n" + DATA), ("Up", DATA.replace("10", "11"))]), "run.xlsx"))
    assert [len(step) for step in run.steps] == [3, 3]
    assert told(run, "sheets")[0] == (
        "caution",
        "sheet 'Raw (2)' holds the same table as sheet 'Raw', number by number, and was left out; "
        "delete it, or export the run it should hold",
    )


def test_a_summary_under_a_long_text_is_no_step(write):
    rows = "".join(f"{index};{1 + index * 0.01:.2f};{30 + index % 7}.5\n" for index in range(40_000))
    run = rk.read_run(write(DATA.splitlines()[0] + "\n" + rows + "\n" + SUMMARY))
    assert [len(step) for step in run.steps] == [40_000]
    assert not np.isnan(run.steps[0].columns["viscosity"]).any()


def test_a_sheet_with_data_under_a_summary_is_read(write):
    run = rk.read_run(write(workbook([("All", SUMMARY + "\n" + DATA), ("Raw", DATA.replace("10", "11"))]), "run.xlsx"))
    assert [len(step) for step in run.steps] == [3, 3]
