"""Structure fits: back to the truth, what is determined, load factors, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import least_squares

import rheokit as rk
from rheokit import virtual
from rheokit.fitting.covariance import spread_of
from rheokit.thixotropy.kinetics.problem import Problem, Shared
from rheokit.thixotropy.kinetics.recorded import RecordedLoad

TRUTH = {
    "build_up_rate": 0.025, "breakdown_coefficient": 0.005, "breakdown_exponent": 0.5, "flow_index": 0.5, "broken_yield_stress": 60.0,
    "structure_yield_stress": 70.0, "broken_consistency": 20.0, "structure_consistency": 10.0, "infinite_shear_viscosity": 0.63,
}  # fmt: skip
INK = replace(virtual.slate_grey_ink(), elastic_strain=0.0)


def load(programme, *, noise=0.0, seed=0, scale=1.0, start=0.8, parameters=TRUTH, law="general", name="load"):
    exact = rk.simulate_structure(programme, law, parameters, initial_structure=start)
    used = exact.shear_stress > 0.0
    draws = np.random.default_rng(seed).standard_normal(exact.time.size)
    history = programme.history()
    history = replace(
        history, recorded=history.recorded[used], rate=history.rate[used], time=history.time[used], strain=history.strain[used],
        step=history.step[used],
    )  # fmt: skip
    stress = (scale * exact.shear_stress * (1.0 + noise * draws))[used]
    return RecordedLoad(name=name, history=history, stress=stress, kinds=tuple(np.array(exact.kinds)[used]))


def steps_of(history, stress):
    """Return the steps of a virtual run, as reading would."""
    kinds = (
        {1: "shear", 2: "rest", 3: "up", 4: "hold", 5: "down", 6: "shear"}
        if history.step.max() > 3
        else {1: "rest", 2: "shear", 3: "recovery"}
    )
    steps = []
    for number in sorted(set(history.step.astype(int).tolist())):
        rows = history.step == number
        columns = {"time": history.time[rows], "shear_rate": history.apparent_rate[rows], "shear_stress": stress[rows]}
        steps.append(rk.Step(number=number, kind=kinds[number], controlled="rate", columns=columns))
    return steps


LOOP, STEP = rk.loop_programme(), rk.step_test_programme()


def test_exact_loads_of_one_scale_give_the_truth_back():
    fit = rk.fit_structure(loop=load(LOOP), step_test=load(STEP), load_deviation=0.0)
    for name, value in TRUTH.items():
        # The search stops at an offset of 1e-7: with residuals of nothing that is limited by rounding alone.
        assert fit.parameters[name].value == pytest.approx(value, rel=1e-5), name
    assert fit.parameters["initial_structure_step_test"].value == pytest.approx(0.8, abs=1e-6)
    assert "misfit" not in {finding.check for finding in fit.findings}  # what is left is rounding, however smooth


def test_a_step_test_in_which_nothing_happens_determines_nothing():
    flat = load(STEP)
    fit = rk.fit_structure(step_test=replace(flat, stress=np.full(flat.stress.size, 100.0)))
    assert not any(fit.parameters[name].determined for name in ("build_up_rate", "breakdown_coefficient", "structure_yield_stress"))
    recovery = fit.predict_recovery(50.0)
    assert not any(one.determined and one.standard_error is not None for one in recovery.estimates)


def test_it_is_the_minimum_that_a_general_solver_finds():
    loads = load(LOOP, noise=0.01, seed=1), load(STEP, noise=0.01, seed=2, scale=1.03)
    stress = np.concatenate([one.stress for one in loads])
    fit = rk.fit_structure(loop=loads[0], step_test=loads[1], weighting=0.01 * stress, initial_structure=0.8)
    free, deviations = fit.request.free, fit.solved.solution.deviations
    scale = np.maximum(np.abs(fit.solved.solution.point[free]), 1e-3)

    def residuals(scaled):
        point = fit.solved.solution.point.copy()
        point[free] = scaled * scale
        return (fit.request.y - fit.problem.rows(point)[0]) / deviations

    best = least_squares(
        residuals, fit.solved.solution.point[free] / scale * 1.02, bounds=(1e-9, np.inf), xtol=1e-14, ftol=1e-14, gtol=1e-14
    )
    assert fit.sum_of_squares <= 2.0 * best.cost * (1.0 + 1e-9)
    # Along the flat valley a sum of squares within 1e-9 leaves about the root of that, in standard errors.
    errors = np.array([fit.solved.spread.covariance[i, i] ** 0.5 for i in np.flatnonzero(free)])
    assert np.abs(best.x * scale - fit.solved.solution.point[free]).max() < 1.0
    assert (np.abs(best.x * scale - fit.solved.solution.point[free]) < 0.01 * errors).all()


@pytest.mark.parametrize("law", ["moore", "houska", "general", "general_startup"])
def test_derivatives_of_every_row_are_those_of_central_differences(law):
    chosen = rk.STRUCTURE_LAWS[law]
    parameters = {name: {"elastic_strain": 0.5}.get(name) or TRUTH[name] for name in chosen.names}
    startup = rk.startup_programme(shear_rate=0.5, duration=20.0, points=40)
    loads = [load(one, parameters=parameters, law=law) for one in (LOOP, STEP, startup)]
    rate = np.geomspace(0.1, 100.0, 9)
    labels = ("loop", "step_test", "startup", "equilibrium")
    problem = Problem(law=chosen, shared=Shared.of(loads, (rate, rate)), starts=labels[:3], factors=labels, known=True)
    ink = [{**chosen.held, **parameters}[one.name] for one in problem.parameters[:10]]
    point = np.concatenate([ink, [0.8, 0.7, 0.6], [1.01, 0.98, 1.02, 0.97]])
    value, found = problem.rows(point)
    for index, name in enumerate(problem.names):
        if name in chosen.held:
            continue
        step = np.zeros(point.size)
        step[index] = 1e-4 * point[index]
        slope = (problem.rows(point + step)[0] - problem.rows(point - step)[0]) / (2.0 * step[index])
        # Rounding over the step is 1e-12 of the stress over the parameter, the third derivative adds the square of the step, 1e-8.
        limit = 1e-7 * max(np.abs(found[:, index]).max(), np.abs(value).max() / point[index] * 1e-4)
        assert np.abs(slope - found[:, index]).max() < limit, name


def test_load_factors_take_up_the_scale_of_each_load_and_the_ink_gets_its_uncertainty():
    loads = load(LOOP, noise=0.005, seed=3, scale=1.03), load(STEP, noise=0.005, seed=4, scale=0.99)
    fit = rk.fit_structure(loop=loads[0], step_test=loads[1])
    one, other = (fit.parameters[f"load_factor_{name}"] for name in ("loop", "step_test"))
    # Their ratio is seen in the data; their mean only beforehand, with the standard deviation over the root of 2.
    assert one.value / other.value == pytest.approx(1.03 / 0.99, abs=0.008)
    assert one.standard_error == pytest.approx(0.02 / 2.0**0.5, rel=0.1)
    held = rk.fit_structure(loop=loads[0], step_test=loads[1], load_deviation=0.0)
    assert held.sum_of_squares > 1.5 * fit.sum_of_squares  # one scale for both does not fit
    yields = fit.parameters["structure_yield_stress"]
    assert yields.components["load"] == pytest.approx(0.02 / 2.0**0.5 * yields.value, rel=0.15)
    assert "load_factor_loop" not in held.parameters


def test_a_single_load_has_the_whole_load_deviation():
    fit = rk.fit_structure(loop=load(LOOP, noise=0.005, seed=3))
    assert fit.parameters["load_factor_loop"].value == pytest.approx(1.0, abs=1e-6)
    assert fit.parameters["load_factor_loop"].standard_error == pytest.approx(0.02, rel=1e-3)


def test_scaling_the_stress_scales_what_carries_it_and_nothing_else():
    one = rk.fit_structure(loop=load(LOOP, noise=0.005, seed=5), step_test=load(STEP, noise=0.005, seed=6))
    other = rk.fit_structure(loop=load(LOOP, noise=0.005, seed=5, scale=3.0), step_test=load(STEP, noise=0.005, seed=6, scale=3.0))
    for name in TRUTH:
        factor = 3.0 if one.parameters[name].unit.startswith("Pa") else 1.0
        assert other.parameters[name].value == pytest.approx(factor * one.parameters[name].value, rel=1e-4), name  # both stop at an offset


def test_what_the_loop_alone_determines_and_what_the_step_test_adds():
    fit = rk.fit_structure(loop=load(LOOP, noise=0.006, seed=7), step_test=load(STEP, noise=0.006, seed=8))
    table = fit.identifiability()
    assert table.columns == ("parameter", "value", "loop alone", "step test alone", "both")
    widths = {row[0]: row[2:] for row in table.rows}
    loop, _, both = widths["build up rate"]
    assert float(both) < 0.5 * float(loop)
    # Two rates alone do not tell a yield stress from a consistency, nor an exponent of the rate.
    assert widths["flow index"][1] == "not determined"
    assert any(note.startswith("step test alone: not told apart: ") for note in table.notes)


def test_the_loop_alone_says_what_it_determines():
    fit = rk.fit_structure(loop=load(LOOP, noise=0.006, seed=7))
    assert fit.identifiability().columns == ("parameter", "value", "all")
    joint = rk.fit_structure(loop=load(LOOP, noise=0.006, seed=7), step_test=load(STEP, noise=0.006, seed=8))
    for name in ("build_up_rate", "breakdown_coefficient", "breakdown_exponent"):
        assert fit.parameters[name].standard_error > 1.5 * joint.parameters[name].standard_error


def test_a_step_test_alone_says_what_it_does_not_determine():
    fit = rk.fit_structure(step_test=load(STEP, noise=0.006, seed=8))
    assert not fit.parameters["flow_index"].determined
    assert "parameter_not_determined" in {finding.check for finding in fit.findings}


def test_an_equilibrium_curve_counts():
    rate = np.geomspace(0.1, 100.0, 16)
    curve = rk.FlowCurve(rate, INK.equilibrium_stress(rate))
    fit = rk.fit_structure(loop=load(LOOP, noise=0.004, seed=9), step_test=load(STEP, noise=0.004, seed=10), equilibrium=curve)
    without = rk.fit_structure(loop=load(LOOP, noise=0.004, seed=9), step_test=load(STEP, noise=0.004, seed=10))
    assert fit.parameters["flow_index"].standard_error < without.parameters["flow_index"].standard_error
    assert fit.parameters["load_factor_equilibrium"].value == pytest.approx(1.0, abs=0.01)


def test_a_richer_ink_is_a_misfit():
    # Two structures, one three times as fast as the demo ink's and one ten times slower than that: one is not enough.
    ink = virtual.TwoPopulations(first=virtual.stretched(INK, pace=3.0), second=virtual.stretched(INK, pace=0.3), share=0.5)
    loads = []
    for seed, protocol in enumerate((virtual.loop_protocol(), virtual.recovery_protocol())):
        history = virtual.simulate_populations(ink, protocol)
        stress = virtual.noisy(history, np.random.default_rng(seed), noise=0.006, factor=1.0)
        loads.append(rk.recorded_load(steps_of(history, stress)))
    fit = rk.fit_structure(loop=loads[0], step_test=loads[1])
    assert "misfit" in {finding.check for finding in fit.findings}
    assert fit.solved.memory > 1.0
    bare = spread_of(fit.request, fit.solved.solution, scale_known=False)
    seen = np.isfinite(bare.covariance)
    assert fit.solved.spread.covariance[seen] == pytest.approx(fit.solved.memory * bare.covariance[seen], rel=1e-12)


def test_white_scatter_raises_no_finding_about_residuals():
    found = 0
    for seed in range(20):
        fit = rk.fit_structure(loop=load(LOOP, noise=0.006, seed=seed), step_test=load(STEP, noise=0.006, seed=100 + seed))
        found += "misfit" in {finding.check for finding in fit.findings}
    assert found <= 1  # one alarm in a thousand fits by chance


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({}, "nothing to fit: give a loop, a step test, a start-up or an equilibrium curve"),
        ({"loop": []}, "loop: no runs and no steps"),
        ({"loop": load(LOOP), "load_deviation": -1.0}, "load_deviation: -1.0 is not a relative standard deviation"),
        ({"loop": load(LOOP), "law": "moore", "fixed": {"flow_index": 1.0}}, "fixed: moore holds flow_index at 1.000 already"),
        ({"loop": load(LOOP), "bounds": {"elastic_strain": (0.0, 1.0)}}, "bounds: general holds elastic_strain at 0"),
        ({"loop": load(LOOP), "fixed": {"yield": 1.0}}, "fixed: general structure law has no parameter 'yield'"),
        ({"equilibrium": rk.FlowCurve([0.0], [1.0])}, "equilibrium: no point with a positive rate and stress"),
    ],
)
def test_what_cannot_be_fitted_is_refused(arguments, message):
    with pytest.raises(rk.FitError, match=message):
        rk.fit_structure(**arguments)


def test_fixed_values_and_bounds_are_kept():
    fit = rk.fit_structure(
        loop=load(LOOP, noise=0.006, seed=7), step_test=load(STEP, noise=0.006, seed=8), fixed={"flow_index": 0.6},
        bounds={"infinite_shear_viscosity": (0.0, 0.2)},
    )  # fmt: skip
    assert fit.parameters["flow_index"].value == 0.6
    assert fit.parameters["flow_index"].reason == "fixed by the caller"
    assert fit.parameters["infinite_shear_viscosity"].value <= 0.2


def test_the_table_and_figure_say_what_was_found():
    fit = rk.fit_structure(loop=load(LOOP, noise=0.006, seed=7), step_test=load(STEP, noise=0.006, seed=8))
    text = str(fit)
    assert "general structure law" in text
    assert "stress scale of a load known to 2.0 %" in text
    assert fit.breakdown_rate(100.0).value == pytest.approx(
        fit.parameters["breakdown_coefficient"].value * 100.0 ** fit.parameters["breakdown_exponent"].value
    )
    # b and m make up for one another; the rate at a rate measured does not suffer from that.
    relative = fit.parameters["breakdown_coefficient"].relative_standard_error
    assert fit.breakdown_rate(10.0).relative_standard_error < relative
    ax = fit.plot()
    assert ax.get_ylabel().startswith("shear stress")
