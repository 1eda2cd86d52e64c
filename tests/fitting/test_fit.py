"""The front door: what is left out, what is not determined, and what never crashes."""

import pickle
import subprocess
import sys

import numpy as np
import pytest

import rheokit as rk

RATES = np.geomspace(0.1, 100.0, 20)
NOISE = np.random.default_rng(11).standard_normal(20)
STRESS = (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.01 * NOISE)


def checks(fit):
    return {finding.check: finding for finding in fit.findings}


def test_anything_with_rates_and_stresses_serves():
    leg = rk.Leg(np.arange(20.0), RATES, STRESS)
    one, other = rk.fit_flow_curve(leg, rk.MODELS["bingham"]), rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "bingham")
    assert np.array_equal(one.values, other.values)


def test_rows_without_a_number_or_a_positive_rate_are_left_out_and_counted():
    rates = np.concatenate([[0.0, -1.0, np.nan, 5.0], RATES])
    stress = np.concatenate([[7.0, 8.0, 9.0, np.inf], STRESS])
    fit, clean = (
        rk.fit_flow_curve(rk.FlowCurve(rates, stress), "herschel_bulkley"),
        rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "herschel_bulkley"),
    )
    assert np.array_equal(fit.values, clean.values)
    finding = checks(fit)["rows_left_out"]
    assert (finding.severity, finding.value) == ("caution", 4.0)
    assert str(finding) == "4 of 24 points have a shear rate of zero or less, or no number, and are left out"
    assert "rows_left_out" not in checks(clean)
    few = rk.fit_flow_curve(rk.FlowCurve(np.append(RATES, np.nan), np.append(STRESS, 1.0)), "bingham")
    assert checks(few)["rows_left_out"].severity == "info"


def test_standard_deviations_given_belong_to_the_rows_given():
    rates, stress = np.insert(RATES, 3, np.nan), np.insert(STRESS, 3, 1.0)
    fit = rk.fit_flow_curve(rk.FlowCurve(rates, stress), "bingham", weighting=np.insert(0.02 * STRESS, 3, 1.0))
    assert np.array_equal(fit.deviations, 0.02 * STRESS)


def test_a_yield_stress_at_its_bound_is_not_determined():
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, 12.0 * RATES**0.4 * (1.0 - 0.02 * (RATES < 1.0))), "herschel_bulkley")
    estimate = fit.parameters["yield_stress"]
    assert (estimate.value, estimate.standard_error, estimate.determined) == (0.0, None, False)
    assert estimate.reason == "at its lower bound 0 Pa"
    assert checks(fit)["parameter_not_determined"].source == "yield_stress"
    assert "(0)  not determined  Pa" in str(fit)
    assert fit.parameters["flow_index"].determined
    assert np.isnan(fit.covariance[0]).all()
    assert np.isfinite(fit.covariance[1:, 1:]).all()


def test_a_constant_stress_is_a_yield_stress_and_nothing_else():
    for weighting in ("relative", "absolute"):
        fit = rk.fit_flow_curve(rk.FlowCurve(RATES, np.full(20, 5.0)), "herschel_bulkley", weighting=weighting)
        assert fit.parameters["yield_stress"].value == pytest.approx(5.0, rel=1e-14)
        assert not fit.parameters["consistency"].determined
        assert not fit.parameters["flow_index"].determined
        assert "scatter" in fit.parameters["yield_stress"].reason


@pytest.mark.parametrize("name", rk.MODELS)
@pytest.mark.parametrize("weighting", ["relative", "absolute"])
def test_nothing_crashes(name, weighting):
    outlier = STRESS.copy()
    outlier[4] *= 1000.0
    for stress in (
        np.full(20, 5.0),
        outlier,
        STRESS[::-1],
        3.0 * RATES,
        1e-60 * STRESS,
        1e60 * STRESS,
    ):
        fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), name, weighting=weighting)
        assert np.isfinite(fit.values).all()
        assert str(fit)


