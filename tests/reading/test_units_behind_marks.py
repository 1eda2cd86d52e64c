"""Units rows that begin with the unit `%` where it looks like a comment mark, and units behind the mark of their header."""

from __future__ import annotations

import numpy as np
import pytest

import rheokit as rk
from rheokit.base.errors import ReadError

ROWS = "1 0.25 100 300\n2 0.50 110 301\n4 0.75 120 301\n"


def assert_read(path, **columns):
    (step,) = rk.read_run(path).steps
    for name, wanted in columns.items():
        # One or two roundings: the number in its unit, and the division by 60 or 100.
        np.testing.assert_allclose(step.column(name), wanted, rtol=5e-16, atol=0.0, err_msg=name)


def assert_all(path):
    assert_read(path, shear_strain=[0.01, 0.02, 0.04], time=[15.0, 30.0, 45.0], shear_rate=[100 / 60, 110 / 60, 2.0])


def test_a_units_row_between_spaces_may_begin_with_per_cent(write):
    path = write("Strain Time Shear_rate Step_time\n% min 1/min s\n" + ROWS)
    assert_all(path)
    assert_read(path, step_time=[300.0, 301.0, 301.0])


@pytest.mark.parametrize("units", ["  % min 1/min s", "%  min 1/min s", "%   min   1/min   s"])
def test_however_wide_the_spaces_are(write, units):
    assert_all(write(f"Strain Time Shear_rate Step_time\n{units}\n{ROWS}"))


def test_between_wide_spaces_too(write):
    assert_all(write("Strain   Time   Shear rate   Temperature\n%   min   1/min   K\n" + ROWS.replace(" ", "   ")))


def test_a_repeated_header_may_have_it_again(write):
    head = "Strain Time Shear_rate Temperature\n% min 1/min K\n"
    run = rk.read_run(write(f"{head}{ROWS}{head}{ROWS}"))
    assert [step.column("shear_strain").tolist() for step in run.steps] == [[0.01, 0.02, 0.04]] * 2
    assert not [finding for finding in run.findings if finding.check == "notes"]


def test_units_above_the_names_may_begin_with_per_cent(write):
    assert_all(write("% min 1/min K\nStrain Time Shear_rate Temperature\n" + ROWS))


@pytest.mark.parametrize("delimiter", [",", ";", "\t", " ", "   "])
def test_units_behind_the_mark_of_their_header_are_units(write, delimiter):
    head = "# Time {0}Shear_rate {0}Strain\n# min {0}1/min {0}%\n".replace(" {0}", delimiter)
    rows = "\n".join(delimiter.join(cells) for cells in (("0.25", "100", "1"), ("0.50", "110", "2"), ("0.75", "120", "4")))
    assert_all(write(head + rows + "\n"))


def test_a_comment_of_other_words_under_a_header_stays_a_comment(write):
    run = rk.read_run(write("Time[s] Strain[%] Shear_rate[1/s]\n% with 1/s\n0.25 1 100\n0.50 2 110\n0.75 4 120\n"))
    assert "with 1/s" in run.metadata.values()


def test_a_comment_as_wide_as_a_bare_header_is_no_units_row(write):
    with pytest.raises(ReadError, match="shear strain has no unit"):
        rk.read_run(write("Strain Time Shear_rate Temperature\n% min 1/min\n" + ROWS))


def test_a_comment_under_a_commented_header_that_has_units_is_kept(write):
    run = rk.read_run(write("# Time [s],Shear rate [1/s]\n# operator,technician 2\n1,10\n2,20\n3,30\n"))
    assert run.metadata["operator"] == "technician 2"
