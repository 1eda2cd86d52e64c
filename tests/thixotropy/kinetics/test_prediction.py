"""Predictions: exact where the ink is exact, bands from the parameters and the load, and what is said."""

import math
import pickle
from dataclasses import replace

import numpy as np
import pytest

import rheokit as rk
from rheokit import virtual
from rheokit.statistics.student import student_quantile
from rheokit.thixotropy.kinetics.recorded import RecordedLoad

INK = replace(virtual.slate_grey_ink(), elastic_strain=0.0)
TRUTH = {
    "build_up_rate": 0.025, "breakdown_coefficient": 0.005, "breakdown_exponent": 0.5, "flow_index": 0.5, "broken_yield_stress": 60.0,
    "structure_yield_stress": 70.0, "broken_consistency": 20.0, "structure_consistency": 10.0, "infinite_shear_viscosity": 0.63,
}  # fmt: skip


def load(programme, *, noise, seed, law="general", parameters=TRUTH):
    exact = rk.simulate_structure(programme, law, parameters, initial_structure=0.8)
    draws = np.random.default_rng(seed).standard_normal(exact.time.size)
    return RecordedLoad(name="load", history=programme.history(), stress=exact.shear_stress * (1.0 + noise * draws), kinds=exact.kinds)


def fitted(noise=0.006, **options):
    return rk.fit_structure(
        loop=load(rk.loop_programme(), noise=noise, seed=1), step_test=load(rk.step_test_programme(), noise=noise, seed=2), **options
    )


FIT = fitted()
FAST = rk.loop_programme(ramp_duration=30.0)


def test_a_known_ink_predicts_the_loop_of_the_virtual_rheometer():
    fit = fitted(noise=1e-6, load_deviation=0.0)
    protocol = virtual.loop_protocol(ramp_duration=30.0)
    history = virtual.simulate(INK, protocol)
    prediction = fit.predict_loop(FAST)
    for kind, step in (("up", 3), ("down", 5)):
        rows, measured = prediction.rows(kind), history.step == step
        assert prediction.shear_rate[rows] == pytest.approx(history.apparent_rate[measured], rel=1e-12)
        assert prediction.shear_stress[rows] == pytest.approx(history.stress[measured], rel=1e-5)  # the scatter of the points fitted
        assert prediction.structure[rows] == pytest.approx(history.structure[measured], abs=1e-4)


def test_the_area_is_that_of_the_predicted_legs_and_compares_with_a_measured_one():
    prediction = FIT.predict_loop(FAST)
    legs = [
        rk.Leg(prediction.time[rows], prediction.shear_rate[rows], prediction.shear_stress[rows])
        for rows in (prediction.rows("up"), prediction.rows("down"))
    ]
    measured = rk.hysteresis_loop(*legs)
    assert prediction.area.value == pytest.approx(measured.area.value, rel=1e-12)
    assert prediction.estimate("relative_loop_area").value == pytest.approx(measured.relative_area.value, rel=1e-12)
    prediction.area.require_comparable(measured.area)
    with pytest.raises(rk.ComparisonError, match="ramp"):
        FIT.predict_loop(rk.loop_programme()).area.require_comparable(prediction.area)


def test_slopes_of_the_area_are_those_of_fits_moved():
    prediction = FIT.predict_loop(FAST)
    spread = FIT.solved.spread.seen[:10, :10]
    # Draw inks from the stated covariance and predict each by the simulator: the scatter of areas is the stated error, to its own.
    draws = np.random.default_rng(5).multivariate_normal(FIT.solved.solution.point[:10], spread, size=400, check_valid="ignore")
    areas, shares = [], []
    for draw in draws:
        ink = dict(zip(FIT.problem.names[:10], draw.tolist(), strict=True))
        exact = rk.simulate_structure(FAST, "general", {name: ink[name] for name in TRUTH}, initial_structure=0.5)
        up, down = (np.array(exact.kinds) == kind for kind in ("up", "down"))
        legs = [rk.Leg(exact.time[rows], exact.shear_rate[rows], exact.shear_stress[rows]) for rows in (up, down)]
        loop = rk.hysteresis_loop(*legs)
        areas.append(loop.area.value)
        shares.append(loop.relative_area.value)
    # 400 draws know a standard deviation to 3.5 %; three of them, and a little for the bend.
    assert np.std(areas) == pytest.approx(prediction.area.components["fit"], rel=0.13)
    assert np.std(shares) == pytest.approx(prediction.estimate("relative_loop_area").standard_error, rel=0.13)
    assert prediction.area.components["load"] == pytest.approx(0.02 * prediction.area.value, rel=1e-12)