@pytest.mark.parametrize("name", rk.MODELS)
def test_stresses_that_are_not_positive_under_relative_weights(name):
    # Half of the stresses are negative: the relative deviation has no best value then, since it falls without end as the fit goes to 0.
    curve = rk.FlowCurve(RATES, np.where(RATES < 1.0, -1.0, STRESS))
    assert np.isfinite(rk.fit_flow_curve(curve, name, weighting="absolute").values).all()
    assert np.isfinite(rk.fit_flow_curve(curve, name, floor=5.0).values).all()
    try:
        fit = rk.fit_flow_curve(curve, name)
    except rk.FitError as error:
        assert "give a floor" in str(error)  # noqa: PT017 - refused with a remedy, or said as below, or a fit that has a best value
    else:
        assert fit.converged or "give a floor" in str(fit)


def test_one_stray_point_near_zero_does_not_rule_the_search():
    stress = STRESS.copy()
    stress[5] = 1e-9
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), "herschel_bulkley")
    # The point lies a whole fitted value, 100 %, below the curve: it counts as one such point among twenty.
    assert fit.stress([100.0])[0] == pytest.approx(STRESS[-1], rel=0.2)
    assert fit.spread.scale == pytest.approx(1.0 / np.sqrt(17.0), rel=0.1)


def test_as_many_points_as_parameters():
    fit = rk.fit_flow_curve(rk.FlowCurve([1.0, 4.0, 16.0], [13.0, 16.0, 22.0]), "herschel_bulkley")
    assert fit.values == pytest.approx([10.0, 3.0, 0.5], rel=1e-10)
    for estimate in fit.parameters.values():
        assert not estimate.determined
        assert estimate.reason.startswith("as many free parameters as points")
    with pytest.raises(rk.FitError, match="has no band: as many free parameters as points"):
        fit.band([1.0])


def test_perfect_points_have_no_standard_error_and_say_why():
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, 30.0 + 12.0 * RATES**0.5), "herschel_bulkley")
    for estimate in fit.parameters.values():
        assert (estimate.standard_error, estimate.determined) == (None, True)
        assert "the points lie on the curve to rounding" in estimate.reason
    with pytest.raises(rk.FitError, match="has no band: the points lie on the curve"):
        fit.band([1.0])


def test_a_fixed_parameter_is_said_to_be_fixed():
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "herschel_bulkley", fixed={"flow_index": 0.4})
    estimate = fit.parameters["flow_index"]
    assert (estimate.value, estimate.standard_error, estimate.determined) == (0.4, None, True)
    assert estimate.reason == "fixed by the caller"
    assert fit.degrees_of_freedom == 18
    assert not fit.covariance[2].any()
    bingham = rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "herschel_bulkley", fixed={"flow_index": 1.0})
    assert bingham.values[:2] == pytest.approx(rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "bingham").values, rel=1e-10)


def test_fixed_linear_parameters_and_everything_fixed():
    curve = rk.FlowCurve(RATES, STRESS)
    power = rk.fit_flow_curve(curve, "herschel_bulkley", fixed={"yield_stress": 0.0})
    assert power.values[1:] == pytest.approx(rk.fit_flow_curve(curve, "power_law").values, rel=1e-9)
    whole = rk.fit_flow_curve(curve, "bingham", fixed={"yield_stress": 30.0, "plastic_viscosity": 1.0})
    assert whole.degrees_of_freedom == 20
    assert whole.residuals == pytest.approx(STRESS - 30.0 - RATES, rel=1e-13)


def test_bounds_of_the_caller_replace_those_of_the_law():
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "herschel_bulkley", bounds={"flow_index": (0.5, 0.6)})
    assert fit.parameters["flow_index"].value == 0.5
    assert fit.parameters["flow_index"].reason == "at its lower bound 0.5000"


