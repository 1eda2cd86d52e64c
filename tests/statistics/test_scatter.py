"""Scatter of points about lines and parabolas through their neighbours."""

import math

import numpy as np
import pytest

from rheokit.statistics.scatter import scatter_about_neighbours, scatter_about_parabolas


def test_a_straight_line_has_none():
    x = np.array([0.0, 1.0, 2.5, 3.0, 7.0, 8.0])
    sd, _ = scatter_about_neighbours(x, 2.0 - 3.0 * x)
    assert sd < 1e-14  # rounding of numbers near 20


def test_a_parabola_has_none_about_parabolas():
    x = np.array([0.0, 1.0, 2.5, 3.0, 7.0, 8.0, 8.5, 10.0])
    sd, _ = scatter_about_parabolas(x, 2.0 - 3.0 * x + 0.5 * x**2)
    assert sd < 1e-13  # rounding of numbers near 50
    assert scatter_about_neighbours(x, 2.0 - 3.0 * x + 0.5 * x**2)[0] > 0.1


both = pytest.mark.parametrize("scatter", [scatter_about_neighbours, scatter_about_parabolas])


@both
def test_it_finds_the_noise_that_was_put_in(scatter):
    generator = np.random.default_rng(20260915)
    x = np.sort(generator.uniform(0, 10, 20_000))
    sd, freedom = scatter(x, 0.1 * x + 0.03 * generator.standard_normal(x.size))
    # The relative error of a standard deviation is 1/sqrt(2 ν); four of them are one in 16,000.
    assert sd == pytest.approx(0.03, rel=4 / math.sqrt(2 * freedom))


@both
def test_its_degrees_of_freedom_are_those_of_its_own_spread(scatter):
    generator = np.random.default_rng(7)
    x = np.arange(60.0)
    found = [scatter(x, generator.standard_normal(60)) for _ in range(4000)]
    variances = np.array([sd for sd, _ in found]) ** 2
    # Satterthwaite: ν = 2 mean² / variance. 4000 repeats know that to about 2.5 % (1 sd); three of them.
    assert 2 * variances.mean() ** 2 / variances.var() == pytest.approx(found[0][1], rel=0.08)


def test_few_points_or_only_equal_ones_say_nothing():
    assert scatter_about_neighbours(np.arange(4.0), np.arange(4.0)) is None
    assert scatter_about_neighbours(np.zeros(9), np.arange(9.0)) is None


def test_a_bent_flow_curve_shows_its_noise_and_not_its_bend():
    # Five points a decade in logarithmic axes. Third differences of 16 points have 5.6 degrees of freedom, so one sd is known to 30 %;
    # the mean variance of 400 curves to 3 %: three of them.
    rates = np.geomspace(0.1, 100.0, 16)
    noise = 0.002 * np.random.default_rng(4).standard_normal((400, 16))
    logs = np.log(130.0 + 15.0 * rates**0.6) + noise
    found = [[scatter(np.log(rates), row)[0] for row in logs] for scatter in (scatter_about_parabolas, scatter_about_neighbours)]
    parabolas, lines = np.sqrt(np.mean(np.square(found), axis=1))
    assert 0.95 * 0.002 < parabolas < 1.15 * 0.002
    assert lines > 2.0 * 0.002


def test_about_parabolas_few_points_are_held_against_lines():
    x, y = np.arange(7.0), np.random.default_rng(1).standard_normal(7)
    assert scatter_about_parabolas(x, y) == scatter_about_neighbours(x, y)
    assert scatter_about_parabolas(np.zeros(9), np.arange(9.0)) is None
    assert scatter_about_parabolas(np.arange(4.0), np.arange(4.0)) is None


def test_points_at_equal_places_are_passed_over():
    x = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0])
    sd, freedom = scatter_about_parabolas(x, x**2)
    assert sd < 1e-13  # rounding of numbers near 80
    assert freedom == pytest.approx(5.0 / 2.31)  # three of eight fours hold the pair