def test_the_band_holds_parameters_and_load():
    prediction = FIT.predict_loop(FAST)
    relative = (prediction.upper - prediction.shear_stress) / prediction.shear_stress
    # At least the load factor of the new load and the mean of two: 2 % times the root of 1.5, at Student's t near 1.97.
    assert (relative > 1.96 * 0.02 * 1.5**0.5 * 0.98).all()
    assert (relative < 1.96 * 0.02 * 1.5**0.5 * 1.6).all()
    held = fitted(load_deviation=0.0).predict_loop(FAST)
    assert (held.upper - held.lower < prediction.upper - prediction.lower).all()
    wider = FIT.predict_loop(FAST, level=0.99)
    assert (wider.upper > prediction.upper).all()


def test_a_measured_run_is_predicted_point_for_point():
    history = virtual.simulate(INK, virtual.loop_protocol(ramp_duration=60.0))
    kinds = {1: "shear", 2: "rest", 3: "up", 4: "hold", 5: "down", 6: "shear"}
    steps = [
        rk.Step(
            number=number, kind=kind, controlled="rate",
            columns={
                "time": history.time[history.step == number], "shear_rate": history.apparent_rate[history.step == number],
                "shear_stress": history.stress[history.step == number],
            },
        )
        for number, kind in kinds.items()
    ]  # fmt: skip
    prediction = FIT.predict_loop(steps)
    flowing = history.apparent_rate > 0.0
    inside = (prediction.lower <= history.stress[flowing]) & (history.stress[flowing] <= prediction.upper)
    # The run begins fuller than equilibrium, so its first points of pre-shear lie outside; after the rest the structure is the ink's own.
    assert inside[prediction.rows("up")].all()
    assert inside[prediction.rows("down")].all()


def test_recovery_after_another_shear():
    prediction = FIT.predict_recovery(50.0)
    found = [one for one in prediction.estimates if one.name == "structural_recovery"]
    assert [one.conditions["time"].value for one in found] == [10.0, 30.0, 60.0, 300.0]
    # By hand for the true ink: from equilibrium at 0.5 1/s, 60 s at 50 1/s, back; viscosity at one rate is linear in the structure.
    a, b = 0.025, 0.005
    low, high = a + b * 0.5**0.5, a + b * 50.0**0.5
    rested, sheared = a / low, a / high + (a / low - a / high) * np.exp(-high * 60.0)
    viscosity = {
        "rest": (60.0 + 70.0 * rested + (20.0 + 10.0 * rested) * 0.5**0.5 + 0.315) / 0.5,
        "sheared": (60.0 + 70.0 * sheared + (20.0 + 10.0 * sheared) * 50.0**0.5 + 31.5) / 50.0,
    }
    for one in found:
        back = rested + (sheared - rested) * np.exp(-low * one.conditions["time"].value)
        here = (60.0 + 70.0 * back + (20.0 + 10.0 * back) * 0.5**0.5 + 0.315) / 0.5
        truth = (here - viscosity["sheared"]) / (viscosity["rest"] - viscosity["sheared"])
        assert abs(one.value - truth) < 4.0 * one.standard_error
        assert one.components["load"] == 0.0  # a ratio of stresses of one load


def test_startup_after_a_rest_overshoots_under_a_law_that_can():
    parameters = TRUTH | {"elastic_strain": 0.5}
    startup = rk.startup_programme(shear_rate=1.0, duration=60.0, points=120)
    fit = rk.fit_structure(
        loop=load(rk.loop_programme(), noise=0.004, seed=3), step_test=load(rk.step_test_programme(), noise=0.004, seed=4),
        startup=load(startup, noise=0.004, seed=5, law="general_startup", parameters=parameters), law="general_startup",
    )  # fmt: skip
    assert fit.parameters["elastic_strain"].value == pytest.approx(0.5, abs=4.0 * fit.parameters["elastic_strain"].standard_error)
    prediction = fit.predict_startup(100.0, shear_rate=1.0, duration=60.0)
    exact = rk.simulate_structure(
        rk.startup_programme(shear_rate=1.0, rest=100.0, duration=60.0), "general_startup", parameters, initial_structure=0.3
    )
    peak = prediction.estimate("startup_peak_stress")
    assert peak.value == pytest.approx(exact.shear_stress.max(), abs=3.0 * peak.standard_error)
    rows = prediction.rows("startup")
    assert 0 < int(np.argmax(prediction.shear_stress[rows])) < rows.size - 1  # it rises, and falls
    longer = fit.predict_startup(1000.0, shear_rate=1.0, duration=60.0).estimate("startup_peak_stress")
    assert longer.value > peak.value


def test_what_the_data_do_not_determine_leaves_the_band_open():
    fit = rk.fit_structure(step_test=load(rk.step_test_programme(), noise=0.006, seed=2))
    prediction = fit.predict_loop(FAST)
    checks = {finding.check for finding in prediction.findings}
    assert "prediction_not_determined" in checks
    assert np.isinf(prediction.upper).any()
    assert not prediction.area.determined
    # The step test's own rates are seen whatever the rest is: its recovery keeps a band.
    assert np.isfinite(fit.predict_recovery(100.0).upper).all()


