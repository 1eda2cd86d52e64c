"""Student's t."""

import math

import pytest

from rheokit.statistics.student import chi_square_quantile, fisher_cdf, fisher_quantile, student_cdf, student_quantile


# Exact: one degree of freedom is the Cauchy, two have a closed form, infinitely many are normal.
def test_closed_forms():
    assert student_cdf(1.0, 1.0) == pytest.approx(0.75, rel=1e-14)
    assert student_quantile(0.975, 1.0) == pytest.approx(math.tan(math.pi * 0.475), rel=1e-12)
    assert student_cdf(1.5, 2.0) == pytest.approx(0.5 + 1.5 / (2.0 * math.sqrt(2.0 + 1.5**2)), rel=1e-14)
    assert student_cdf(1.0, math.inf) == pytest.approx(0.5 * (1.0 + math.erf(math.sqrt(0.5))), rel=1e-14)


@pytest.mark.parametrize("freedom", [1.0, 2.5, 27.0, math.inf])
def test_quantile_and_probability_are_inverse(freedom):
    for probability in (0.01, 0.5, 0.9, 0.975):
        assert student_cdf(student_quantile(probability, freedom), freedom) == pytest.approx(probability, rel=1e-10)


def test_what_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="degrees of freedom are positive"):
        student_cdf(1.0, 0.0)
    with pytest.raises(ValueError, match="degrees of freedom are positive"):
        student_quantile(0.5, math.nan)
    with pytest.raises(ValueError, match="between 0 and 1"):
        student_quantile(1.0, 5.0)


def test_distributions_of_variances_have_closed_forms():
    # Exact: two squares are exponential, 1 - exp(-x/2); two over two mean squares have x/(1 + x); one over n is t squared.
    assert chi_square_quantile(0.95, 2.0) == pytest.approx(-2.0 * math.log(0.05), rel=1e-12)
    assert fisher_cdf(3.0, 2.0, 2.0) == pytest.approx(0.75, rel=1e-12)
    assert fisher_quantile(0.75, 2.0, 2.0) == pytest.approx(3.0, rel=1e-10)
    assert fisher_quantile(0.95, 1.0, 7.0) == pytest.approx(student_quantile(0.975, 7.0) ** 2, rel=1e-10)
    assert fisher_quantile(0.95, 3.0, math.inf) == pytest.approx(chi_square_quantile(0.95, 3.0) / 3.0, rel=1e-14)


def test_variances_that_make_no_sense_are_refused():
    with pytest.raises(ValueError, match="infinitely many squares"):
        chi_square_quantile(0.5, math.inf)
    with pytest.raises(ValueError, match="degrees of freedom are positive"):
        fisher_cdf(1.0, 0.0, 3.0)
    with pytest.raises(ValueError, match="between 0 and 1"):
        fisher_quantile(0.0, 2.0, 3.0)
