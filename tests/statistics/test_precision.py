"""StatedUncertainty and critical range."""

import math

import pytest
from scipy import stats

from rheokit.statistics.precision import CRITICAL_RANGE_FACTORS, StatedUncertainty, critical_range


@pytest.mark.parametrize("loads", CRITICAL_RANGE_FACTORS)
def test_factors_are_the_studentised_range(loads):
    # ISO 5725-6:1994 table 1 prints one decimal; the 95 % point of the range of n standard normals, from scipy, must round to it.
    exact = stats.studentized_range.ppf(0.95, loads, math.inf)
    assert abs(CRITICAL_RANGE_FACTORS[loads] - exact) <= 0.05 + 1e-9


def test_two_loads_at_the_range_and_beyond():
    seen, allowed = critical_range([100.0, 105.6], 2.0)
    assert (seen, allowed) == (pytest.approx(5.6), pytest.approx(5.6))
    assert critical_range([100.0, 105.7], 2.0)[0] > allowed


@pytest.mark.parametrize("values", [[1.0], [1.0] * 11])
def test_other_numbers_of_loads_are_refused(values):
    with pytest.raises(ValueError, match="2 to 10 results"):
        critical_range(values, 1.0)


def test_relative_and_absolute():
    assert StatedUncertainty(relative=0.02).standard_deviation(-50.0) == 1.0
    assert StatedUncertainty(absolute=0.3).standard_deviation(50.0) == 0.3


@pytest.mark.parametrize("sizes", [{}, {"relative": 0.1, "absolute": 1.0}, {"relative": 0.0}, {"absolute": math.nan}, {"relative": -0.1}])
def test_a_repeatability_is_one_positive_number(sizes):
    with pytest.raises(ValueError, match="one positive number"):
        StatedUncertainty(**sizes)


def test_degrees_of_freedom_are_positive():
    with pytest.raises(ValueError, match="degrees of freedom"):
        StatedUncertainty(relative=0.1, degrees_of_freedom=0.0)