def test_far_beyond_the_rates_measured_is_said():
    assert "extrapolation" in {finding.check for finding in FIT.predict_recovery(1000.0).findings}
    assert "extrapolation" not in {finding.check for finding in FIT.predict_recovery(200.0).findings}


def test_misfit_is_carried_along_and_widens():
    ink = virtual.TwoPopulations(first=virtual.stretched(INK, pace=2.0), second=virtual.stretched(INK, pace=0.5), share=0.5)
    loads = {}
    for seed, (name, protocol, kinds) in enumerate(
        (
            ("loop", virtual.loop_protocol(points=95), ("shear", "rest", "up", "hold", "down", "shear")),
            ("step_test", virtual.recovery_protocol(), ("rest", "shear", "recovery")),
        )
    ):
        history = virtual.simulate_populations(ink, protocol)
        stress = virtual.noisy(history, np.random.default_rng(seed), noise=0.004, factor=1.0)
        loads[name] = [
            rk.Step(
                number=number, kind=kind, controlled="rate",
                columns={
                    "time": history.time[history.step == number], "shear_rate": history.apparent_rate[history.step == number],
                    "shear_stress": stress[history.step == number],
                },
            )
            for number, kind in enumerate(kinds, 1)
        ]  # fmt: skip
    fit = rk.fit_structure(**loads)
    prediction = fit.predict_loop(FAST)
    assert "misfit" in {finding.check for finding in prediction.findings}
    assert list(fit.alone) == ["loop"]  # two rates determine no ink
    bare = replace(fit, alone={}).predict_loop(FAST)
    apart = fit.alone["loop"].predict_loop(FAST).area
    gap = apart.value - bare.area.value
    unexplained = max(gap**2 - 2.0 * apart.standard_error**2, 0.0)
    assert prediction.area.value == pytest.approx(bare.area.value + 0.5 * math.copysign(unexplained**0.5, gap), rel=1e-12)
    assert prediction.area.standard_error == pytest.approx((bare.area.standard_error**2 + unexplained / 4.0) ** 0.5, rel=1e-12)
    other, times = fit.alone["loop"].predict_loop(FAST), student_quantile(0.975, fit._known.freedom)
    gaps = other.shear_stress - bare.shear_stress
    doubts = np.maximum(gaps**2 - 2.0 * (0.5 * (other.upper - other.lower) / times) ** 2, 0.0)
    moved = prediction.shear_stress - bare.shear_stress
    assert moved == pytest.approx(0.5 * np.sign(gaps) * np.sqrt(doubts), rel=1e-9, abs=1e-9)
    half = np.sqrt((bare.upper - bare.shear_stress) ** 2 + times**2 * doubts / 4.0)
    assert prediction.upper - prediction.shear_stress == pytest.approx(half, rel=1e-9)
    # Towards the loop alone, and never past the middle.
    assert np.all(np.abs(moved) <= 0.5 * np.abs(gaps))
    assert doubts.max() > 0.0


def test_a_fit_and_its_predictions_travel_to_another_process():
    fit = pickle.loads(pickle.dumps(FIT))
    assert {name: one.value for name, one in fit.parameters.items()} == {name: one.value for name, one in FIT.parameters.items()}
    assert fit.predict_loop(FAST).area == FIT.predict_loop(FAST).area
    prediction = pickle.loads(pickle.dumps(FIT.predict_loop(FAST)))
    assert prediction.upper == pytest.approx(FIT.predict_loop(FAST).upper, rel=1e-15)


def test_tables_figures_and_refusals():
    prediction = FIT.predict_loop(FAST)
    assert "loop area" in str(prediction)
    assert prediction.plot().get_xlabel().startswith("shear rate")
    assert FIT.predict_recovery(50.0).plot().get_xlabel().startswith("time")
    with pytest.raises(rk.FitError, match="predicts no startup_peak_stress; it predicts: loop_area, relative_loop_area"):
        prediction.estimate("startup_peak_stress")
    with pytest.raises(rk.FitError, match="a loop needs an up and a down piece"):
        FIT.predict_loop(rk.step_test_programme())
    with pytest.raises(rk.FitError, match=r"level: 1\.5 does not lie between 0 and 1"):
        FIT.predict_loop(FAST, level=1.5)


@pytest.mark.parametrize(("shear_rate", "low_rate"), [(0.5, 0.5), (0.1, 0.5), (50.0, 0.0), (0.0, 0.0)])
def test_a_shear_that_takes_nothing_predicts_no_recovery(shear_rate, low_rate):
    with pytest.raises(rk.RangeError, match=r"takes nothing from an ink at .* 1/s; state a low rate above 0 and a higher one"):
        FIT.predict_recovery(shear_rate, low_rate=low_rate)


def test_a_start_up_at_no_rate_is_refused():
    with pytest.raises(rk.RangeError, match="starts nothing; state a rate above zero"):
        FIT.predict_startup(100.0, shear_rate=0.0)
