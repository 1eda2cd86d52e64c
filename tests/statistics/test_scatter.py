"""Scatter of points about their neighbours."""

import math

import numpy as np
import pytest

from rheokit.statistics.scatter import scatter_about_neighbours


def test_a_straight_line_has_none():
    x = np.array([0.0, 1.0, 2.5, 3.0, 7.0, 8.0])
    sd, _ = scatter_about_neighbours(x, 2.0 - 3.0 * x)
    assert sd < 1e-14  # rounding of numbers near 20


def test_it_finds_the_noise_that_was_put_in():
    generator = np.random.default_rng(20260915)
    x = np.sort(generator.uniform(0, 10, 20_000))
    sd, freedom = scatter_about_neighbours(x, 0.1 * x + 0.03 * generator.standard_normal(x.size))
    # The relative error of a standard deviation is 1/sqrt(2 ν); four of them are one in 16,000.
    assert sd == pytest.approx(0.03, rel=4 / math.sqrt(2 * freedom))


def test_its_degrees_of_freedom_are_those_of_its_own_spread():
    generator = np.random.default_rng(7)
    x = np.arange(60.0)
    found = [scatter_about_neighbours(x, generator.standard_normal(60)) for _ in range(4000)]
    variances = np.array([sd for sd, _ in found]) ** 2
    # Satterthwaite: ν = 2 mean² / variance. 4000 repeats know that to about 2.5 % (1 sd); three of them.
    assert 2 * variances.mean() ** 2 / variances.var() == pytest.approx(found[0][1], rel=0.08)


def test_few_points_or_only_equal_ones_say_nothing():
    assert scatter_about_neighbours(np.arange(4.0), np.arange(4.0)) is None
    assert scatter_about_neighbours(np.zeros(9), np.arange(9.0)) is None
