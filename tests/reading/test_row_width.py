"""A remark at the end of a row may hold the sign that divides the cells; a number may not."""

from __future__ import annotations

import pytest

import rheokit as rk
from rheokit.base.errors import ReadError
from rheokit.reading.export import read_export

HEAD = "t [s],γ̇ [1/s],τ [Pa],Remark\n"


def said(run, check):
    return [(finding.severity, str(finding)) for finding in run.findings if finding.check == check]


@pytest.mark.parametrize(
    "rows",
    [
        "1,1,10,ok\n2,2,20,ok, but slow\n3,3,30,ok\n",
        "1,1,10,ok, but slow\n2,2,20,\n3,3,30,\n",
        "1,1,10,ok, but slow, and late\n2,2,20,ok, 3 times\n3,3,30,ok, then, not\n",
        "1.0,1,10,ok\n2.0,2,20.0,lid open, 5 s, 6 °\n3.0,3,30.0,ok",
    ],
)
@pytest.mark.parametrize("delimiter", [",", ";", "|", "\t"])
def test_a_remark_that_holds_the_dividing_sign_is_one_text(write, rows, delimiter):
    run = rk.read_run(write((HEAD + rows).replace(",", delimiter)))
    assert run.steps[0].columns["shear_stress"].tolist() == [10.0, 20.0, 30.0]
    assert [severity for severity, reason in said(run, "notes") if "the remark holds the sign that divides cells" in reason] == ["info"]
    assert not [finding for finding in run.findings if finding.severity != "info"]


def test_the_remark_is_whole(write):
    reading = read_export(write(HEAD + "1,1,10,ok\n2,2,20,ok, but slow\n"))
    assert "'ok, but slow' in 1 of 2 rows (the first in line 3)" in said(reading.run, "remarks")[0][1]


def test_a_status_before_the_remark_has_to_stay_where_it_is(write):
    head = "Point,t [s],γ̇ [1/s],τ [Pa],Status,Remark\n"
    run = rk.read_run(write(head + "1,1,1,10,ok,\n2,2,2,20,ok,slow, late\n"))
    assert run.steps[0].columns["shear_stress"].tolist() == [10.0, 20.0]
    with pytest.raises(ReadError, match="line 2: 7 cells under 6 columns"):
        rk.read_run(write(head + "1,1,1,0,10,ok,slow\n2,2,2,20,ok,slow\n"))
    with pytest.raises(ReadError, match="line 3: 7 cells under 6 columns"):
        rk.read_run(write(head + "1,1,1,10,ok,slow\n2,2,2,0,20,ok,slow\n"))


@pytest.mark.parametrize("row", ["2,0,2,20,ok", "2,2,20,5,ok", "2,2,20,,ok", "2,0,2,n/a,ok", "2,0,2,0,20,5,ok", "2,2,20,-,ok"])
def test_decimal_commas_are_refused_all_the_same(write, row):
    with pytest.raises(ReadError, match=r"line 3: \d cells under 4 columns"):
        rk.read_run(write(HEAD + f"1,1,10,ok\n{row}\n3,3,30,ok\n"))


def test_clock_times_stand_before_a_remark_too(write):
    run = rk.read_run(write(HEAD.replace("t [s]", "Time") + "00:00:01,1,10,lid open, cold\n00:00:02,2,20,ok\n"))
    assert run.steps[0].columns["time"].tolist() == [1.0, 2.0]


@pytest.mark.parametrize("glued", ["1,1,10,ok2,2,20,ok", "1,1,10,\x162,2,20,ok", "1,1,10,late#2,2,20,"])
def test_the_next_row_is_no_remark(write, glued):
    with pytest.raises(ReadError, match=r"line 2: 7 cells under 4 columns"):
        rk.read_run(write(f"{HEAD}{glued}\n3,3,30,ok\n"))
    with pytest.raises(ReadError, match=r"line 2: 5 cells under 3 columns"):
        rk.read_run(write("t [s],τ [Pa],Remark\n1,10,late#2,20,ok\n3,30,ok\n"))


def test_a_last_column_of_numbers_takes_no_surplus(write):
    with pytest.raises(ReadError, match="line 3: 5 cells under 4 columns"):
        rk.read_run(write("t [s],γ̇ [1/s],τ [Pa],T [°C]\n1,1,10,23\n2,2,20,23,x\n3,3,30,23\n"))
