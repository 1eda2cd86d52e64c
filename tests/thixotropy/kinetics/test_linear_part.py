"""The linear parameters: against numpy's own least squares, and against every way of putting them at a bound."""

from itertools import product

import numpy as np
import pytest

from rheokit.thixotropy.kinetics.linear_part import best_coefficients, lowest_squares, unbounded

INF = np.full(5, np.inf)


def problem(seed, count=5):
    generator = np.random.default_rng(seed)
    columns = generator.uniform(0.0, 1.0, (60, count)) * 10.0 ** generator.uniform(-2.0, 2.0, count)
    truth = generator.uniform(-1.0, 2.0, count)
    return columns, columns @ truth + 0.1 * generator.standard_normal(60)


def by_trying_all(columns, target):
    """Return the lowest sum of squares with no coefficient below zero."""
    best = np.inf
    for free in product((True, False), repeat=columns.shape[1]):
        chosen = columns[:, list(free)]
        found = np.linalg.lstsq(chosen, target, rcond=None)[0] if chosen.size else np.zeros(0)
        if (found >= 0.0).all():
            best = min(best, float(np.sum((target - chosen @ found) ** 2)))
    return best


@pytest.mark.parametrize("seed", range(5))
def test_without_bounds_it_is_least_squares(seed):
    columns, target = problem(seed)
    exact = np.linalg.lstsq(columns, np.stack([target, target**2], axis=1), rcond=None)[0]
    # Condition numbers of up to a hundred once scaled, over sixty points: rounding times that.
    assert unbounded(columns, target) == pytest.approx(exact[:, 0], rel=1e-10, abs=1e-12)
    assert unbounded(columns, np.stack([target, target**2], axis=1)) == pytest.approx(exact, rel=1e-10, abs=1e-12)


@pytest.mark.parametrize("seed", range(12))
def test_with_bounds_no_other_way_is_lower(seed):
    columns, target = problem(seed)
    found = best_coefficients(columns, target, np.zeros(5), INF)
    assert (found >= 0.0).all()
    lowest = by_trying_all(columns, target)
    assert float(np.sum((target - columns @ found) ** 2)) == pytest.approx(lowest, rel=1e-9)
    assert lowest_squares(columns[None], target[None], np.zeros(5), INF)[0] == pytest.approx(lowest, rel=1e-6)  # products, for a search


def test_upper_bounds_hold_as_well():
    columns, target = problem(3, count=2)
    free = unbounded(columns, target)
    upper = np.array([free[0] - 0.1 * abs(free[0]), np.inf])
    found = best_coefficients(columns, target, np.array([-np.inf, -np.inf]), upper)
    assert found[0] == upper[0]
    assert found[1] == pytest.approx(
        float(columns[:, 1] @ (target - columns[:, 0] * upper[0]) / (columns[:, 1] @ columns[:, 1])), rel=1e-12
    )


def test_a_repeated_column_is_used_once():
    columns, target = problem(1, count=2)
    twice = np.column_stack([columns, columns[:, 0]])
    exact = np.linalg.lstsq(columns, target, rcond=None)[0]
    found = unbounded(twice, target)
    assert twice @ found == pytest.approx(columns @ exact, rel=1e-7)
