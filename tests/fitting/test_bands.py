"""Bands: for the curve, and the wider one for a new point."""

import pickle

import numpy as np
import pytest
from scipy import stats

import rheokit as rk

RATES = np.geomspace(0.1, 100.0, 20)
NOISE = np.random.default_rng(11).standard_normal(20)
FIT = rk.fit_flow_curve(rk.FlowCurve(RATES, (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.01 * NOISE)), "herschel_bulkley")


def test_the_prediction_band_of_a_line_is_the_textbook_one():
    x = np.linspace(1.0, 9.0, 12)
    y = 3.0 + 2.0 * x + 0.3 * np.random.default_rng(4).standard_normal(12)
    fit = rk.fit_law(x, y, rk.MODELS["bingham"])
    at = np.array([0.5, 5.0, 20.0])
    spread = ((x - x.mean()) ** 2).sum()
    # Textbook: the variance of a new point is that of the line plus one more.
    error = np.sqrt((fit.residuals @ fit.residuals) / 10.0 * (1.0 + 1.0 / 12.0 + (at - x.mean()) ** 2 / spread))
    band = fit.prediction_band(at, 0.9)
    assert band.upper - fit.value(at) == pytest.approx(stats.t.ppf(0.95, 10) * error, rel=1e-9)
    assert band.level == 0.9


def test_relative_deviations_widen_it_with_the_stress():
    inner, outer = FIT.band(RATES), FIT.prediction_band(RATES)
    assert (outer.upper > inner.upper).all()
    scatter = np.sqrt((outer.upper - FIT.stress(RATES)) ** 2 - (inner.upper - FIT.stress(RATES)) ** 2)
    assert scatter == pytest.approx(stats.t.ppf(0.975, 17) * FIT.spread.scale * FIT.stress(RATES), rel=1e-9)


def test_a_deviation_given_for_the_points_is_asked_for_the_new_one():
    stress = (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.01 * NOISE)
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), "bingham", weighting=0.01 * stress)
    with pytest.raises(rk.FitError, match=r"say with deviation=\.\.\. what that of a new point is"):
        fit.prediction_band([1.0])
    with pytest.raises(rk.FitError, match="a standard deviation is a positive number"):
        fit.prediction_band([1.0], deviation=0.0)
    wide = fit.prediction_band([1.0, 2.0], deviation=[3.0, 4.0])
    inner = fit.band([1.0, 2.0])
    times = stats.t.ppf(0.975, 18)
    assert (wide.upper - fit.stress([1.0, 2.0])) ** 2 - (inner.upper - fit.stress([1.0, 2.0])) ** 2 == pytest.approx(
        (times * np.array([3.0, 4.0])) ** 2, rel=1e-9
    )


@pytest.mark.parametrize(("factor", "covers"), [(1.0, True), (1.3, False)], ids=["as it is", "half widths divided by 1.3"])
def test_new_points_fall_into_it_as_often_as_it_says(factor, covers):
    law, truth, generator, repeats = rk.MODELS["herschel_bulkley"], (60.0, 14.0, 0.5), np.random.default_rng(21), 400
    exact, inside = law.value(RATES, *truth), 0
    for _ in range(repeats):
        fit = rk.fit_flow_curve(rk.FlowCurve(RATES, exact * (1.0 + 0.03 * generator.standard_normal(20))), law)
        new = law.value(np.array([30.0]), *truth) * (1.0 + 0.03 * generator.standard_normal())
        half = (fit.prediction_band([30.0]).upper - fit.stress([30.0])) / factor
        inside += int(abs(new - fit.stress([30.0]))[0] <= half[0])
    lowest, highest = stats.binom.ppf([0.0005, 0.9995], repeats, 0.95)
    assert (lowest <= inside <= highest) == covers


def test_a_band_is_two_edges_that_travel():
    band = FIT.band(RATES)
    lower, upper = band
    assert lower is band.lower
    assert upper is band.upper
    back = pickle.loads(pickle.dumps(band))
    assert np.array_equal(back.lower, band.lower)
    assert not back.lower.flags.writeable
