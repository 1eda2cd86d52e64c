"""The objective behind relative weights."""

import numpy as np
import pytest

from rheokit.fitting.weighting import Weighting


@pytest.mark.parametrize("floor", [0.0, 3.0])
def test_its_slope_is_that_of_least_squares_with_settled_deviations(floor):
    weighting = Weighting(kind="relative", floor=floor)
    y, fitted, step = np.array([5.0, 9.0, 30.0, 2.0]), np.array([6.0, 8.0, 33.0, 1.0]), 1e-6
    for index in range(4):
        moved = np.eye(4)[index] * step
        rise = weighting.cost(y, fitted + moved, y) - weighting.cost(y, fitted - moved, y)
        slope = -2.0 * (y[index] - fitted[index]) / (fitted[index] ** 2 + floor**2)
        assert rise / (2.0 * step) == pytest.approx(slope, rel=1e-8)  # central differences: step squared and rounding over step


@pytest.mark.parametrize("floor", [0.0, 3.0])
def test_near_the_points_it_is_the_sum_of_squares(floor):
    weighting = Weighting(kind="relative", floor=floor)
    y = np.array([5.0, 9.0, 30.0])
    fitted = y * (1.0 + 1e-5 * np.array([1.0, -2.0, 1.5]))
    weighted = (y - fitted) / weighting.of_fit(fitted)
    assert weighting.cost(y, fitted, weighted) == pytest.approx(weighted @ weighted, rel=1e-4)  # next order: the residuals themselves
    assert weighting.cost(y, y, 0.0 * y) == 0.0


def test_a_small_floor_is_no_floor():
    y, fitted = np.array([5.0, 9.0, 30.0]), np.array([6.0, 8.0, 33.0])
    small, none = (Weighting(kind="relative", floor=floor).cost(y, fitted, y) for floor in (1e-6, 0.0))
    assert small == pytest.approx(none, rel=1e-9)


def test_the_start_passes_over_a_stray_point_whatever_the_order():
    weighting = Weighting(kind="relative")
    x, y = np.arange(6.0), np.array([10.0, 11.0, -5.0, 1e-9, 14.0, 15.0])
    first = weighting.first(x, y)
    assert (first > 0.0).all()
    order = np.array([3, 0, 5, 1, 4, 2])
    assert np.array_equal(weighting.first(x[order], y[order]), first[order])
    lone = np.array([10.0, 11.0, 1e-9, 13.0, 14.0, 15.0])
    assert weighting.first(x, lone)[2] == 11.0
