"""The point found is the best there is, and stationary to rounding."""

import numpy as np
import pytest
from scipy.optimize import least_squares

import rheokit as rk

RATES = np.geomspace(0.01, 1000.0, 30)
TRUTH = {
    "newtonian": (2.0,),
    "power_law": (14.0, 0.38),
    "bingham": (40.0, 2.0),
    "herschel_bulkley": (40.0, 14.0, 0.45),
    "casson": (30.0, 1.5),
    "cross": (900.0, 0.8, 4.0, 0.75),
    "carreau_yasuda": (900.0, 0.8, 4.0, 1.5, 0.3),
    "sisko": (0.8, 20.0, 0.3),
    "herschel_bulkley_plateau": (40.0, 14.0, 0.35, 0.6),
}
TRUTH_CURVE = 30.0 + 12.0 * RATES**0.4
every_law = pytest.mark.parametrize("name", TRUTH)


def noisy(name, seed, noise=0.03):
    exact = rk.MODELS[name].value(RATES, *TRUTH[name])
    return rk.FlowCurve(RATES, exact * (1.0 + noise * np.random.default_rng(seed).standard_normal(RATES.size)))


@every_law
@pytest.mark.parametrize("weighting", ["relative", "absolute"])
def test_residuals_are_at_right_angles_to_every_derivative(name, weighting):
    for seed in range(5):
        fit = rk.fit_flow_curve(noisy(name, seed), name, weighting=weighting)
        assert fit.converged
        jacobian = fit.law.complex_step_jacobian(RATES, *fit.values) / fit.deviations[:, None]
        residual = fit.residuals / fit.deviations
        inside = np.array([estimate.determined for estimate in fit.parameters.values()])
        cosine = np.abs(residual @ jacobian) / (np.linalg.norm(jacobian, axis=0) * np.linalg.norm(residual))
        # The engine stops at 1e-11; the other derivative and the residuals add their rounding.
        assert cosine[inside].max() < 1e-10
        if weighting == "relative":
            assert fit.deviations == pytest.approx(fit.stress(RATES), rel=1e-12)


@every_law
def test_no_start_of_many_finds_a_lower_sum_of_squares(name):
    law, generator = rk.MODELS[name], np.random.default_rng(5)
    lower = np.array([parameter.lower for parameter in law.parameters])
    upper = np.array([parameter.upper for parameter in law.parameters])
    for seed in range(3):
        curve = noisy(name, seed, 0.1)
        fit = rk.fit_flow_curve(curve, law, weighting=curve.shear_stress)
        best = np.inf
        for _ in range(8):
            start = np.clip(np.array(TRUTH[name]) * 3.0 ** generator.uniform(-1.0, 1.0, len(lower)), lower + 1e-6, upper - 1e-6)
            with np.errstate(all="ignore"):
                other = least_squares(
                    lambda p, curve=curve: (curve.shear_stress - law.value(RATES, *p)) / curve.shear_stress,
                    start,
                    jac=lambda p, curve=curve: -law.jacobian(RATES, *p) / curve.shear_stress[:, None],
                    bounds=(lower, upper),
                    x_scale="jac",
                )
            best = min(best, 2.0 * other.cost)
        # The other program stops when a step gains less than 1e-8 of the sum of squares.
        assert fit.sum_of_squares <= best * (1.0 + 1e-9)


def test_curves_without_a_low_rate_plateau_reach_the_power_law_limit():
    # 1e9 times the inverse rate and more: a narrow bound of the time constant would leave a worse fit than the power law within it.
    curve = rk.FlowCurve(RATES, 14.0 * RATES**0.4)
    fit = rk.fit_flow_curve(curve, "cross")
    assert fit.sum_of_squares < 1e-15
    assert not fit.parameters["zero_shear_viscosity"].determined
    assert not fit.parameters["time_constant"].determined
    assert "the data do not tell it from" in fit.parameters["time_constant"].reason
    assert fit.parameters["rate_index"].value == pytest.approx(0.6, rel=1e-6)


