"""The power law of a gellant: exponent and interval by construction and against an independent library."""

from __future__ import annotations

import numpy as np
import pytest

from rheokit.base.errors import ComparisonError, FitError, RangeError
from rheokit.base.estimate import Condition, Estimate
from rheokit.comparison.gellant import GELLANT_POWER_LAW, fit_gellant

C = np.array([2.6, 2.8, 3.0, 3.3, 3.6])


def series(values, **conditions):
    held = {key: Condition(value=value) for key, value in conditions.items()}
    return [
        Estimate(name="yield_stress", value=y, unit="Pa", standard_error=1.0, degrees_of_freedom=9.0, method="m", conditions=held)
        for y in values
    ]


def noisy(scatter, seed=3):
    return 130.0 * (C / 3.0) ** 4.0 * np.exp(scatter * np.random.default_rng(seed).standard_normal(C.size))


def test_logarithmic_weighting_is_the_line_of_an_independent_library():
    api = pytest.importorskip("statsmodels.api")
    y = noisy(0.05)
    found = fit_gellant(C, series(y), weighting="logarithmic")
    theirs = api.OLS(np.log(y), api.add_constant(np.log(C))).fit()
    assert found.exponent.value == pytest.approx(theirs.params[1], rel=1e-9)
    assert found.exponent.standard_error == pytest.approx(theirs.bse[1], rel=1e-9)
    low, high = theirs.conf_int(0.05)[1]
    assert (found.exponent.interval.lower, found.exponent.interval.upper) == pytest.approx((low, high), rel=1e-9)


@pytest.mark.parametrize("weighting", ["relative", "logarithmic"])
def test_an_almost_exact_law_comes_back(weighting):
    found = fit_gellant(C, series(noisy(1e-5)), weighting=weighting)
    assert found.exponent.value == pytest.approx(4.0, abs=1e-3)  # ten times 1e-5 over the spread 0.12 of ln c
    assert found.predict(3.0, new_run=False).value == pytest.approx(130.0, rel=1e-4)
    assert found.exponent.interval.lower < 4.0 < found.exponent.interval.upper


def test_both_weightings_agree_where_scatter_is_small():
    one, other = (fit_gellant(C, series(noisy(0.01)), weighting=way) for way in ("relative", "logarithmic"))
    # Relative residuals and logarithms differ by half the square of the scatter, 5e-5; over the spread 0.12 that is 1e-3 at most.
    assert one.exponent.value == pytest.approx(other.exponent.value, abs=2e-3)
    assert one.exponent.standard_error == pytest.approx(other.exponent.standard_error, rel=0.03)


def test_the_derivatives_are_those_of_a_complex_step():
    share, step = C / 3.0, 1e-30
    by_step = [
        np.imag(GELLANT_POWER_LAW.value(share, 130.0 + 1j * step, 4.0)) / step,
        np.imag(GELLANT_POWER_LAW.value(share, 130.0, 4.0 + 1j * step)) / step,
    ]
    np.testing.assert_allclose(GELLANT_POWER_LAW.jacobian(share, 130.0, 4.0), np.column_stack(by_step), rtol=1e-14)


def test_nothing_is_said_outside_the_series():
    found = fit_gellant(C, series(noisy(0.05)))
    with pytest.raises(RangeError, match=r"^4\.000 wt % lies outside the 2\.600 to 3\.600 wt % that was tried$"):
        found.predict(4.0)
    wide, narrow = found.predict(3.1).interval, found.predict(3.1, new_run=False).interval
    assert wide.lower < narrow.lower < narrow.upper < wide.upper
    assert "95 % interval of the exponent" in str(found)


def test_too_little_is_refused():
    with pytest.raises(FitError, match=r"^2 different amounts; an exponent with its interval needs 3 or more$"):
        fit_gellant([2.0, 2.0, 3.0], series([1.0, 2.0, 3.0]))
    with pytest.raises(FitError, match=r"^5 amounts and 2 responses"):
        fit_gellant(C, series([1.0, 2.0]))
    with pytest.raises(FitError, match=r"is no weighting of a gellant law"):
        fit_gellant(C, series(noisy(0.05)), weighting="absolute")
    other = [*series(noisy(0.05)[:4], law="casson"), *series([1.0], law="bingham")]
    with pytest.raises(ComparisonError, match="the condition law differs"):
        fit_gellant(C, other)


def test_the_figure_names_its_axes():
    ax = fit_gellant(C, series(noisy(0.05))).plot()
    assert ax.get_xlabel() == "gellant, c / wt %"
    assert ax.get_ylabel() == "yield stress / Pa"
    assert any("exponent" in text.get_text() for text in ax.texts)
