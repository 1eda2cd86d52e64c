"""Blocks of rows are steps, and every line that is no point is told from one."""

from __future__ import annotations

import itertools

import pytest

import rheokit as rk
from rheokit.base.errors import ReadError

HEADERS = {"none": "", "header": "t;γ̇;τ\n", "header and units": "t;γ̇;τ\ns;1/s;Pa\n"}
BETWEEN = {
    "nothing": "",
    "an empty line": "\n",
    "empty cells": ";;\n",
    "a step line": "Step {number}\n",
    "a decorated line": "--- Segment {number}: ramp ---\n",
    "an entry": "Interval;{number};\n",
    "a comment": "# Abschnitt {number}\n",
    "lines and entries": "\nStep {number}\nDuration;60 s\n\n",
}


def block(first: int, count: int = 3) -> str:
    return "".join(f"{index};{10 * index};{100 * index}\n" for index in range(first, first + count))


@pytest.mark.parametrize(("between", "again"), list(itertools.product(BETWEEN, HEADERS)))
def test_blocks_are_steps_however_they_are_set_apart(write, between, again):
    gap = BETWEEN[between]
    text = HEADERS["header and units"] + "".join(
        (gap.format(number=number) + HEADERS[again] if number > 1 else "") + block(10 * number) for number in (1, 2, 3)
    )
    run = rk.read_run(write(text))
    divided = (between, again) != ("nothing", "none")
    assert [len(step) for step in run.steps] == ([3, 3, 3] if divided else [9])
    assert [time for step in run.steps for time in step.time] == [10.0, 11.0, 12.0, 20.0, 21.0, 22.0, 30.0, 31.0, 32.0]
    assert [finding for finding in run.findings if finding.severity != "info"] == []
    assert any(finding.check == "step_blocks" for finding in run.findings) == divided


def test_a_first_block_may_be_announced_above_or_under_the_header(write):
    for opening in ("Step 1\nt;γ̇;τ\ns;1/s;Pa\n", "t;γ̇;τ\nStep 1\ns;1/s;Pa\n", "t;γ̇;τ\ns;1/s;Pa\nStep 1\n"):
        run = rk.read_run(write(opening + block(1) + "Step 2\n" + block(11)))
        assert [len(step) for step in run.steps] == [3, 3]


@pytest.mark.parametrize("delimiter", [";", ",", "\t", "   ", " "])
@pytest.mark.parametrize("word", ["n/a", "NaN", "---"])
def test_a_first_block_of_mostly_missing_numbers_is_a_step_too(write, delimiter, word):
    head = ["t[s]", "γ̇[1/s]", "τ[Pa]", "T[°C]", "M[mNm]", "F_N[N]"]
    blocks = [
        head,
        ["1", "10", *[word] * 4],
        ["2", "10", *[word] * 4],
        head,
        ["3", "20", "5", "23", "1", "1"],
        ["4", "20", "5", "23", "1", "1"],
    ]
    run = rk.read_run(write("".join(delimiter.join(row) + "\n" for row in blocks)))
    assert [step.time.tolist() for step in run.steps] == [[1.0, 2.0], [3.0, 4.0]]


HEAD = "t [s];γ̇ [1/s];τ [Pa]\n"


@pytest.mark.parametrize("end", [";", ";;"])
@pytest.mark.parametrize("other", [HEAD, "t [s];γ̇ [1/s];τ [Pa];T [°C]\n"])
def test_rows_wider_by_empty_cells_make_a_first_block_too(write, end, other):
    rows = [f"{index};{10 * index};{100 + index}{end}\n" for index in range(1, 9)]
    text = HEAD + "".join(rows[:4]) + other + "".join(rows[4:])
    run = rk.read_run(write(text))
    assert [step.time.tolist() for step in run.steps] == [[1.0, 2.0, 3.0, 4.0], [5.0, 6.0, 7.0, 8.0]]


