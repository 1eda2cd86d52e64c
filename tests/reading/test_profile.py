"""Staircases, scatter and blurred levels, on columns whose answer is plain."""

from __future__ import annotations

import numpy as np
import pytest

from rheokit.reading.profile import jumps, level_starts, scatter


@pytest.mark.parametrize("rows", [2, 3, 10])
@pytest.mark.parametrize("values", [np.geomspace(0.1, 100.0, 16), np.linspace(10.0, 100.0, 10), np.geomspace(1000.0, 1.0, 9)])
def test_every_level_starts_where_it_was_put(values, rows):
    assert level_starts(np.repeat(values, rows)) == tuple(range(0, rows * values.size, rows))


@pytest.mark.parametrize("seed", range(10))
def test_levels_are_found_under_noise(seed):
    noise = 1.0 + 0.01 * np.random.default_rng(seed).standard_normal(80)
    assert level_starts(np.repeat(np.geomspace(100.0, 0.1, 16), 5) * noise) == tuple(range(0, 80, 5))


def test_levels_a_third_apart_are_found_where_neighbours_differ_by_a_tenth():
    # Within a level the rows differ by 10 % on the logarithmic axis, between levels by 33 %: a gap of 3.
    wobble = np.exp(np.tile([0.0, 0.1, 0.0], 8))
    assert level_starts(np.repeat(np.exp(0.33 * np.arange(8)), 3) * wobble) == tuple(range(0, 24, 3))


@pytest.mark.parametrize(
    "values",
    [
        np.linspace(1.0, 100.0, 60),
        np.geomspace(0.1, 100.0, 60),
        np.geomspace(0.1, 100.0, 8),
        np.full(20, 3.0),
        np.array([1.0, 1.0, 2.0, 2.0]),
        np.concatenate([np.repeat([1.0, 2.0, 3.0], 5), np.repeat([2.0, 1.0], 5)]),
    ],
)
def test_what_is_no_staircase_has_no_levels(values):
    assert level_starts(values) == ()
    assert not jumps(values) or values.size == 25  # up and down in levels does jump


@pytest.mark.parametrize("seed", range(5))
def test_the_scatter_is_the_standard_deviation_over_the_level_and_leaves_a_drift_out(seed):
    values = 50.0 * (1.0 + 0.01 * np.random.default_rng(seed).standard_normal(2000)) + np.linspace(0.0, 1.0, 2000)
    # A median of 2000 differences that share their values has a standard error near 2.5 %; the drift adds 1 % to the level.
    assert scatter(values) == pytest.approx(0.01, rel=0.1)
    assert scatter(np.full(5, 2.0)) == 0.0


def test_blurred_levels_jump_and_ramps_do_not():
    noise = 1.0 + 0.03 * np.random.default_rng(3).standard_normal(80)
    assert jumps(np.repeat(np.geomspace(100.0, 0.1, 16), 5) * noise)
    assert not jumps(np.linspace(1.0, 100.0, 80) * noise)
