"""Intervals of variance components: an exact case, and how often they hold the truth."""

import math

import numpy as np
import pytest
from scipy import stats

from rheokit.statistics.component_interval import MeanSquare, component_interval, satterthwaite


def test_one_mean_square_has_its_exact_interval():
    # Exact: n s² over the quantiles of chi-square.
    low, high = component_interval([MeanSquare(value=2.5, degrees_of_freedom=7.0, factor=3.0)], 0.9)
    assert low == pytest.approx(7.5 * 7.0 / stats.chi2.ppf(0.95, 7), rel=1e-10)
    assert high == pytest.approx(7.5 * 7.0 / stats.chi2.ppf(0.05, 7), rel=1e-10)


def test_a_difference_to_a_mean_square_that_is_known_is_shifted():
    # Exact in the limit: with very many degrees of freedom the second is a number.
    low, high = component_interval(
        [
            MeanSquare(value=9.0, degrees_of_freedom=5.0),
            MeanSquare(value=2.0, degrees_of_freedom=1e9, factor=-1.0),
        ],
        0.95,
    )
    assert low == pytest.approx(max(0.0, 9.0 * 5.0 / stats.chi2.ppf(0.975, 5) - 2.0), rel=1e-3)
    assert high == pytest.approx(9.0 * 5.0 / stats.chi2.ppf(0.025, 5) - 2.0, rel=1e-3)


def test_a_difference_leaves_zero_where_the_ratio_of_its_mean_squares_is_critical():
    # Exact, and what the limits are made for: at a ratio that chance exceeds in 2.5 % the lower end is zero, at one it stays below in
    # 2.5 % the upper end is.
    high, low = (stats.f.ppf(p, 5, 12) for p in (0.975, 0.025))
    for ratio, end in ((high, 0), (low, 1)):
        parts = [
            MeanSquare(value=3.0 * ratio, degrees_of_freedom=5.0, factor=2.0),
            MeanSquare(value=3.0, degrees_of_freedom=12.0, factor=-2.0),
        ]
        assert component_interval(parts, 0.95)[end] == pytest.approx(0.0, abs=1e-6)
        parts[0] = MeanSquare(value=3.01 * ratio, degrees_of_freedom=5.0, factor=2.0)
        assert component_interval(parts, 0.95)[end] > 0.0


def test_a_sum_has_the_squares_of_its_parts_limits():
    # By hand, with quantiles from scipy.stats: the distance of each part to its own limit, added as squares.
    parts = [MeanSquare(value=4.0, degrees_of_freedom=3.0, factor=0.5), MeanSquare(value=1.0, degrees_of_freedom=20.0, factor=2.0)]
    low = [part.share * (1.0 - part.degrees_of_freedom / stats.chi2.ppf(0.975, part.degrees_of_freedom)) for part in parts]
    high = [part.share * (part.degrees_of_freedom / stats.chi2.ppf(0.025, part.degrees_of_freedom) - 1.0) for part in parts]
    ends = component_interval(parts, 0.95)
    assert ends == (pytest.approx(4.0 - math.hypot(*low), rel=1e-10), pytest.approx(4.0 + math.hypot(*high), rel=1e-10))


def test_the_effective_freedom():
    # Exact: equal shares of 3 and 6 degrees of freedom give 4 / (1/3 + 1/6) = 8.
    equal = [MeanSquare(value=1.0, degrees_of_freedom=3.0), MeanSquare(value=1.0, degrees_of_freedom=6.0)]
    assert satterthwaite(equal) == pytest.approx(8.0)
    assert satterthwaite([MeanSquare(value=0.0, degrees_of_freedom=3.0)]) == math.inf


REPEATS = 3000
CASES = {
    "a sum of two": ((4.0, 2, 1 / 30), (0.2, 78, 29 / 30)),
    "a sum of three": ((4.0, 2, 1 / 30), (0.5, 18, 0.3), (0.2, 60, 2 / 3)),
    "a difference": ((4.0, 9, 1 / 9), (0.2, 78, -1 / 9)),
    "a small difference": ((0.3, 9, 1 / 9), (0.2, 18, -1 / 9)),
    "two less one": ((4.0, 2, 1 / 30), (9.0, 9, 1 / 9), (0.2, 18, -0.05)),
}
"""Expected mean square, degrees of freedom and factor, as in studies of 3 operators and 10 parts."""


def covered(case, *, shrunk=1.0):
    generator = np.random.default_rng(5)
    truth = math.fsum(expected * factor for expected, _, factor in CASES[case])
    held = 0
    for _ in range(REPEATS):
        parts = [
            MeanSquare(value=expected * float(generator.chisquare(freedom)) / freedom, degrees_of_freedom=float(freedom), factor=factor)
            for expected, freedom, factor in CASES[case]
        ]
        middle = math.fsum(part.share for part in parts)
        low, high = component_interval(parts, 0.95)
        held += middle + (low - middle) / shrunk <= truth <= middle + (high - middle) / shrunk
    return held


@pytest.mark.parametrize("case", CASES)
def test_the_interval_covers_95_percent(case):
    # Approximate by design: its authors promise 95 % or a little more, seldom below 94; binomial limits of once in a thousand about these.
    low, high = stats.binom.ppf(0.001, REPEATS, 0.94), stats.binom.ppf(0.999, REPEATS, 0.98)
    assert low <= covered(case) <= high


@pytest.mark.parametrize("case", CASES)
def test_a_narrower_one_does_not(case):
    assert covered(case, shrunk=1.6) < stats.binom.ppf(0.001, REPEATS, 0.94)
