"""Small systems for many curves, against numpy and another program, one curve at a time."""

import numpy as np
import pytest
from scipy.optimize import lsq_linear

from rheokit.fitting.many_algebra import Factored, bounded, form, inner, nonnegative_reduction
from rheokit.fitting.many_unseen import decompose

CURVES = 40


def systems(count, seed=0):
    """Return Gram matrices (k, k, B), right sides (k, B) and the columns (B, 9, k) and targets (B, 9) that they belong to."""
    generator = np.random.default_rng(seed)
    columns, target = generator.standard_normal((CURVES, 9, count)), generator.standard_normal((CURVES, 9))
    return np.einsum("bmi,bmj->ijb", columns, columns), np.einsum("bmi,bm->ib", columns, target), columns, target


@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_solution_and_inverse(count):
    gram, right, _, _ = systems(count)
    factored = Factored(gram)
    solution, rows = np.array(factored.solve(right)), factored.inverse_rows()
    for curve in range(CURVES):
        # Nine random rows make systems of condition below 1e4.
        assert solution[:, curve] == pytest.approx(np.linalg.solve(gram[:, :, curve], right[:, curve]), rel=1e-9, abs=1e-11)
        inverse = np.linalg.inv(gram[:, :, curve])
        for i, row in enumerate(rows):
            assert [entry[curve] for entry in row] == pytest.approx(inverse[i, : i + 1], rel=1e-9, abs=1e-11)


def test_an_unknown_that_repeats_another_gets_nothing():
    gram, right = np.ones((2, 2, 3)), np.array([[2.0, 3.0, 4.0]] * 2)
    factored = Factored(gram)
    assert np.array_equal(np.array(factored.solve(right)), [[2.0, 3.0, 4.0], [0.0, 0.0, 0.0]])
    assert np.isinf(factored.inverse_rows()[1][1]).all()


@pytest.mark.parametrize("count", [1, 2, 3])
@pytest.mark.parametrize(("lower", "upper"), [(0.0, np.inf), (-0.2, 0.3), (-np.inf, 0.1)], ids=["not negative", "box", "below"])
def test_coefficients_in_a_box_are_those_of_another_program(count, lower, upper):
    gram, right, columns, target = systems(count, seed=count)
    ends = [np.full(CURVES, lower)] * count, [np.full(CURVES, upper)] * count
    found = np.array(bounded(Factored(gram), gram, right, *ends))
    cost = form(gram, right, found)
    for curve in range(CURVES):
        other = lsq_linear(columns[curve], target[curve], (lower, upper), tol=1e-14)
        # The other program iterates to about 1e-8 in the coefficients, where the sum of squares is flat.
        assert found[:, curve] == pytest.approx(other.x, abs=1e-6)
        assert cost[curve] <= 2.0 * other.cost - target[curve] @ target[curve] + 1e-12


@pytest.mark.parametrize("count", [1, 2])
def test_the_gain_of_coefficients_that_are_not_negative(count):
    gram, right, _, _ = systems(count, seed=7)
    ends = [np.zeros(CURVES)] * count, [np.full(CURVES, np.inf)] * count
    best = form(gram, right, bounded(Factored(gram), gram, right, *ends))
    assert nonnegative_reduction(gram, right) == pytest.approx(-best, rel=1e-10, abs=1e-12)


def test_inner():
    first, second = np.arange(6.0).reshape(2, 3), np.arange(6.0, 12.0).reshape(2, 3)
    assert np.array_equal(inner(first, second), (first * second).sum(axis=0))


def test_directions_that_are_not_seen():
    x = np.linspace(1.0, 2.0, 9)
    pair = np.stack([x, 3.0 * x, np.ones(9)], axis=1)
    free = np.stack([x, x**2, np.ones(9)], axis=1)
    residual = np.stack([x**3, x**3], axis=1)
    step, covariance, along, hidden = decompose(np.stack([pair, free]), residual)
    assert hidden.T.tolist() == [[True, True, False], [False, False, False]]
    expected, rest, _, _ = np.linalg.lstsq(free, x**3, rcond=None)
    assert step[:, 1] == pytest.approx(expected, rel=1e-9)
    # The condition of these columns is some hundred, squared in the covariance.
    assert covariance[:, :, 1] == pytest.approx(np.linalg.inv(free.T @ free), rel=1e-8)
    assert along[1] == pytest.approx(x**3 @ x**3 - rest[0], rel=1e-12)
    # What is seen of the pair, and the third parameter, are as if the pair were one.
    single = np.linalg.inv(pair[:, [0, 2]].T @ pair[:, [0, 2]])
    assert covariance[2, 2, 0] == pytest.approx(single[1, 1], rel=1e-10)
