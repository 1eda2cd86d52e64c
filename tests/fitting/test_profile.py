"""Profile likelihood intervals: exact where the law is linear, those of lmfit where it works, and open or at a bound where it does not."""

import lmfit
import numpy as np
import pytest
from scipy import stats

import rheokit as rk

RATES = np.geomspace(0.1, 100.0, 20)
NOISE = np.random.default_rng(11).standard_normal(20)
STRESS = (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.02 * NOISE)
CURVE = rk.FlowCurve(RATES, STRESS)


@pytest.mark.parametrize("level", [0.5, 0.95, 0.999])
def test_for_a_linear_law_it_is_the_t_interval(level):
    fit = rk.fit_flow_curve(CURVE, "bingham", weighting="absolute")
    for name, estimate in fit.parameters.items():
        half = stats.t.ppf(0.5 + 0.5 * level, 18) * estimate.standard_error
        interval = fit.profile(name, level)
        # The profile of a linear law is the t interval exactly; 1e-7 is what a root of a difference of sums of squares keeps.
        assert (interval.lower, interval.upper) == pytest.approx((estimate.value - half, estimate.value + half), rel=1e-7)
        assert (interval.level, interval.reason) == (level, "")


def test_known_deviations_take_the_normal_quantile():
    fit = rk.fit_flow_curve(CURVE, "bingham", weighting=np.full(20, 2.0), scale="known")
    estimate = fit.parameters["yield_stress"]
    half = stats.norm.ppf(0.975) * estimate.standard_error
    assert fit.profile("yield_stress").upper == pytest.approx(estimate.value + half, rel=1e-7)


@pytest.mark.parametrize(
    ("name", "truth"), [("herschel_bulkley", (30.0, 12.0, 0.4)), ("power_law", (14.0, 0.38)), ("cross", (900.0, 0.8, 4.0, 0.75))]
)
def test_it_is_the_profile_interval_of_lmfit(name, truth):
    law, rates = rk.MODELS[name], np.geomspace(0.01, 300.0, 25)
    stress = law.value(rates, *truth) * (1.0 + 0.02 * np.random.default_rng(3).standard_normal(25))
    fit = rk.fit_law(rates, stress, law, weighting=0.02 * law.value(rates, *truth))
    parameters = lmfit.Parameters()
    for one, value in zip(law.names, fit.values, strict=True):
        parameters.add(one, value=value)
    minimizer = lmfit.Minimizer(lambda at: (law.value(rates, *(at[one].value for one in law.names)) - stress) / fit.deviations, parameters)
    found = lmfit.conf_interval(minimizer, minimizer.minimize(), sigmas=[0.95])
    for one in law.names:
        interval = fit.profile(one)
        # Its search stops when the probability is right to 1e-4 or so, some 5e-4 of the width.
        width = interval.upper - interval.lower
        assert (interval.lower, interval.upper) == pytest.approx((found[one][0][1], found[one][-1][1]), abs=2e-3 * width)


def test_the_ends_are_where_the_fit_is_worse_by_t_squared():
    fit = rk.fit_flow_curve(CURVE, "herschel_bulkley", weighting="absolute")
    for end in (fit.profile("yield_stress").lower, fit.profile("yield_stress").upper):
        held = rk.fit_flow_curve(CURVE, "herschel_bulkley", weighting="absolute", fixed={"yield_stress": end})
        rise = (held.sum_of_squares - fit.sum_of_squares) / fit.spread.scale**2
        assert rise == pytest.approx(stats.t.ppf(0.975, 17) ** 2, rel=1e-6)


def test_it_bends_with_the_law():
    # A yield stress that the rates hardly reach: its profile is longer downwards, and stops at nothing.
    curve = rk.FlowCurve(RATES[6:], STRESS[6:])
    fit = rk.fit_flow_curve(curve, "herschel_bulkley")
    interval = fit.profile("yield_stress")
    value = fit.parameters["yield_stress"].value
    assert 0.0 <= interval.lower < value < interval.upper
    assert value - interval.lower > 1.2 * (interval.upper - value)


