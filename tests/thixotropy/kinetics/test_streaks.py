"""Streaks: white scatter passes as often as said, what is smooth does not, and its size is found."""

import numpy as np
import pytest

from rheokit.thixotropy.kinetics.streaks import STREAKS, memory, streaks

LOAD = np.repeat([0, 1], [240, 420])


def test_white_scatter_is_taken_for_white():
    draws = np.random.default_rng(1).standard_normal((2000, LOAD.size))
    deviates = np.array([streaks(one, LOAD).deviate for one in draws])
    # About a normal deviate: 4 standard errors of mean and deviation of 2000 draws, and what the two approximations in it leave.
    assert abs(deviates.mean()) < 0.1 + 0.05
    assert abs(deviates.std() - 1.0) < 0.07 + 0.05
    assert (deviates > STREAKS).sum() <= 10  # twice in 2000 by the normal law, with a heavier tail
    assert sum(memory(one, LOAD) > 1.0 for one in draws) == (deviates > STREAKS).sum()


def test_a_smooth_part_is_found_with_its_size():
    generator = np.random.default_rng(2)
    wave = 0.004 * 2.0**0.5 * np.sin(np.arange(LOAD.size) * 2.0 * np.pi / 120.0)
    found = streaks(wave + 0.006 * generator.standard_normal(LOAD.size), LOAD)
    assert found.deviate > 6.0
    # Means of 8 points in a wave of 120 keep 99 % of it; the rest is the scatter of 82 blocks and 656 differences.
    assert found.smooth == pytest.approx(0.004, rel=0.2)
    assert found.single == pytest.approx(0.006, rel=0.1)


def test_memory_is_that_of_an_autoregression():
    generator = np.random.default_rng(3)
    kept, load = 0.8, np.zeros(20_000, dtype=int)
    series = np.zeros(load.size)
    for index in range(1, load.size):
        series[index] = kept * series[index - 1] + generator.standard_normal()
    # (1 + 0.8)/(1 - 0.8) = 9, from autocorrelations with errors of one in a hundred each, summed over a dozen.
    assert memory(series, load) == pytest.approx(9.0, rel=0.15)


def test_too_few_points_tell_nothing():
    assert streaks(np.arange(5.0), np.zeros(5, dtype=int)).deviate == 0.0
    assert memory(np.zeros(100), np.zeros(100, dtype=int)) == 1.0