def test_twelve_decades_of_rate_and_stress():
    rates = np.geomspace(1e-6, 1e6, 50)
    for scale in (1e-9, 1e9):
        fit = rk.fit_flow_curve(rk.FlowCurve(rates, scale * (3.0 + 2.0 * rates**0.8)), "herschel_bulkley")
        assert fit.values == pytest.approx([3.0 * scale, 2.0 * scale, 0.8], rel=1e-10)


@pytest.mark.parametrize("name", ["power_law", "casson", "bingham", "newtonian"])
def test_relative_weights_settle_also_for_a_law_that_does_not_fit(name):
    # Six decades of a curve with plateau, yield and thinning: residuals of half the stress, where reweighting in turns never settles.
    curve = rk.FlowCurve(RATES, 80.0 + 3.0 * RATES**0.3 + 5.0 * RATES)
    fit = rk.fit_flow_curve(curve, name)
    assert fit.converged
    relative, jacobian = curve.shear_stress / fit.stress(RATES) - 1.0, fit.law.complex_step_jacobian(RATES, *fit.values)
    by_relative = jacobian / fit.stress(RATES)[:, None]
    inside = np.array([estimate.determined for estimate in fit.parameters.values()])
    cosine = np.abs(relative @ by_relative) / (np.linalg.norm(by_relative, axis=0) * np.linalg.norm(relative))
    assert cosine[inside].max() < 1e-10


@pytest.mark.parametrize("weighting", ["relative", "absolute"])
def test_a_law_at_the_edge_of_what_the_data_determine_arrives(weighting):
    # A yield stress has no low-rate plateau: the best Cross curve is a long valley towards an infinite time constant.
    for seed in range(30):
        generator = np.random.default_rng(seed)
        yield_stress, consistency = 10.0 ** generator.uniform(0.0, 2.5), 10.0 ** generator.uniform(0.0, 2.0)
        stress = yield_stress + consistency * RATES ** generator.uniform(0.1, 1.1)
        noise = 10.0 ** generator.uniform(-3.0, -1.0) * generator.standard_normal(RATES.size)
        assert rk.fit_flow_curve(rk.FlowCurve(RATES, stress * (1.0 + noise)), "cross", weighting=weighting).converged, seed


@pytest.mark.parametrize("seed", [143, 149])
def test_the_lower_of_two_valleys_is_found(seed):
    # Two curves on which the lowest point of the grid lies in the valley of the worse optimum, higher by 1 %: both are followed.
    law, generator = rk.MODELS["carreau_yasuda"], np.random.default_rng(seed)
    stress = rk.MODELS["cross"].value(RATES, 500.0, 10.0, 3.0, 0.7) * (1.0 + 0.1 * generator.standard_normal(RATES.size))
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), law, weighting="absolute")
    bounds = [parameter.lower for parameter in law.parameters], [parameter.upper for parameter in law.parameters]
    best = np.inf
    for start in ((500.0, 10.0, 3.0, 1.0, 0.3), (500.0, 10.0, 3.0, 5.0, 0.3), (5000.0, 10.0, 30.0, 0.5, 0.1), (100.0, 5.0, 0.3, 10.0, 0.5)):
        with np.errstate(all="ignore"):
            other = least_squares(
                lambda p: stress - law.value(RATES, *p), start, jac=lambda p: -law.jacobian(RATES, *p), bounds=bounds, x_scale="jac"
            )
        best = min(best, 2.0 * other.cost)
    # The other program stops when a step gains less than 1e-8 of the sum of squares.
    assert fit.sum_of_squares <= best * (1.0 + 1e-6)


def test_neighbouring_stray_points_do_not_mislead_the_search():
    stress = TRUTH_CURVE.copy()
    stress[5:8] = 1e-9
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), "herschel_bulkley")
    jacobian = fit.law.complex_step_jacobian(RATES, *fit.values) / fit.deviations[:, None]
    residual = fit.residuals / fit.deviations
    assert (np.abs(residual @ jacobian) / (np.linalg.norm(jacobian, axis=0) * np.linalg.norm(residual))).max() < 1e-10
    assert fit.values == pytest.approx([30.0, 12.0, 0.4], rel=0.5)