def test_known_standard_deviations_are_taken_at_their_word():
    curve = rk.FlowCurve(RATES, STRESS)
    known = rk.fit_flow_curve(curve, "bingham", weighting=np.full(20, 9.0), scale="known")
    estimated = rk.fit_flow_curve(curve, "bingham", weighting=np.full(20, 9.0))
    slope = known.parameters["plastic_viscosity"]
    # Textbook: the slope of a line has the standard error sigma over the root of the sum of squares of x about its mean.
    assert slope.standard_error == pytest.approx(9.0 / np.sqrt(((RATES - RATES.mean()) ** 2).sum()), rel=1e-12)
    assert slope.degrees_of_freedom == np.inf
    assert "scale known" in slope.method
    assert "scale from the residuals" in estimated.parameters["plastic_viscosity"].method
    ratio = estimated.parameters["plastic_viscosity"].standard_error / slope.standard_error
    assert ratio == pytest.approx(np.sqrt(estimated.sum_of_squares / 18.0), rel=1e-12)
    assert "misfit" not in checks(known)
    assert "misfit" in checks(rk.fit_flow_curve(curve, "bingham", weighting=np.full(20, 0.5), scale="known"))


def test_a_floor_keeps_the_lowest_stresses_from_ruling():
    curve = rk.FlowCurve(RATES, STRESS)
    flat = rk.fit_flow_curve(curve, "bingham", floor=1e9)
    assert flat.values == pytest.approx(rk.fit_flow_curve(curve, "bingham", weighting="absolute").values, rel=1e-9)
    some = rk.fit_flow_curve(curve, "bingham", floor=4.0)
    assert some.deviations == pytest.approx(np.hypot(some.stress(RATES), 4.0), rel=1e-12)
    assert "floor of 4.000 Pa" in some.parameters["yield_stress"].method


def test_a_consistency_carries_its_flow_index():
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "herschel_bulkley")
    assert fit.parameters["consistency"].conditions["flow_index"].value == fit.parameters["flow_index"].value
    other = rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS[::-1].copy()[::-1] * 1.01**NOISE), "herschel_bulkley")
    with pytest.raises(rk.ComparisonError, match="flow_index differs"):
        fit.parameters["consistency"].require_comparable(other.parameters["consistency"])
    with pytest.raises(rk.ComparisonError, match="law differs"):
        fit.parameters["yield_stress"].require_comparable(
            rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "bingham").parameters["yield_stress"]
        )


def test_any_law_goes_through_the_same_door():
    x = np.linspace(-2.0, 3.0, 30)
    y = 1.0 + 2.0 * np.exp(-0.7 * x) + 0.01 * np.random.default_rng(1).standard_normal(30)
    law = rk.Law(
        name="decay",
        parameters=(rk.Parameter("end", unit="Pa"), rk.Parameter("drop", unit="Pa"), rk.Parameter("k", unit="1/s", lower=0.0)),
        value=lambda x, end, drop, k: end + drop * np.exp(-k * x),
        jacobian=lambda x, end, drop, k: np.column_stack([np.ones_like(x) + 0.0 * end, np.exp(-k * x), -drop * x * np.exp(-k * x)]),
    )
    bare = rk.fit_law(x, y, law, start={"end": 0.0, "drop": 1.0, "k": 3.0})
    split = rk.Law(
        name="decay", parameters=law.parameters, value=law.value, jacobian=law.jacobian, linear=("end", "drop"),
        basis=lambda x, k: np.column_stack([np.ones_like(x), np.exp(-k * x)]),
    )  # fmt: skip
    projected = rk.fit_law(x, y, split, start={"k": 3.0})
    assert bare.converged
    assert bare.values == pytest.approx(projected.values, rel=1e-9)
    for name, truth in (("end", 1.0), ("drop", 2.0), ("k", 0.7)):
        assert abs(bare.parameters[name].value - truth) < 3.0 * bare.parameters[name].standard_error


