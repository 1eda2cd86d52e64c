"""Linear least squares inside a box."""

import numpy as np
import pytest
from scipy.optimize import lsq_linear

from rheokit.fitting.linear import box_least_squares


@pytest.mark.parametrize("count", [1, 2, 3])
@pytest.mark.parametrize(
    ("lower", "upper"), [(-np.inf, np.inf), (0.0, np.inf), (-0.2, 0.3), (-np.inf, 0.1)], ids=["free", "not negative", "box", "below"]
)
def test_it_is_the_optimum_that_another_program_finds(count, lower, upper):
    generator = np.random.default_rng(count)
    columns, target = generator.standard_normal((40, 12, count)), generator.standard_normal((40, 12))
    bounds = np.full(count, lower), np.full(count, upper)
    found, residual = box_least_squares(columns, target, *bounds)
    for one in range(40):
        other = lsq_linear(columns[one], target[one], (lower, upper), tol=1e-14)
        # The other program iterates to about 1e-8 in the coefficients, where the sum of squares is flat.
        assert found[one] == pytest.approx(other.x, abs=1e-6)
        assert residual[one] @ residual[one] <= 2.0 * other.cost * (1.0 + 1e-12)
        assert residual[one] == pytest.approx(target[one] - columns[one] @ found[one], abs=1e-13)


def test_a_repeated_column_gets_nothing():
    x = np.arange(1.0, 6.0)
    found, residual = box_least_squares(np.stack([x, 2.0 * x], axis=-1)[None], 3.0 * x[None], np.zeros(2), np.full(2, np.inf))
    assert found[0] == pytest.approx([3.0, 0.0], abs=1e-14)
    assert np.abs(residual).max() < 1e-14


def test_columns_of_sizes_twelve_decades_apart():
    x = np.linspace(1.0, 2.0, 9)
    columns = np.stack([1e12 * np.ones(9), 1e-12 * x], axis=-1)[None]
    found, _ = box_least_squares(columns, (3.0 + 2.0 * x)[None], np.zeros(2), np.full(2, np.inf))
    assert found[0] == pytest.approx([3e-12, 2e12], rel=1e-13)


def test_no_columns_leave_the_target():
    target = np.ones((2, 3))
    found, residual = box_least_squares(np.zeros((2, 3, 0)), target, np.zeros(0), np.zeros(0))
    assert found.shape == (2, 0)
    assert np.array_equal(residual, target)
