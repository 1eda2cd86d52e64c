"""Intervals of ratios and of times, against what they are by definition."""

import math

import numpy as np
import pytest

import rheokit as rk
from rheokit.statistics.student import student_quantile
from rheokit.thixotropy.recovery.crossing import crossing, passing
from rheokit.thixotropy.recovery.uncertainty import LEVEL, Mix, ratio_error, ratio_interval

from .step_tests import level, made, stretched


def known(noise=0.01):
    run = made(level(900.0), level(20.0), stretched(30.0, 820.0, 40.0), noise=noise, seed=5)
    return rk.step_recovery(run, law="first_order").course


def test_the_interval_of_a_ratio_holds_every_ratio_that_the_data_do_not_refuse():
    course = known(noise=0.15)  # much noise: the interval leans visibly
    above, below = course.at(60.0) - course.sheared(), course.taken()
    interval = ratio_interval(course.known, above, below)
    # By definition (Fieller) a ratio q is not refused where |above - q below| lies within Student's t times its standard error; the
    # degrees of freedom are taken at the ratio found.
    ratio = above.value / below.value
    times = student_quantile(0.5 + 0.5 * LEVEL, course.known.freedom(above - below.times(ratio)))

    def excess(q):
        rest = above - below.times(q)
        return abs(rest.value) - times * course.known.error(rest)

    for end, inwards in ((interval.lower, 1.0), (interval.upper, -1.0)):
        assert excess(end) == pytest.approx(0.0, abs=1e-8 * abs(above.value))  # rounding of a difference of squares
        assert excess(end + 1e-3 * inwards) < 0.0 < excess(end - 1e-3 * inwards)
    assert interval.upper - ratio > 1.02 * (ratio - interval.lower)


def test_a_ratio_over_what_may_be_nothing_is_open():
    course = known(noise=0.01)
    above, below = course.at(60.0), course.rested() - Mix(value=899.0, gradient=np.zeros(3), rest=0.0)
    interval = ratio_interval(course.known, above, below)
    assert (interval.lower, interval.upper) == (-math.inf, math.inf)
    assert "any ratio fits the data" in interval.reason


def test_what_is_shared_by_both_parts_of_a_ratio_counts_once():
    # (X - S)/(R - S) with X = R to the last digit is 1 whatever R and S: its error vanishes but for rounding.
    course = known()
    taken = course.taken()
    error, _ = ratio_error(course.known, taken, taken)
    assert error < 1e-12
    # With the law's part alone above, the error is by propagation: every part with its own derivative.
    above = course.at(60.0) - course.sheared()
    r = above.value / taken.value
    parts = course.known.error(course.at(60.0)), r * course.known.rest[0], (1.0 - r) * course.known.shear[0]
    assert ratio_error(course.known, above, taken)[0] == pytest.approx(math.hypot(*parts) / taken.value, rel=1e-12)


def test_a_line_is_passed_where_it_is_and_its_interval_is_its_reach_over_its_slope():
    found = crossing(lambda t: 2.0 * t - 40.0, lambda _: 6.0, 1.0, 100.0)
    # Halving ends at a part in 2^45 of a grid step.
    assert (found.when, found.time) == ("inside", pytest.approx(20.0, abs=1e-10))
    assert (found.lower, found.upper) == (pytest.approx(17.0, abs=1e-10), pytest.approx(23.0, abs=1e-10))
    assert passing(lambda t: 2.0 * t - 40.0, 1.0, 100.0) == pytest.approx(20.0, abs=1e-10)


@pytest.mark.parametrize(
    ("height", "reach", "wanted"),
    [
        (lambda t: 0.1 * t - 20.0, 1.0, ("after", 100.0, 100.0, math.inf)),
        (lambda t: 0.1 * t - 20.0, 15.0, ("after", 100.0, 50.0, math.inf)),
        (lambda t: 0.1 * t - 9.0, 3.0, ("inside", 90.0, 60.0, math.inf)),
        (lambda t: 5.0 + t, 1.0, ("before", 2.0, 0.0, 2.0)),
        (lambda t: t - 1.0, 4.0, ("before", 2.0, 0.0, 5.0)),
    ],
)
def test_ends_that_the_data_leave_open(height, reach, wanted):
    found = crossing(height, lambda _: reach, 2.0, 100.0)
    assert found.when == wanted[0]
    assert (found.time, found.lower) == pytest.approx(wanted[1:3], abs=1e-9)
    assert found.upper == pytest.approx(wanted[3], abs=1e-9)
