"""What the data do not determine is said in plain words, by limits fixed beforehand."""

import numpy as np
import pytest

import rheokit as rk
from rheokit.fitting import identify
from rheokit.fitting.identify import extrapolation

RATES = np.geomspace(0.1, 100.0, 20)
NOISE = np.random.default_rng(11).standard_normal(20)


def checks(fit):
    return {finding.check: finding for finding in fit.findings}


def cross(rates, *values):
    return rk.MODELS["cross"].value(rates, *values)


def test_the_limits_are_those_of_their_arguments():
    # Frozen: whoever moves one says why, here and there.
    limits = (identify.FEW, identify.TWINS, identify.LOOSE, identify.REACHED, identify.SEEN, identify.FAR, identify.DOUBT)
    assert limits == (3, 0.99, 0.1, 0.5, 0.1, 0.5, 2.0)
    assert 1.0 / np.sqrt(1.0 - identify.TWINS**2) == pytest.approx(7.1, abs=0.05)
    assert 1.0 / np.sqrt(2.0 * 2.0) == 0.5


def test_a_plateau_that_was_not_reached_is_not_determined():
    # The low plateau of 5000 Pa s begins below 1e-3 1/s; the lowest point, at 0.1 1/s, is a factor of twenty below it.
    stress = cross(RATES, 5000.0, 0.4, 200.0, 0.8) * (1.0 + 0.003 * NOISE)
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), "cross")
    estimate = fit.parameters["zero_shear_viscosity"]
    assert not estimate.determined
    assert estimate.reason.startswith("its plateau lies beyond the measured range: at the lowest rate, 0.1000 1/s, the viscosity is ")
    seen = float(estimate.reason.split("viscosity is ")[1].split(" Pa")[0])
    assert seen == pytest.approx(cross(np.array([0.1]), 5000.0, 0.4, 200.0, 0.8)[0] / 0.1, rel=0.02)
    assert fit.parameters["infinite_shear_viscosity"].determined
    assert np.isfinite(fit.band(RATES).upper).all()


def test_a_plateau_of_which_a_part_was_reached_is_determined_and_said():
    stress = cross(RATES, 100.0, 0.4, 20.0, 0.8) * (1.0 + 0.003 * NOISE)
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), "cross")
    assert fit.parameters["zero_shear_viscosity"].determined
    finding = checks(fit)["plateau_outside_range"]
    assert finding.source == "zero_shear_viscosity"
    assert identify.SEEN < finding.value < identify.REACHED


def test_a_plateau_that_noise_alone_may_have_made_is_not_determined():
    # The high plateau of 0.1 Pa s is a hundredth of the viscosity at the last rate; a fit to noisy points may well find a fifth of it.
    rates = np.geomspace(0.1, 100.0, 16)
    stresses = cross(rates, 900.0, 0.1, 4.0, 0.75) * (1.0 + 0.05 * np.random.default_rng(3).standard_normal((40, 16)))
    many, index = rk.fit_many(rates, stresses, "cross"), 1
    share = many.values[:, index] * rates[-1] / stresses[:, -1]
    found = np.flatnonzero(share > 1.5 * identify.SEEN)
    assert found.size == 4
    assert not many.determined[found, index].any()
    estimate = many[int(found[0])].parameters["infinite_shear_viscosity"]
    assert estimate.reason.startswith(
        "its plateau may lie beyond the measured range within two of its standard errors: at the highest rate"
    )


def test_a_plateau_that_was_seen_is_not_spoken_of():
    rates = np.geomspace(1e-3, 1e5, 30)
    stress = cross(rates, 100.0, 0.4, 2.0, 0.8) * (1.0 + 0.003 * np.random.default_rng(1).standard_normal(30))
    fit = rk.fit_flow_curve(rk.FlowCurve(rates, stress), "cross")
    assert fit.findings == ()
    assert all(estimate.determined for estimate in fit.parameters.values())


def test_twins_are_named_with_what_the_two_determine():
    # Rates over a quarter of a decade: yield stress and consistency are one number there.
    rates = np.geomspace(20.0, 36.0, 20)
    stress = (30.0 + 12.0 * rates**0.5) * (1.0 + 1e-3 * NOISE)
    fit = rk.fit_flow_curve(rk.FlowCurve(rates, stress), "herschel_bulkley")
    finding = checks(fit)["parameters_hardly_told_apart"]
    assert finding.value > identify.TWINS
    assert "hardly told apart" in str(finding)
    # What is said to be determined is so: the combination of the true values lies within a few of its standard errors.
    words = str(finding).split("what the data determine is ")[1]
    left, right = words.split(" = ")
    weight = float(left.split(" × ")[0].split(" ")[-1]) * (1.0 if " + " in left else -1.0)
    first, second = (name.replace(" ", "_") for name in (left.split(" + ")[0].split(" − ")[0], left.split(" × ")[1]))
    index = [fit.law.names.index(first), fit.law.names.index(second)]
    variance = fit.covariance[np.ix_(index, index)]
    error = np.sqrt(np.array([1.0, weight]) @ variance @ np.array([1.0, weight]))
    assert float(right.split("standard error ")[1].split(" ")[0]) == pytest.approx(error, rel=0.1)
    assert error < 0.15 * np.sqrt(variance[0, 0])
    # No other weight does better.
    for other in (0.99 * weight, 1.01 * weight):
        assert error < np.sqrt(np.array([1.0, other]) @ variance @ np.array([1.0, other]))


def test_correlated_parameters_that_are_good_enough_are_left_alone():
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.001 * NOISE)), "herschel_bulkley")
    assert fit.findings == ()


def test_few_points_are_said():
    rates = np.array([1.0, 4.0, 16.0, 64.0])
    fit = rk.fit_flow_curve(rk.FlowCurve(rates, 10.0 + 3.0 * rates**0.5 * (1.0 + 0.01 * NOISE[:4])), "herschel_bulkley")
    assert str(checks(fit)["few_points"]).startswith("1 degree of freedom left: the standard errors are themselves uncertain by 71 %")
    assert "few_points" not in checks(rk.fit_flow_curve(rk.FlowCurve(rates, 10.0 + 3.0 * rates), "newtonian"))


@pytest.mark.parametrize(
    ("at", "severity", "words"),
    [
        ([1.0, 1000.0], "caution", "reaches 1.0 decades beyond the measured range 0.1000 to 100.0"),
        ([0.05, 1.0], "info", "reaches 0.30 decades beyond"),
        ([0.0, 1.0], "caution", "reaches to zero, beyond"),
    ],
)
def test_a_band_beyond_the_data_says_how_far(at, severity, words):
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.01 * NOISE)), "herschel_bulkley")
    (finding,) = fit.band(at).findings
    assert finding.severity == severity
    assert words in str(finding)
    assert fit.prediction_band(at).findings == (finding,)
    assert fit.band(RATES).findings == ()


def test_where_x_may_be_negative_the_range_is_the_measure():
    (finding,) = extrapolation(np.array([-1.0, 1.0]), np.array([2.0]))
    assert str(finding).startswith("reaches 0.50 times its width beyond the measured range -1.000 to 1.000")
    assert extrapolation(np.zeros((3, 2)), np.zeros((1, 2))) == ()
