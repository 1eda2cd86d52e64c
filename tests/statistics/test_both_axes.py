"""A line with errors in both axes: the published example, an independent solver, exact cases."""

import math
import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference_data import reference

from rheokit.base.errors import FitError
from rheokit.statistics.both_axes import line_of_both

PEARSON = reference("line_with_errors_in_both")


def pearson():
    return (
        np.array(PEARSON["x"]),
        np.array(PEARSON["y"]),
        np.array(PEARSON["x_weight"]) ** -0.5,
        np.array(PEARSON["y_weight"]) ** -0.5,
    )


def by_distances(x, y, x_error, y_error, start):
    """Slope and intercept with their errors, by scipy's orthogonal distance regression."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # scipy 1.17 announces its end; while it is there it is independent
        odr = pytest.importorskip("scipy.odr")
    data = odr.RealData(x, y, x_error, y_error)
    model = odr.Model(lambda held, at: held[0] + held[1] * at)
    found = odr.ODR(data, model, beta0=start, sstol=1e-15, partol=1e-15, maxit=500).run()
    return found.beta, np.sqrt(np.diag(found.cov_beta)), found.sum_square


def test_the_published_example():
    line = line_of_both(*pearson())
    # Half of the last digit given.
    assert line.slope == pytest.approx(PEARSON["slope"], abs=0.5e-8)
    assert line.intercept == pytest.approx(PEARSON["intercept"], abs=0.5e-7)
    assert math.sqrt(line.slope_variance) == pytest.approx(PEARSON["slope_error"], abs=0.5e-4)
    assert math.sqrt(line.variance_at(0.0)) == pytest.approx(PEARSON["intercept_error"], abs=0.5e-4)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_an_independent_solver_agrees(seed):
    generator = np.random.default_rng(seed)
    true = generator.uniform(1.0, 9.0, 14)
    x_error, y_error = generator.uniform(0.05, 0.3, 14), generator.uniform(0.05, 0.3, 14)
    x, y = true + x_error * generator.standard_normal(14), 0.4 + 1.1 * true + y_error * generator.standard_normal(14)
    line = line_of_both(x, y, x_error, y_error)
    (intercept, slope), errors, squares = by_distances(x, y, x_error, y_error, [0.4, 1.1])
    # Its search stops at a relative change of some 1e-8 of the squares, 1e-4 of that in parameters' standard errors.
    assert line.slope == pytest.approx(slope, abs=1e-3 * errors[1])
    assert line.intercept == pytest.approx(intercept, abs=1e-3 * errors[0])
    assert line.sum_of_squares == pytest.approx(squares, rel=1e-6)
    # It takes its variances at the measured places, we at the adjusted ones; they differ by the errors over the span, squared.
    assert math.sqrt(line.slope_variance) == pytest.approx(errors[1], rel=0.01)
    assert math.sqrt(line.variance_at(0.0)) == pytest.approx(errors[0], rel=0.01)


def test_equal_errors_are_demings_closed_form():
    # Exact: for one ratio of variances d the slope is (syy - d sxx + sqrt((syy - d sxx)² + 4 d sxy²)) / (2 sxy).
    x, y = np.array([0.0, 1.0, 2.0, 3.0, 5.0]), np.array([0.2, 0.9, 2.3, 2.8, 5.3])
    sxx, syy, sxy = np.cov(x, y)[0, 0], np.cov(x, y)[1, 1], np.cov(x, y)[0, 1]
    for ratio in (0.25, 1.0, 9.0):
        slope = (syy - ratio * sxx + math.sqrt((syy - ratio * sxx) ** 2 + 4.0 * ratio * sxy**2)) / (2.0 * sxy)
        line = line_of_both(x, y, np.ones(5), np.full(5, math.sqrt(ratio)))
        assert line.slope == pytest.approx(slope, rel=1e-12)
        assert line.intercept == pytest.approx(y.mean() - slope * x.mean(), abs=1e-12)


def test_without_an_error_in_x_it_is_weighted_least_squares():
    x, y, error = np.arange(6.0), np.array([0.1, 1.2, 1.9, 3.2, 3.9, 5.1]), np.array([0.1, 0.2, 0.1, 0.3, 0.1, 0.2])
    line = line_of_both(x, y, np.full(6, 1e-9), error)
    (slope, intercept), covariance = np.polyfit(x, y, 1, w=1.0 / error, cov="unscaled")
    assert (line.slope, line.intercept) == (pytest.approx(slope, rel=1e-9), pytest.approx(intercept, rel=1e-9))
    assert line.slope_variance == pytest.approx(covariance[0, 0], rel=1e-9)
    assert line.variance_at(0.0) == pytest.approx(covariance[1, 1], rel=1e-9)


ERRORS = st.lists(st.floats(0.02, 0.2), min_size=8, max_size=8)


@given(x_error=ERRORS, y_error=ERRORS, seed=st.integers(0, 99), factor=st.sampled_from([1e-8, 1e8]))
def test_axes_and_units_may_be_exchanged(x_error, y_error, seed, factor):
    generator = np.random.default_rng(seed)
    x = np.arange(8.0) + 0.1 * generator.standard_normal(8)
    y = 0.5 + 0.9 * np.arange(8.0) + 0.1 * generator.standard_normal(8)
    one = line_of_both(x, y, np.array(x_error), np.array(y_error))
    other = line_of_both(y, x, np.array(y_error), np.array(x_error))
    assert other.slope == pytest.approx(1.0 / one.slope, rel=1e-9)
    assert other.sum_of_squares == pytest.approx(one.sum_of_squares, rel=1e-8)
    scaled = line_of_both(factor * x, y, factor * np.array(x_error), np.array(y_error))
    assert scaled.slope == pytest.approx(one.slope / factor, rel=1e-9)
    assert scaled.intercept == pytest.approx(one.intercept, abs=1e-9)


def test_points_that_make_no_line_are_refused():
    ones = np.ones(4)
    with pytest.raises(FitError, match="along an axis; batches that differ are needed"):
        line_of_both(ones, np.arange(4.0), ones, ones)
    with pytest.raises(FitError, match="do not rise or fall with each other"):
        line_of_both(np.array([0.0, 1.0, 0.0, 1.0]), np.array([0.0, 0.0, 1.0, 1.0]), ones, ones)
