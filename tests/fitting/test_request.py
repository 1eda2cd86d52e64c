"""What a fit refuses, and what it says then."""

import numpy as np
import pytest

import rheokit as rk

RATES = np.geomspace(0.1, 100.0, 12)
CURVE = rk.FlowCurve(RATES, 20.0 + 8.0 * RATES**0.5)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"fixed": {"n": 1.0}}, "fixed: herschel_bulkley has no parameter 'n'; it has yield_stress, consistency, flow_index"),
        ({"bounds": {"k": (0.0, 1.0)}}, "bounds: herschel_bulkley has no parameter 'k'"),
        ({"start": {"k": 0.0}}, "start: herschel_bulkley has no parameter 'k'"),
        ({"fixed": {"flow_index": 3.0}}, "fixed: flow_index = 3 lies outside its bounds 0.0001000 to 2.000; move it inside, or widen them"),
        ({"start": {"yield_stress": -1.0}}, "start: yield_stress = -1 lies outside its bounds 0 to ∞"),
        ({"bounds": {"flow_index": (1.0, 1.0)}}, "bounds: flow_index needs a lower bound below an upper one"),
        ({"bounds": {"flow_index": (2.0, 1.0)}}, "bounds: flow_index needs a lower bound below an upper one"),
        ({"bounds": {"flow_index": (np.nan, 1.0)}}, "bounds: flow_index needs a lower bound below an upper one"),
        ({"fixed": {"flow_index": np.nan}}, "fixed: flow_index = nan is no finite number"),
        ({"fixed": {"flow_index": 1.0}, "start": {"flow_index": 1.0}}, "flow_index is fixed and has a start"),
        ({"weighting": "log"}, "weighting: 'log' is none of 'relative', 'absolute'"),
        ({"weighting": np.ones(3)}, "weighting: 3 standard deviations for 12 points"),
        ({"weighting": np.zeros(12)}, "a standard deviation is not a positive number"),
        ({"weighting": "absolute", "floor": 1.0}, "floor goes with weighting='relative'"),
        ({"weighting": np.ones(12), "floor": 1.0}, "floor goes with weighting='relative'"),
        ({"floor": -1.0}, "floor: -1.0 is not a value of zero or more"),
        ({"scale": "known"}, "goes with an array of standard deviations"),
        ({"weighting": np.ones(12), "scale": "perhaps"}, "neither 'estimated' nor 'known'"),
    ],
)
def test_a_request_that_makes_no_sense(options, said):
    with pytest.raises(rk.FitError) as caught:
        rk.fit_flow_curve(CURVE, "herschel_bulkley", **options)
    assert said in str(caught.value)


def test_an_unknown_model_lists_those_there_are():
    with pytest.raises(rk.FitError, match=r"unknown model 'hb'; the models are newtonian, power_law.*; any Law serves as well"):
        rk.fit_flow_curve(CURVE, "hb")


def test_unequal_lengths():
    with pytest.raises(rk.FitError, match=r"x of shape \(3,\) and y of shape \(4,\)"):
        rk.fit_law(np.ones(3), np.ones(4), rk.MODELS["bingham"])


@pytest.mark.parametrize(("points", "said"), [(0, "0 usable points"), (1, "1 usable point for"), (2, "2 usable points for the 3 free")])
def test_too_few_points(points, said):
    with pytest.raises(rk.FitError, match=said):
        rk.fit_flow_curve(rk.FlowCurve(RATES[:points], CURVE.shear_stress[:points]), "herschel_bulkley")


def test_a_law_without_guess_needs_a_start():
    law = rk.Law(
        name="decay",
        parameters=(rk.Parameter("a", lower=0.0), rk.Parameter("k", lower=0.0)),
        value=lambda x, a, k: a * np.exp(-k * x),
        jacobian=lambda x, a, k: np.column_stack([np.exp(-k * x), -a * x * np.exp(-k * x)]),
    )
    with pytest.raises(rk.FitError, match=r"decay has no guess for k; give one with start=\{'k': …\}"):
        rk.fit_law(RATES, np.exp(-RATES), law, start={"a": 1.0})


def test_a_start_without_a_finite_value():
    law = rk.Law(
        name="inverse",
        parameters=(rk.Parameter("a"),),
        value=lambda x, a: a / (x - x.min()),
        jacobian=lambda x, a: (1.0 / (x - x.min()) + 0.0 * a)[:, None],
    )
    with pytest.raises(rk.FitError, match="inverse has no finite value at every point to start from"):
        rk.fit_law(RATES, RATES, law, start={"a": 1.0})


@pytest.mark.parametrize("weighting", ["relative"])
def test_relative_weights_of_nothing(weighting):
    with pytest.raises(rk.FitError, match="all values are zero"):
        rk.fit_flow_curve(rk.FlowCurve(RATES, np.zeros(12)), "bingham", weighting=weighting)
    with pytest.raises(rk.FitError, match="a fitted value falls to zero, where its relative weight is infinite; give a floor"):
        rk.fit_flow_curve(rk.FlowCurve(RATES, -RATES), "newtonian", weighting=weighting)