def test_at_a_bound_it_is_one_sided():
    stress = 12.0 * RATES**0.4 * (1.0 - 0.02 * (RATES < 1.0) + 0.01 * NOISE)
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), "herschel_bulkley")
    assert fit.parameters["yield_stress"].value == 0.0
    interval = fit.profile("yield_stress")
    assert interval.lower == 0.0
    assert 0.0 < interval.upper < 5.0
    assert interval.reason == "the lower end is the bound 0 Pa"


def test_a_value_inside_whose_bound_the_data_allow_ends_there():
    fit = rk.fit_flow_curve(CURVE, "herschel_bulkley")
    value, usual = fit.parameters["yield_stress"].value, fit.profile("yield_stress")
    bounds = {"yield_stress": (0.5 * (usual.lower + value), 0.5 * (usual.upper + value))}
    narrow = rk.fit_flow_curve(CURVE, "herschel_bulkley", bounds=bounds)
    assert narrow.parameters["yield_stress"].value == pytest.approx(value, rel=1e-9)
    interval = narrow.profile("yield_stress")
    assert (interval.lower, interval.upper) == bounds["yield_stress"]
    assert interval.reason.startswith("the lower end is the bound 29.")
    assert "; the upper end is the bound 31." in interval.reason


def test_an_end_that_the_data_leave_open_is_infinite_and_says_so():
    # A power law alone: any zero-shear viscosity above what was seen does.
    curve = rk.FlowCurve(RATES, 14.0 * RATES**0.4 * (1.0 + 0.01 * NOISE))
    fit = rk.fit_flow_curve(curve, "cross")
    interval = fit.profile("zero_shear_viscosity")
    assert interval.upper == np.inf
    assert "the upper end is open: the data fit about as well however high it is" in interval.reason
    assert np.isfinite(interval.lower)
    # The viscosity at the lowest rate is 14 x 0.1^-0.6 = 56 Pa s: the plateau is not far below that.
    assert interval.lower > 40.0


def test_what_has_no_interval_says_so():
    fit = rk.fit_flow_curve(CURVE, "herschel_bulkley", fixed={"flow_index": 0.4})
    with pytest.raises(rk.FitError, match="flow_index was fixed by the caller"):
        fit.profile("flow_index")
    with pytest.raises(rk.FitError, match="has no parameter 'slope'; it has yield_stress"):
        fit.profile("slope")
    with pytest.raises(rk.FitError, match="does not lie between 0 and 1"):
        fit.profile("consistency", 95)
    perfect = rk.fit_flow_curve(rk.FlowCurve(RATES, 3.0 + RATES), "bingham")
    with pytest.raises(rk.FitError, match="has no intervals: the points lie on the curve"):
        perfect.profile("yield_stress")


@pytest.mark.parametrize("name", rk.MODELS)
def test_at_every_end_of_every_model_the_fit_is_worse_by_t_squared(name):
    fit = rk.fit_flow_curve(CURVE, name, weighting="absolute")
    expected = stats.t.ppf(0.975, fit.degrees_of_freedom) ** 2
    for parameter in fit.law.names:
        interval = fit.profile(parameter)
        assert interval.lower <= fit.parameters[parameter].value <= interval.upper
        assert interval.lower < interval.upper
        bounds = fit.law.parameter(parameter)
        for end in {interval.lower, interval.upper} - {bounds.lower, bounds.upper, np.inf}:
            # Fitted anew, begun by the law's own guess: it must not be found nearer to the best fit, nor farther.
            held = rk.fit_flow_curve(CURVE, name, weighting="absolute", fixed={parameter: end})
            rise = (held.sum_of_squares - fit.sum_of_squares) / fit.spread.scale**2
            assert rise == pytest.approx(expected, rel=1e-5)
