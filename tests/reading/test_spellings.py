"""Numbers in rarer spellings read to what they say; marks behind numbers and bounds are said, and no bound becomes a number."""

from __future__ import annotations

import math

import pytest

import rheokit as rk
from rheokit.base.errors import ReadError

HEAD = "t [s];γ̇ [1/s];τ [Pa]\n"


def read(write, *cells, head=HEAD):
    return rk.read_run(write(head + "".join(f"{index};{10 * index};{cell}\n" for index, cell in enumerate(cells, 5))))


def said(run):
    return [str(finding) for finding in run.findings if finding.check in {"marked_numbers", "bounds"}]


SPELLED = {
    ("1.0D+01", "2.5d2", "-3.0D-02"): [10.0, 250.0, -0.03],
    ("1,0D+01", "2,5D+02"): [10.0, 250.0],
    ("1.46×10³", "2.3×10⁻²", "4"): [1460.0, 0.023, 4.0],
    ("1,46·10³", "2,3·10²"): [1460.0, 230.0],
    ("1.46 x 10^3", "2.3*10^-2", "2.5 · 10**2", "3×10^(2)"): [1460.0, 0.023, 250.0, 300.0],
    ("10^3", "10⁻¹", "10²"): [1000.0, 0.1, 100.0],
    ("1.46 E+03", "2.3 E-02"): [1460.0, 0.023],
    ("\N{MINUS SIGN}1.46×10³", "1.46×10^\N{MINUS SIGN}3"): [-1460.0, 1.46e-3],
}  # fmt: skip


@pytest.mark.parametrize("cells", SPELLED)
def test_a_rarer_spelling_is_the_same_number(write, cells):
    run = read(write, *cells)
    assert run.steps[0].shear_stress.tolist() == SPELLED[cells]
    assert said(run) == []


def test_all_columns_may_be_spelled_so(write):
    run = rk.read_run(write("t [s],γ̇ [1/s],τ [Pa]\n" + "".join(f"{i}.0D+00,{i}.5D+01,{i}.25D+02\n" for i in range(1, 7))))
    assert run.steps[0].time.tolist() == [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    assert run.steps[0].shear_rate.tolist() == [15.0, 25.0, 35.0, 45.0, 55.0, 65.0]
    assert run.steps[0].shear_stress.tolist() == [125.0, 225.0, 325.0, 425.0, 525.0, 625.0]


@pytest.mark.parametrize("mark", ["*", " *", "**", "†", "!", "#"])
def test_a_mark_behind_a_number_is_said_and_the_number_used(write, mark):
    run = read(write, "30", f"31.5{mark}", f"33{mark}", "34.5")
    assert run.steps[0].shear_stress.tolist() == [30.0, 31.5, 33.0, 34.5]
    assert said(run) == [
        f"column 3 ('τ [Pa]'): a mark stands behind 2 of 4 numbers, the first '31.5{mark}' in line 3; the numbers are used: "
        "look up what the mark means"
    ]
    assert {finding.severity for finding in run.findings if finding.check == "marked_numbers"} == {"caution"}


@pytest.mark.parametrize("bound", [">300", "> 300", "<0.5", "≥300", "<=0.5", ">3.0E+02", ">300*"])
def test_a_bound_is_no_number_and_said(write, bound):
    run = read(write, "30", "31.5", bound)
    stress = run.steps[0].shear_stress.tolist()
    assert stress[:2] == [30.0, 31.5]
    assert math.isnan(stress[2])
    assert said(run) == [
        f"column 3 ('τ [Pa]'): 1 of 3 cells hold a bound and no number, the first {bound!r} in line 4; they count as missing"
    ]
    assert {finding.severity for finding in run.findings if finding.check == "bounds"} == {"caution"}


def test_marks_do_not_hide_the_decimal_mark(write):
    run = read(write, "1,234*", "2,345", "33,5*")
    assert run.steps[0].shear_stress.tolist() == [1.234, 2.345, 33.5]
    head = HEAD.replace(";", ",")
    run = rk.read_run(write(head + "1.5*,1*,2\n2.5*,>2*,3\n3.5*,3*,4!\n"))
    assert run.steps[0].time.tolist() == [1.5, 2.5, 3.5]
    assert len(said(run)) == 4


def test_a_mark_in_a_workbook_is_said_by_its_row(write):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in (["t [s]", "γ̇ [1/s]", "τ [Pa]"], [1, 10, 30.5], [2, 20, "31.5*"], [3, 30, ">400"]):
        book.active.append(row)
    path = write(b"", "run_07.xlsx")
    book.save(path)
    run = rk.read_run(path)
    assert run.steps[0].shear_stress.tolist()[:2] == [30.5, 31.5]
    assert [one.partition("the first ")[2][:16] for one in said(run)] == ["'31.5*' in row 3", "'>400' in row 4;"]


@pytest.mark.parametrize("cell", ["1.46×103", "1.5F+02", "3 *4", "*3*x", "1.5D", "10^", "3?"])
def test_what_has_no_one_reading_is_refused(write, cell):
    with pytest.raises(ReadError, match=r"line 3, column 3 .* is not a number"):
        read(write, "30", cell, "34.5")
