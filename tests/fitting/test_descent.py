"""The damped descent, on problems whose minimum is known."""

import numpy as np
import pytest

from rheokit.fitting.descent import descend

FREE = np.full(2, -np.inf), np.full(2, np.inf)


def squares(function):
    """Turn residuals and derivatives into what a descent is given."""

    def evaluate(point):
        residual, jacobian = function(point)
        return residual, jacobian, float(residual @ residual)

    return evaluate


@squares
def valley(point):
    """Rosenbrock's curved valley: minimum 0 at (1, 1)."""
    a, b = point
    return np.array([10.0 * (b - a * a), 1.0 - a]), np.array([[-20.0 * a, 10.0], [-1.0, 0.0]])


def test_the_floor_of_a_curved_valley():
    end = descend(valley, np.array([-1.2, 1.0]), *FREE, size=100.0)
    assert end.converged
    assert end.point == pytest.approx([1.0, 1.0], rel=1e-13)


def test_a_minimum_on_the_bound_of_the_box():
    # With a at most 0.5 the best b is 0.25, and the upper bound holds a.
    end = descend(valley, np.array([-1.2, 1.0]), FREE[0], np.array([0.5, np.inf]), size=100.0)
    assert end.converged
    assert end.point[0] == 0.5
    assert end.point[1] == pytest.approx(0.25, rel=1e-12)
    assert end.slope.free.tolist() == [1]


def test_a_minimum_on_a_lower_bound_is_arrived_at_without_crawling():
    end = descend(valley, np.array([3.0, 1.0]), np.array([1.5, -np.inf]), FREE[1], size=100.0)
    assert end.converged
    assert end.point == pytest.approx([1.5, 2.25], rel=1e-12)
    assert end.slope.free.tolist() == [1]
    assert end.slope.offset < 1e-11


def test_two_parameters_with_one_effect_are_arrived_at():
    x = np.linspace(1.0, 2.0, 9)
    y = 3.0 * x + np.where(np.arange(9) % 2, 0.1, -0.1)

    @squares
    def twice(point):
        return y - (point[0] + point[1]) * x, -np.column_stack([x, x * (1.0 + 1e-12 * np.arange(9))])

    end = descend(twice, np.array([0.0, 0.0]), *FREE, size=float(y @ y))
    assert end.converged
    # The second direction is rounding; what residuals do along it is not held against the point.
    assert end.slope.offset < 1e-11
    assert end.point.sum() == pytest.approx(float(x @ y / (x @ x)), rel=1e-11)


def test_a_start_outside_is_moved_inside():
    end = descend(valley, np.array([7.0, 1.0]), FREE[0], np.array([0.5, np.inf]), size=100.0)
    assert end.point[0] == 0.5


def test_a_trial_that_is_not_finite_is_refused():
    seen = []

    @squares
    def root(point):
        seen.append(float(point[0]))
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.sqrt(point) - 0.001, 0.5 / np.sqrt(point)[:, None]

    # The full step from 1 lands at -0.998, where the root is no number.
    end = descend(root, np.array([1.0]), np.array([-np.inf]), np.array([np.inf]), size=1.0)
    assert min(seen) < 0.0
    assert end.converged
    assert end.point[0] == pytest.approx(1e-6, rel=1e-10)


def test_large_residuals_converge_to_rounding():
    x = np.linspace(0.0, 3.0, 20)
    y = np.exp(-x) + np.where(np.arange(20) % 2, 0.8, -0.8)

    @squares
    def decay(point):
        return y - point[0] * np.exp(-point[1] * x), -np.column_stack([np.exp(-point[1] * x), -point[0] * x * np.exp(-point[1] * x)])

    end = descend(decay, np.array([2.0, 3.0]), *FREE, size=float(y @ y))
    assert end.converged
    assert end.slope.cosine < 1e-11


def test_a_limit_that_is_too_low_says_so():
    assert not descend(valley, np.array([-1.2, 1.0]), *FREE, size=100.0, limit=2).converged
