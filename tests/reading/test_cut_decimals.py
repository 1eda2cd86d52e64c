"""Decimal commas among delimiting commas make two cells of one number; spare columns must not hide that."""

from __future__ import annotations

import pytest

import rheokit as rk
from rheokit.base.errors import ReadError

ROWS = "0,5,1,0,12,3{0}\n1,0,2,0,22,5{0}\n1,5,3,0,31,7{0}\n"
HEAD = "t [s],γ̇ [1/s],τ [Pa]"
REFUSED = (
    r"column{} .*without a heading hold{} numbers, and no number of the file has a decimal point: decimal commas seem to have cut them"
)


def cautions(run):
    return [finding for finding in run.findings if finding.check == "decimal_comma"]


@pytest.mark.parametrize(
    "text",
    [
        f"{HEAD},,,\n{ROWS.format('')}",
        f"{HEAD},,,,\n{ROWS.format(',')}",
        f"{HEAD},Status,,\n{ROWS.format('')}",
        "t,γ̇,τ,,,\ns,1/s,Pa,,,\n" + ROWS.format(""),
        "Point,t [s],γ̇ [1/s],,\n1,0,5,1,0\n2,1,0,2,0\n3,1,5,3,0\n",
        f"{HEAD},,,\n{ROWS.format('')}\n{HEAD},,,\n{ROWS.format('')}",
    ],
)
def test_numbers_without_heading_where_none_has_a_decimal_point_are_refused(write, text):
    with pytest.raises(ReadError, match=REFUSED.format("s?", "s?")):
        rk.read_run(write(text))


@pytest.mark.parametrize(
    "text",
    [
        "t [s],γ̇ [1/s],τ [Pa],η [Pa·s],T [°C],M [mN·m]\n0,50,1,05,12,30\n1,00,2,10,22,55\n",
        "t [s],γ̇ [1/s]\n0,00\n1,50\n",
    ],
)
def test_a_zero_before_other_digits_is_what_was_behind_a_decimal_comma(write, text):
    with pytest.raises(
        ReadError, match=r"line 2, column \d \('.*'\): '0\d' begins with a zero as decimals do, and no number of the file has a"
    ):
        rk.read_run(write(text))


def test_a_step_or_a_state_may_be_numbered_with_zeros(write):
    run = rk.read_run(write(f"Step,{HEAD},State,x\n01,2,30,4,05,ok\n02,2,0,5,05,ok\n"))
    assert [len(step) for step in run.steps] == [1, 1]
    assert cautions(run) == []


def test_the_remedy_is_named(write):
    remedy = (
        r"columns 4, 5, 6 without a heading hold numbers, .*; export with semicolons or tabs between the cells, or with a decimal point; "
        r'where the numbers are whole, write decimal = "\." into a layout file$'
    )
    path = write(f"{HEAD},,,\n{ROWS.format('')}")
    with pytest.raises(ReadError, match=remedy):
        rk.read_run(path)
    run = rk.read_run(path, layout=write('format = 1\ndecimal = "."\n', "layout.toml"))
    assert run.steps[0].columns["shear_rate"].tolist() == [5.0, 0.0, 5.0]


@pytest.mark.parametrize(
    "text",
    [
        f"{HEAD},Status,Remark,Operator\n{ROWS.format('')}",
        f"{HEAD},Status\n1,10,12,3\n2,20,22,5\n3,30,31,7\n",
        f"{HEAD},Status,Remark,Operator\n{ROWS.format(',,,')}",
        "t [s],γ̇ [1/s],τ [Pa],T [°C],F_N [N],M [mN·m]\n" + ROWS.format(",,,"),
    ],
)
def test_numbers_under_texts_or_wider_rows_without_a_decimal_point_are_a_caution(write, text):
    (finding,) = cautions(rk.read_run(write(text)))
    assert finding.severity == "caution"
    assert "no number of the file has a decimal point" in str(finding)


@pytest.mark.parametrize(
    "text",
    [
        f",{HEAD}\n0,1,2,3\n1,2,3,4\n",  # numbers of the rows, as tables are printed with
        f"Point,{HEAD},Status\n1,1,2,3,0\n2,2,3,4,0\n3,3,4,5,1\n4,4,5,6,0\n",
        f"{HEAD},,\n1,2,3,,\n2,3,4,,\n",
        f"{HEAD},,\n1,2.5,3,4,5\n2,3,4,5,6\n",  # a decimal point is there
        f"{HEAD}\n1,2,3,\n2,3,4,\n",
        f"{HEAD},Remark\n1,2,3,ok\n2,3,4,ok\n",
        "t [s];γ̇ [1/s];τ [Pa];;\n1;2;3;4;5\n2;3;4;5;6\n",
    ],
)
def test_whole_numbers_and_spare_columns_alone_are_no_alarm(write, text):
    assert cautions(rk.read_run(write(text))) == []
