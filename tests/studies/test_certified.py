"""Certified digits: what is reached over all sets and starts, and that no wrong answer comes in silence."""

import numpy as np
import pytest

from studies.certified_fits import counts, digits, study, summary
from studies.nist_laws import SETS, law, points

PAIRS = study()
HERE = [here for here, _ in PAIRS]


@pytest.mark.parametrize("name", SETS)
def test_the_derivatives_of_each_set_are_proved_by_complex_steps(name):
    x, _ = points(name)
    at = SETS[name]["certified"]
    proved = law(name).complex_step_jacobian(x, *at)
    error = np.abs(law(name).jacobian(x, *at) - proved).max(axis=0)
    assert (error <= 1e-13 * np.abs(proved).max(axis=0)).all()


def test_digits_are_those_of_the_worst_number():
    assert digits([1.0, 2.0], [1.0, 2.0]) == 11.0
    assert digits([1.0, 2.002], [1.0, 2.0]) == pytest.approx(3.0)
    assert digits([1.0, None], [1.0, 2.0]) == digits([1.0, np.nan], [1.0, 2.0]) == digits([1.0, 60.0], [1.0, 2.0]) == 0.0


def test_all_sets_from_both_starts(capsys):
    assert len(HERE) == 54
    assert counts(HERE) == (54, 52)
    assert [one.name for one in HERE if one.deviations < 6.0] == ["Lanczos1", "Lanczos1"]
    assert min(one.deviations for one in HERE) >= 2.0
    with capsys.disabled():
        print("\n" + summary(PAIRS))


def test_a_plain_fit_reaches_less():
    # The baseline is what it was when the goal was set; a better lmfit may raise it, and then this page is to be made anew.
    parameters, deviations = counts(there for _, there in PAIRS)
    assert 29 <= parameters <= 40
    assert deviations <= 6


@pytest.mark.parametrize("pair", [("BoxBOD", 1), ("MGH09", 1), ("MGH10", 1), ("MGH17", 1), ("Eckerle4", 1), ("Bennett5", 1)])
def test_a_start_that_leads_astray_is_said(pair):
    assert "start_replaced" in next(one.said for one in HERE if (one.name, one.which) == pair)
