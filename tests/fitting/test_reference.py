"""Fits against numbers from outside, each with its source in its file."""

import numpy as np
import pytest
from reference_data import reference

import rheokit as rk


def fitted(fit):
    return [estimate.value for estimate in fit.parameters.values()]


def errors(fit):
    return [estimate.standard_error for estimate in fit.parameters.values()]


def test_nist_danwood_is_a_power_law():
    known = reference("nist_danwood")
    fit = rk.fit_flow_curve(rk.FlowCurve(known["x"], known["y"]), "power_law", weighting="absolute", bounds={"flow_index": (1e-4, 10.0)})
    # All 11 certified digits, half a unit of the last: 5e-11 relative to a leading digit of 7 or 3.
    assert fitted(fit) == pytest.approx(known["certified"], rel=1e-10)
    assert errors(fit) == pytest.approx(known["certified_sd"], rel=1e-10)
    assert fit.sum_of_squares == pytest.approx(known["residual_sum_of_squares"], rel=1e-10)
    assert fit.spread.scale == pytest.approx(known["residual_sd"], rel=1e-10)
    assert fit.degrees_of_freedom == known["degrees_of_freedom"]
    # The log-log line answers another question; it is five standard errors away from the last digits above.
    line = rk.MODELS["power_law"].guess(np.array(known["x"]), np.array(known["y"]))["consistency"]
    assert line == pytest.approx(known["log_log_line"][0], abs=5e-7)
    assert abs(line - known["certified"][0]) > 0.01


@pytest.mark.parametrize("start", [{"consistency": 1.0, "flow_index": 5.0}, {"consistency": 0.7, "flow_index": 4.0}])
def test_nist_danwood_from_the_published_starts_without_a_basis(start):
    known, law = reference("nist_danwood"), rk.MODELS["power_law"]
    bare = rk.Law(
        name="bare",
        parameters=(rk.Parameter("consistency", lower=0.0), rk.Parameter("flow_index")),
        value=law.value,
        jacobian=law.jacobian,
    )
    fit = rk.fit_law(known["x"], known["y"], bare, start=start)
    assert fitted(fit) == pytest.approx(known["certified"], rel=1e-10)
    assert errors(fit) == pytest.approx(known["certified_sd"], rel=1e-10)


def test_nist_norris_is_bingham_with_an_intercept_that_may_be_negative():
    known = reference("nist_norris")
    fit = rk.fit_flow_curve(
        rk.FlowCurve(known["x"], known["y"]), "bingham", weighting="absolute", bounds={"yield_stress": (-np.inf, np.inf)}
    )
    # 15 certified digits; the line's condition (mean over spread of x, about 1.5) and sums of 36 terms cost two or three of 16.
    assert fitted(fit) == pytest.approx(known["certified"], rel=1e-12)
    assert errors(fit) == pytest.approx(known["certified_sd"], rel=1e-12)
    assert fit.spread.scale == pytest.approx(known["residual_sd"], rel=1e-12)
    held = rk.fit_flow_curve(rk.FlowCurve(known["x"], known["y"]), "bingham", weighting="absolute")
    assert held.parameters["yield_stress"].value == 0.0
    assert not held.parameters["yield_stress"].determined


def test_nist_noint1_is_newtonian():
    known = reference("nist_noint1")  # from memory, recomputed exactly
    fit = rk.fit_flow_curve(rk.FlowCurve(known["x"], known["y"]), "newtonian", weighting="absolute")
    assert fitted(fit) == pytest.approx(known["certified"], rel=2e-15)


def test_brodkey_hershey_log_log_line():
    known = reference("brodkey_hershey_15_1")
    rate, stress = np.array(known["shear_rate"]), np.array(known["shear_stress"])
    line = rk.MODELS["power_law"].guess(rate, stress)
    assert line["flow_index"] == pytest.approx(known["flow_index"], abs=5e-5)  # four digits printed
    assert np.log(line["consistency"]) == pytest.approx(known["log_consistency"], abs=5e-6)
    # Relative weights ask nearly the same question as the line: with 3 % scatter the answers agree well within one standard error.
    index = rk.fit_flow_curve(rk.FlowCurve(rate, stress), "power_law").parameters["flow_index"]
    assert abs(index.value - known["flow_index"]) < 0.5 * index.standard_error


@pytest.mark.parametrize("model", ["herschel_bulkley", "bingham", "power_law"])
def test_milk_chocolate(model):
    known = reference("milk_chocolate_40_c")  # data from memory
    fit = rk.fit_flow_curve(rk.FlowCurve(known["shear_rate"], known["shear_stress"]), model, weighting="absolute")
    for name, value in known["fits"][model].items():
        # As printed: five or six digits, half a unit of the last of the shortest is 1e-5 of it.
        assert fit.parameters[name].value == pytest.approx(value, rel=2e-5)


def test_milk_chocolate_casson_line_is_the_guess_and_not_the_answer():
    known = reference("milk_chocolate_40_c")  # data from memory
    rate, stress = np.array(known["shear_rate"]), np.array(known["shear_stress"])
    line, casson = known["lines_of_transformed_data"]["casson"], rk.MODELS["casson"]
    guess = casson.guess(rate, stress)
    assert guess == pytest.approx(line, rel=2e-5)
    fit = rk.fit_flow_curve(rk.FlowCurve(rate, stress), "casson", weighting="absolute")
    left = stress - casson.value(rate, *guess.values())
    assert fit.sum_of_squares < 0.99 * float(left @ left)


@pytest.mark.parametrize("which", [0, 1, 2])
@pytest.mark.parametrize("weighting", ["relative", "absolute"])
def test_carreau_yasuda_sets_come_back(which, weighting):
    known = reference("carreau_yasuda_sets")
    truth = dict(zip(known["parameters"], known["sets"][which], strict=True))
    law, rates = rk.MODELS["carreau_yasuda"], np.geomspace(1e-3, 1e4, 40)
    stress = law.value(rates, *(truth[name] for name in law.names))
    fit = rk.fit_flow_curve(rk.FlowCurve(rates, stress), law, weighting=weighting)
    assert fit.converged
    # Noise-free: rounding (2e-16) times the condition of the problem, which is below 1e5 here.
    assert {name: fit.parameters[name].value for name in truth} == pytest.approx(truth, rel=1e-10)
