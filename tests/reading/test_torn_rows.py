"""Rows that fell out of the table by damage are never lost without a word."""

from __future__ import annotations

import pytest

import rheokit as rk
from rheokit.base.errors import ReadError

HEAD = "t [s],γ̇ [1/s],τ [Pa]\n"


def cautions(run):
    # Some of these tables leave out the shear stress for brevity.
    wanted = (finding for finding in run.findings if finding.severity == "caution" and finding.check != "quantity_missing")
    return [(finding.check, finding.rows, str(finding)) for finding in wanted]


def test_numbers_above_the_header_are_a_caution(write):
    ((check, rows, reason),) = cautions(rk.read_run(write("Batch,B1\n1,2,3\n" + HEAD + "2,3,4\n3,4,5\n")))
    assert (check, rows) == ("rows_above", (2, 2))
    assert reason == "line 2: numbers above the header in line 3, left out; is there a header above them that cannot be read?"


def test_a_block_under_a_damaged_header_is_a_caution(write):
    text = "t [s],γ̇ [1\ns],τ [Pa]\n1,2,3\n2,3,4\n" + HEAD + "1,2,3\n2,3,4\n"
    ((check, rows, _),) = cautions(rk.read_run(write(text)))
    assert (check, rows) == ("rows_above", (3, 4))


def test_rows_swallowed_by_a_quotation_mark_are_a_caution_or_refused(write):
    with pytest.raises(ReadError, match=r"line 3: a number stands on two lines"):
        rk.read_run(write(HEAD + '1,2,3\n2,"3,4\n3,4",5\n4,5,6\n'))
    ((check, rows, reason),) = cautions(rk.read_run(write(HEAD + '1,2,3\nlast,"words\n3,4,5\n4,5,6\n"\n')))
    assert (check, rows) == ("notes", (3, 6))
    assert "one text from a quotation mark to the next" in reason


def test_a_quotation_mark_that_never_closes_is_refused(write):
    with pytest.raises(ReadError, match=r"line 4: a quotation mark opens here and never closes; take it away, or close it"):
        rk.read_run(write(HEAD + "1,2,3\n2,3,4\n" + HEAD.replace("τ", '"τ') + "1,2,3\n2,3,4\n"))


def test_a_quotation_mark_open_in_the_last_line_is_refused_and_an_inch_is_not(write):
    with pytest.raises(ReadError, match="line 3: a quotation mark opens here and never closes"):
        rk.read_run(write(HEAD + '1,2,3\n2,3,"4\n'))
    assert len(rk.read_run(write('t [s],γ̇ [1/s],Remark\n1,2,"a, b"\n2,3,5" cone\n')).steps[0]) == 2


def test_empty_quotes_between_blanks_are_no_crash(write):
    with pytest.raises(ReadError):
        rk.read_run(write('t/s γ̇/s⁻¹ τ/Pa\n1 2 3\n2 "" 3 4\n3 4 5\n'))


def test_a_number_on_two_lines_is_refused(write):
    with pytest.raises(ReadError, match=r"line 3: a number stands on two lines: a quotation mark opens here and closes in line 4"):
        rk.read_run(write(HEAD + '1,2,3\n2,"3\n",4\n3,4,5\n'))


@pytest.mark.parametrize("cell", ["23,017", "23'017"])
def test_thousands_among_numbers_with_three_decimals_are_a_caution(write, cell):
    rows = f"1;2.5;23.041\n2;3.5;{cell}\n3;4.5;22.9\n"
    ((check, lines, reason),) = cautions(rk.read_run(write("t [s];γ̇ [1/s];T [°C]\n" + rows)))
    assert (check, lines) == ("number_style", (3, 3))
    assert reason.startswith(f"column 3 ('T [°C]'): {cell!r} in line 3 is read as thousands")


@pytest.mark.parametrize("column", [("1,554.9", "12,345", "23.017"), ("12,345", "1,234", "23.1"), ("1,234,567", "12,345", "1.234")])
def test_thousands_that_the_column_proves_are_silent(write, column):
    rows = "".join(f"{index};{index}.5;{cell}\n" for index, cell in enumerate(column))
    assert cautions(rk.read_run(write("t [s];γ̇ [1/s];F_N [N]\n" + rows))) == []


@pytest.mark.parametrize(("first", "said"), [("t [s],γ̇ [1/s],T [°C]\n", "rows_above"), ("t [s],γ̇ [1/s],τ [Pa]\n", "notes")])
def test_rows_swallowed_above_a_later_header_are_a_caution(write, first, said):
    text = f'{first}"\n1,2,3\n2,3,4\n"\n' + "t [s],γ̇ [1/s],τ [Pa]\n" + "1,2,3\n2,3,4\n"
    ((check, rows, _),) = cautions(rk.read_run(write(text)))
    assert (check, rows) == (said, (2, 5))


def test_a_row_glued_to_a_line_between_two_steps_is_a_caution(write):
    head, units = "t,γ̇,τ,η,T\n", "s,1/s,Pa,Pa·s,°C"
    text = f"{head}{units}\n1,2,6,3,23\n2,3,9,3,23\n\n{head}{units}*1,2,6,3,23\n2,3,9,3,23\n"
    ((check, rows, reason),) = cautions(rk.read_run(write(text)))
    assert (check, rows) == ("notes", (7, 7))
    assert "numbers between two steps" in reason


def test_a_key_with_a_number_above_the_header_is_no_row(write):
    assert cautions(rk.read_run(write("Load,1,\nRoom,23,\n" + HEAD + "1,2,3\n2,3,4\n"))) == []


def test_one_point_wider_than_the_others_by_an_empty_cell_is_a_caution(write):
    head = "t [s];γ̇ [1/s];T [°C];Point;Status;Remark\n"
    text = head + "0.5;2;23.022;1;ok;\n1;3;22;979;2;ok;\n1.5;4;22.982;3;ok;\n"
    ((check, rows, reason),) = cautions(rk.read_run(write(text)))
    assert (check, rows) == ("notes", (3, 3))
    assert "wider than the header by empty cells" in reason
    assert cautions(rk.read_run(write(head + "0.5;2;23.022;1;ok;;\n1;3;22.979;2;ok;;\n"))) == []


def test_a_point_glued_to_an_announcement_is_a_caution(write):
    text = "t [s];γ̇ [1/s];τ [Pa]\n# Step 1\n0.5;2;3\n1;3;4\n# Step 2]0.5;2;3\n1;3;4\n1.5;4;5\n"
    ((check, rows, reason),) = cautions(rk.read_run(write(text)))
    assert (check, rows) == ("notes", (5, 5))
    assert "a step's announcement and the numbers of a point in one" in reason


def test_one_block_without_the_units_row_that_others_have_is_a_caution(write):
    head, units = "t,γ̇,τ\n", "s,1/s,Pa\n"
    rows = "1,2,3\n2,3,4\n"
    ((check, lines, reason),) = cautions(rk.read_run(write(head + units + rows + head + units + rows + head + rows)))
    assert (check, lines) == ("notes", (10, 10))
    assert "under a header without the units row that others have" in reason
    # Units once, under the first header, are a way to write an export.
    assert cautions(rk.read_run(write(head + units + rows + head + rows + head + rows))) == []