def test_a_remark_that_holds_the_dividing_sign_does_not_hide_a_first_block(write):
    head = "t [s];γ̇ [1/s];τ [Pa];Remark\n"
    first, second = ("".join(f"{index};10;100;lid{more}\n" for index in rows) for rows, more in ((range(3), ";open"), (range(9, 12), "")))
    assert [len(step) for step in rk.read_run(write(head + first + head + second)).steps] == [3, 3]


@pytest.mark.parametrize("rows", ["1;10\n2;20\n", "1,10,100\n2,20,100\n", "1 10 100\n2 20 100\n", "1 s;10 1/s;5 Pa\n2 s;20 1/s;6 Pa\n"])
def test_a_first_block_that_is_no_table_is_refused(write, rows):
    with pytest.raises(ReadError, match=r"line [12]\b"):
        rk.read_run(write(HEAD + rows + HEAD + block(11)))


@pytest.mark.parametrize("rows", ["lid;1;10;100;7\nlid;2;20;100;7\n", "1;10;100;7;8;9\n2;20;100;7;8;9\n", "1;10\n2;20\n"])
def test_rows_under_an_upper_header_of_other_columns_are_said(write, rows):
    run = rk.read_run(write("Step name;t [s];γ̇ [1/s];Resvlt\n" + rows + HEAD + block(11)))
    assert [(finding.check, finding.rows) for finding in run.findings if finding.severity == "caution"] == [("rows_above", (2, 3))]


def test_numbers_in_the_preamble_and_a_table_of_results_above_are_silent(write):
    above = "Calibration;1.02;0.98;1.01\nResult;12;23\n\nViscosity [Pa·s];Temperature [°C]\n12.1;23.0\n\n"
    assert [finding for finding in rk.read_run(write(above + HEAD + block(11))).findings if finding.severity != "info"] == []


def test_empty_lines_between_all_rows_are_spacing(write):
    run = rk.read_run(write(HEADERS["header and units"] + block(1).replace("\n", "\n\n")))
    assert [len(step) for step in run.steps] == [3]


def test_a_step_column_counts_before_blocks(write):
    run = rk.read_run(write("Step;t [s];τ [Pa]\n1;1;5\n1;2;5\n\nStep;t [s];τ [Pa]\n1;3;5\n2;4;5\n"))
    assert [len(step) for step in run.steps] == [3, 1]


def test_point_numbers_that_start_again_divide_steps(write):
    run = rk.read_run(write("Nr.;t [s];τ [Pa]\n1;1;5\n2;2;5\n1;3;5\n2;4;5\n"))
    assert [len(step) for step in run.steps] == [2, 2]
    (finding,) = [finding for finding in run.findings if finding.check == "step_blocks"]
    assert "a step begins where the point number starts again: 2 steps, the second from line 4" in str(finding)


def test_blocks_with_other_columns_and_units_go_under_each_other(write):
    text = "t [s];γ̇ [1/s];T [°C]\n1;2;20\n\nT [K];t [min];γ̇ [1/s]\n300;1;5\n"
    first, second = rk.read_run(write(text)).steps
    assert (first.time.tolist(), second.time.tolist()) == ([1.0], [60.0])
    assert (first.columns["temperature"].tolist(), second.columns["temperature"].tolist()) == ([293.15], [300.0])


def test_notes_and_comments_are_kept_as_metadata(write):
    head = "# Batch: B1\n; Operator = technician 2\n// shift 3\nt [s],γ̇ [1/s]\n----,----\n"
    run = rk.read_run(write(head + "1,2\n2,3\n\n# checked\nEnd of data\nChecked by: technician 1\n"))
    assert dict(run.metadata) == {
        "Batch": "B1",
        "Operator": "technician 2",
        "line 3": "shift 3",
        "line 9": "checked",
        "line 10": "End of data",
        "Checked by": "technician 1",
    }
    assert len(run.steps[0]) == 2


