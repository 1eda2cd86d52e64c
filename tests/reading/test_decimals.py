"""Points, commas, spaces and apostrophes in numbers are decided for the whole file, or refused."""

from __future__ import annotations

import itertools

import pytest

import rheokit as rk
from rheokit.base.errors import ReadError

HEAD = "t [s];τ [Pa]\n"


def stress(write, *cells, head=HEAD):
    return rk.read_run(write(head + "".join(f"{index};{cell}\n" for index, cell in enumerate(cells, 1)))).steps[0].shear_stress.tolist()


# Each line has one reading: what makes it so stands in the last cell.
DECIDED = {
    ("1.5", "1.234"): [1.5, 1.234],
    ("1,5", "1,234"): [1.5, 1.234],
    ("0.500", "1.234"): [0.5, 1.234],
    ("0,500", "1,234"): [0.5, 1.234],
    ("1.234", "12345"): [1.234, 12345.0],
    ("1,234", "12345"): [1.234, 12345.0],
    ("1.234", "1234.567"): [1.234, 1234.567],
    ("1.234E+03", "2.345E+03"): [1234.0, 2345.0],
    ("1,234", "1,234.5"): [1234.0, 1234.5],
    ("1.234", "1.234,5"): [1234.0, 1234.5],
    ("1,234", "1,234,567"): [1234.0, 1234567.0],
    ("1.234", "1.234.567"): [1234.0, 1234567.0],
    ("1 234", "12 345,5"): [1234.0, 12345.5],
    ("1\u00a0234", "12\u202f345.5"): [1234.0, 12345.5],
    ("1'234", "12\u2019345.5"): [1234.0, 12345.5],
    ("12", "1 234 567"): [12.0, 1234567.0],
    ("\N{MINUS SIGN}1,5", "-2,5e-1"): [-1.5, -0.25],
    ("+.5", "5."): [0.5, 5.0],
}  # fmt: skip


@pytest.mark.parametrize("cells", DECIDED)
def test_one_cell_decides_for_all_in_any_order(write, cells):
    for order in itertools.permutations(range(len(cells))):
        read = stress(write, *(cells[index] for index in order))
        assert read == [DECIDED[cells][index] for index in order]


def test_another_column_decides_too(write):
    head = "t [s];τ [Pa];T [°C]\n"
    run = rk.read_run(write(head + "1;1.234;23,5\n2;2.345;23,6\n"))
    assert run.steps[0].shear_stress.tolist() == [1234.0, 2345.0]
    assert "the numbers are read with decimal comma, thousands point: '23,5' has no other reading" in map(str, run.findings)


def test_a_table_divided_by_commas_has_a_decimal_point(write):
    run = rk.read_run(write("t [s],τ [Pa]\n1,1.234\n2,2.345\n"))
    assert run.steps[0].shear_stress.tolist() == [1.234, 2.345]
    quoted = rk.read_run(write('t [s],τ [Pa]\n1,"1,25"\n2,"2,345"\n'))
    assert quoted.steps[0].shear_stress.tolist() == [1.25, 2.345]


@pytest.mark.parametrize("mark", [",", "."])
def test_what_may_be_thousands_or_decimals_is_refused_and_a_layout_settles_it(write, mark):
    path = write(HEAD + f"1;1{mark}234\n2;2{mark}345\n")
    message = rf"'1\{mark}234' may be a number with decimals or one with thousands, and no other number of the file says which; say it in a"
    with pytest.raises(ReadError, match=message):
        rk.read_run(path)
    decimals = write(f'format = 1\ndecimal = "{mark}"\n', "decimals.toml")
    assert rk.read_run(path, layout=decimals).steps[0].shear_stress.tolist() == [1.234, 2.345]
    other = {",": ".", ".": ","}[mark]
    thousands = write(f'format = 1\ndecimal = "{other}"\nthousands = "{mark}"\n', "thousands.toml")
    assert rk.read_run(path, layout=thousands).steps[0].shear_stress.tolist() == [1234.0, 2345.0]


@pytest.mark.parametrize(
    ("cells", "refused"),
    [
        (("1,5", "2,5", "3.5"), "3.5"),
        (("1.5", "2.5", "3,5"), "3,5"),
        (("1,234.5", "12,34.5"), "12,34.5"),
        (("1,234.5", "0,234.5"), "0,234.5"),
        (("1.5", "1 2345"), "1 2345"),
        (("1'234.5", "1 234.5"), "1'234.5"),
    ],
)
def test_a_number_that_no_one_style_reads_is_refused_by_its_line(write, cells, refused):
    line = cells.index(refused) + 2
    with pytest.raises(ReadError, match=rf"line {line}, column 2 \('τ \[Pa\]'\): [\"']{refused}[\"'] is not a number"):
        stress(write, *cells)


def test_clock_times_show_the_decimal_mark(write):
    run = rk.read_run(write("Time;τ [Pa]\n0:00:01,5;1,234\n0:00:02,5;2,345\n"))
    assert run.steps[0].time.tolist() == [1.5, 2.5]
    assert run.steps[0].shear_stress.tolist() == [1.234, 2.345]