def test_a_law_of_two_variables():
    x = np.random.default_rng(2).uniform(1.0, 2.0, (25, 2))
    law = rk.Law(
        name="plane",
        parameters=(rk.Parameter("a"), rk.Parameter("b")),
        value=lambda x, a, b: a * x[:, 0] + b * x[:, 1],
        jacobian=lambda x, a, b: x + 0.0 * (a + b),
        linear=("a", "b"),
        basis=lambda x: x,
    )
    fit = rk.fit_law(x, x @ [3.0, -2.0] + 1e-3 * np.random.default_rng(3).standard_normal(25), law)
    assert fit.values == pytest.approx([3.0, -2.0], abs=5e-3)
    with pytest.raises(rk.FitError, match="more than one variable"):
        fit.plot()


def test_two_parameters_with_one_effect_are_not_determined():
    law = rk.Law(
        name="twice",
        parameters=(rk.Parameter("a"), rk.Parameter("b"), rk.Parameter("c")),
        value=lambda x, a, b, c: (a + b) * x + c,
        jacobian=lambda x, a, b, c: np.column_stack([x, x, np.ones_like(x)]) + 0.0 * (a + b + c),
    )
    fit = rk.fit_law(RATES, 2.0 * RATES + 1.0 + 0.1 * NOISE, law, start={"a": 0.0, "b": 0.0, "c": 0.0})
    assert fit.parameters["a"].reason.startswith("the data do not tell it from b; what they determine is a + 1.000 × b = ")
    assert fit.parameters["b"].reason.startswith("the data do not tell it from a; what they determine is b + 1.000 × a = ")
    assert fit.parameters["a"].value + fit.parameters["b"].value == pytest.approx(2.0, abs=0.01)
    assert fit.parameters["c"].determined
    line = rk.fit_law(RATES, 2.0 * RATES + 1.0 + 0.1 * NOISE, rk.MODELS["bingham"])
    assert fit.parameters["c"].standard_error * np.sqrt(17 / 18) == pytest.approx(line.parameters["yield_stress"].standard_error, rel=1e-9)
    # The curve is determined all the same: the two always move together.
    half = [(band.upper - band.lower)[0] for band in (fit.band([5.0]), line.band([5.0]))]
    assert half[0] == pytest.approx(half[1] * np.sqrt(18 / 17) * 2.1098156 / 2.1009220, rel=1e-6)  # Student's t of 17 over 18


def test_a_fit_travels_to_another_process():
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "herschel_bulkley")
    back = pickle.loads(pickle.dumps(fit))
    assert np.array_equal(back.values, fit.values)
    assert not back.y.flags.writeable
    with pytest.raises(TypeError):
        back.parameters["yield_stress"] = None


def test_importing_and_fitting_brings_in_nothing_heavy():
    code = (
        "import sys, numpy as np, rheokit as rk; r = np.geomspace(1, 9, 9);"
        "print(rk.fit_flow_curve(rk.FlowCurve(r, 3 + r**.5 * (1 + .01 * np.sin(9 * r))), 'herschel_bulkley'), file=sys.stderr);"
        "print(sorted({name.split('.')[0] for name in sys.modules} & {'scipy', 'pandas', 'matplotlib', 'lmfit'}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, encoding="utf-8", env={"PYTHONIOENCODING": "utf-8"}
    )
    assert done.stdout.strip() == "[]"


def test_casson_is_not_caught_where_both_its_parameters_are_zero():
    # Half of the stresses are negative, so that the descent from the guess runs into (0, 0), where the derivatives see no way out.
    generator = np.random.default_rng(0)
    rate = np.geomspace(0.1, 100.0, 20)
    for _ in range(60):
        signs, noise = np.where(generator.random(20) < 0.5, -1.0, 1.0), np.exp(0.1 * generator.standard_normal(20))
        stress = (5.0 + 2.0 * rate**0.5 + rate) * signs * noise
        fit = rk.fit_flow_curve(rk.FlowCurve(rate, stress), "casson", weighting="absolute")
        yields, viscosities = np.meshgrid(np.geomspace(1e-6, 30.0, 40), np.geomspace(1e-6, 3.0, 40))
        roots = np.sqrt(yields)[..., None] + np.sqrt(viscosities[..., None] * rate)
        assert fit.sum_of_squares <= ((roots**2 - stress) ** 2).sum(axis=-1).min() * (1.0 + 1e-9)
