"""Reported intervals of parameters: exact where the law is linear, also beside a parameter at its bound, and the same for many curves."""

import numpy as np
import pytest
from fitting.many_curves import RATES as MANY_RATES
from fitting.many_curves import TRUTH, curves
from scipy import stats

import rheokit as rk

RATES = np.geomspace(0.1, 100.0, 20)
NOISE = np.random.default_rng(11).standard_normal(20)


def bingham(yield_stress, bounds=None, weighting="absolute"):
    stress = yield_stress + 2.0 * RATES + 0.5 * NOISE
    return rk.fit_flow_curve(rk.FlowCurve(RATES, stress), "bingham", weighting=weighting, bounds=bounds)


@pytest.mark.parametrize("level", [0.5, 0.95, 0.999])
def test_without_a_bound_it_is_students_t_on_the_scale_of_the_parameter(level):
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.02 * NOISE)), "herschel_bulkley")
    for name, estimate in fit.parameters.items():
        half, interval = stats.t.ppf(0.5 + 0.5 * level, 17) * estimate.standard_error, fit.interval(name, level)
        ends = estimate.value - half, estimate.value + half
        if name == "consistency":
            ends = tuple(estimate.value * np.exp(side * half / estimate.value) for side in (-1.0, 1.0))
        assert (interval.lower, interval.upper) == pytest.approx(ends, rel=1e-12)
        assert (interval.level, interval.reason) == (level, "")


def test_known_deviations_take_the_normal_quantile():
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, 30.0 + RATES + NOISE), "bingham", weighting=np.full(20, 2.0), scale="known")
    estimate = fit.parameters["yield_stress"]
    half = stats.norm.ppf(0.975) * estimate.standard_error
    assert fit.interval("yield_stress").upper == pytest.approx(estimate.value + half, rel=1e-12)


def test_it_ends_at_a_bound_and_says_so():
    interval = bingham(0.1).interval("yield_stress")
    assert interval.lower == 0.0
    assert interval.upper > 0.1
    assert interval.reason == "the lower end is the bound 0 Pa"


@pytest.mark.parametrize(("yield_stress", "bounds"), [(-0.1, None), (-1.0, None), (0.6, {"yield_stress": (0.0, 0.65)})])
def test_beside_a_parameter_at_its_bound_it_is_the_profile_interval_of_a_linear_law(yield_stress, bounds):
    # Exact by construction: squares of a linear law with a bound are a parabola up to where the bound is left, and another beyond.
    # Where the bound is pressed against hard, none of the two is met inside the interval, and it is Student's t.
    fit = bingham(yield_stress, bounds)
    assert fit.parameters["yield_stress"].value == (bounds["yield_stress"][1] if bounds else 0.0)
    interval, profile = fit.interval("plastic_viscosity"), fit.profile("plastic_viscosity")
    assert (interval.lower, interval.upper) == pytest.approx((profile.lower, profile.upper), rel=1e-7)
    estimate = fit.parameters["plastic_viscosity"]
    half = stats.t.ppf(0.975, 18) * estimate.standard_error
    wider = max(estimate.value - interval.lower, interval.upper - estimate.value) / half
    assert (wider > 1.05) == (yield_stress != -1.0)


def test_what_a_parameter_at_its_bound_makes_up_for_wholly_is_open():
    parameters = (rk.Parameter("one", unit="Pa·s"), rk.Parameter("other", unit="Pa·s", lower=0.0, upper=1.0))
    law = rk.Law(
        name="twice_the_same", parameters=parameters, value=lambda x, one, other: (one + other) * x,
        jacobian=lambda x, one, other: np.stack([x, x], axis=-1) + 0.0 * (one + other),
    )  # fmt: skip
    fit = rk.fit_law(RATES, 2.0 * RATES + 0.5 * NOISE, law, start={"one": 5.0, "other": 0.0}, other_solvers=False)
    assert fit.parameters["other"].value == 0.0
    interval = fit.interval("one")
    assert interval.lower == -np.inf
    assert interval.reason == "the lower end is open: other, at its bound, makes up for it"


@pytest.mark.parametrize("name", TRUTH)
def test_many_curves_have_the_same_intervals_as_each_alone(name):
    stresses, _ = curves(name, 12, noise=0.05)
    many = rk.fit_many(MANY_RATES, stresses, name)
    lower, upper = many.intervals(0.9)
    for index in range(12):
        fit = many[index]
        for place, (parameter, estimate) in enumerate(fit.parameters.items()):
            if estimate.standard_error is None:
                assert np.isnan(lower[index, place])
                assert np.isnan(upper[index, place])
                continue
            held = fit.interval(parameter, 0.9)
            # The best fits agree to 1e-5 of a standard error, and so do the errors.
            assert (lower[index, place], upper[index, place]) == pytest.approx((held.lower, held.upper), abs=1e-4 * estimate.standard_error)


def test_many_curves_with_a_parameter_at_its_bound_have_wider_intervals():
    rates = np.geomspace(0.1, 100.0, 16)
    stresses = 12.0 * rates**0.45 * (1.0 + 0.03 * np.random.default_rng(2).standard_normal((20, 16)))
    many = rk.fit_many(rates, stresses, "herschel_bulkley")
    lower, upper = many.intervals()
    at_bound = many.values[:, 0] == 0.0
    assert 3 < at_bound.sum() < 17
    plain = 2.0 * stats.t.ppf(0.975, 13) * many.errors[:, 2]
    wider = (upper - lower)[:, 2] / plain
    assert wider[~at_bound] == pytest.approx(np.ones(np.count_nonzero(~at_bound)))
    assert wider[at_bound].max() > 1.2
    assert wider[at_bound].min() >= 1.0 - 1e-4


def test_fixed_values_and_bounds_of_the_caller_hold_for_many():
    stresses, _ = curves("herschel_bulkley", 4)
    many = rk.fit_many(MANY_RATES, stresses, "herschel_bulkley", fixed={"flow_index": 0.45}, bounds={"yield_stress": (39.9, 100.0)})
    lower, _ = many.intervals()
    assert np.isnan(lower[:, 2]).all()
    assert np.nanmin(lower[:, 0]) == 39.9


def test_what_has_no_interval_says_so():
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, 30.0 + 2.0 * RATES + NOISE), "bingham", fixed={"yield_stress": 30.0})
    with pytest.raises(rk.FitError, match="yield_stress has no interval: fixed by the caller"):
        fit.interval("yield_stress")
    with pytest.raises(rk.FitError, match="bingham has no parameter 'slope'; it has yield_stress, plastic_viscosity"):
        fit.interval("slope")
    with pytest.raises(rk.FitError, match="does not lie between 0 and 1"):
        fit.interval("plastic_viscosity", 95)
    with pytest.raises(rk.FitError, match="does not lie between 0 and 1"):
        rk.fit_many(RATES, 30.0 + RATES + np.ones((2, 20)), "bingham").intervals(95)