def test_a_sign_that_fills_a_cell_is_no_comment(write):
    run = rk.read_run(write("γ;τ;#\n%;Pa;\n50;3;1\n60;4;2\n"))
    assert run.steps[0].columns["shear_strain"].tolist() == [0.5, 0.6]


def test_remarks_are_told_by_how_rare_they_are(write):
    rows = "".join(f"{index};5;{'noisy' if index == 4 else 'ok'};\n" for index in range(1, 6))
    run = rk.read_run(write("t [s];τ [Pa];Status;Remark\n" + rows))
    (finding,) = [finding for finding in run.findings if finding.check == "remarks"]
    assert str(finding) == (
        "column 3 ('Status') remarks 'noisy' in 1 of 5 rows (the first in line 5), 'ok' in 4 of 5 rows (the first in line 2)"
    )


@pytest.mark.parametrize(
    ("line", "check"),
    [("paused by technician 2", "notes"), ("# 3;4;5", "notes")],
)
def test_lines_among_the_points_are_left_out_with_a_caution(write, line, check):
    run = rk.read_run(write(f"t [s];γ̇ [1/s];τ [Pa]\n1;2;3\n{line}\n2;3;4\n"))
    assert [len(step) for step in run.steps] == [2]
    (finding,) = [finding for finding in run.findings if finding.severity == "caution" and finding.check == check]
    assert finding.rows == (3, 3)


def test_a_row_divided_by_another_sign_is_refused(write):
    with pytest.raises(
        ReadError, match=r"line 3: this line is divided otherwise than the table: '2\|3\|4'; divide every row by the same sign"
    ):
        rk.read_run(write("t [s];γ̇ [1/s];τ [Pa]\n1;2;3\n2|3|4\n3;4;5\n"))


@pytest.mark.parametrize("end", ["Step 3\n", "Step 3\nt;γ̇;τ\n", "t;γ̇;τ\ns;1/s;Pa\n"])
def test_an_export_that_ends_where_a_step_begins_is_cut_short(write, end):
    run = rk.read_run(write(HEADERS["header and units"] + "Step 1\n" + block(1) + "Step 2\n" + block(11) + end))
    assert [len(step) for step in run.steps] == [3, 3]
    assert any(finding.check == "cut_short" and finding.severity == "caution" for finding in run.findings)


@pytest.mark.parametrize("spaces", [" ", "   ", "\t"])
def test_tables_divided_by_runs_of_spaces(write, spaces):
    head = {" ": "t[s] γ̇[1/s] τ [Pa]\n", "   ": "Time [s]   Shear rate [1/s]   τ in Pa\n", "\t": "Time [s]\tShear rate [1/s]\tτ in Pa\n"}[
        spaces
    ]
    run = rk.read_run(write("Batch: B1\n" + head + f"  1{spaces}2{spaces}3,5\n 10{spaces}20{spaces}30,5\n"))
    assert run.steps[0].shear_stress.tolist() == [3.5, 30.5]
    assert run.metadata["Batch"] == "B1"


def test_wide_headings_over_narrow_numbers(write):
    run = rk.read_run(write("Shear rate [1/s]  Shear stress [Pa]\n1 2\n3 4\n"))
    assert run.steps[0].shear_stress.tolist() == [2.0, 4.0]


@pytest.mark.parametrize("cut", ["Tim", "Time [s],Shear rate [1/s", "Time [s],Shear rate [1/s],"])
def test_a_last_header_cut_off_begins_a_step_that_is_missing(write, cut):
    head = "Time [s],Shear rate [1/s],Shear stress [Pa]\n"
    run = rk.read_run(write(f"{head}1,2,3\n2,3,4\n\n{head}3,3,4\n4,2,3\n\n{cut}"))
    (finding,) = [finding for finding in run.findings if finding.check == "cut_short"]
    assert (finding.severity, finding.rows) == ("caution", (9, 9))
    assert "begins a step, and no point follows" in str(finding)
