"""Laws handed over to lmfit: the two engines agree, and lmfit adds ties and sums."""

import numpy as np
import pytest

import rheokit as rk

RATES = np.geomspace(0.01, 1000.0, 30)
TRUTH = {
    "newtonian": (2.0,),
    "power_law": (14.0, 0.38),
    "bingham": (40.0, 2.0),
    "herschel_bulkley": (40.0, 14.0, 0.45),
    "casson": (30.0, 0.8),
    "cross": (900.0, 0.8, 4.0, 0.75),
    "carreau_yasuda": (900.0, 0.8, 4.0, 1.4, 0.3),
    "sisko": (0.8, 20.0, 0.3),
    "herschel_bulkley_plateau": (40.0, 14.0, 0.45, 0.5),
}


def curve(name):
    noise = np.random.default_rng(9).standard_normal(RATES.size)
    law = rk.MODELS[name]
    truth = dict(zip((parameter.name for parameter in law.parameters), TRUTH[name], strict=True))
    return law, rk.MODELS[name].value(RATES, *truth.values()) * (1.0 + 0.02 * noise)


@pytest.mark.parametrize("name", rk.MODELS)
@pytest.mark.parametrize("weighting", ["absolute", "relative"])
def test_the_two_engines_agree(name, weighting):
    law, stress = curve(name)
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), law, weighting=weighting)
    model, parameters = rk.lmfit_model(law, RATES, stress)
    tight = {"xtol": 1e-14, "ftol": 1e-14, "gtol": 1e-14}
    found = model.fit(stress, parameters, x=RATES, weights=1.0 / fit.deviations, method="leastsq", fit_kws=tight, max_nfev=20000)
    assert fit.sum_of_squares <= found.chisqr * (1.0 + 1e-12)
    assert found.chisqr == pytest.approx(fit.sum_of_squares, rel=1e-7)
    assert found.nfree == fit.degrees_of_freedom
    for one in law.names:
        # Its derivatives are forward differences through the transform of its bounds: some 1e-5 of an error, more where columns are
        # near to each other as in Carreau-Yasuda.
        ours = fit.parameters[one]
        assert ours.determined
        assert found.params[one].value == pytest.approx(ours.value, abs=2e-3 * ours.standard_error)
        assert found.params[one].stderr == pytest.approx(ours.standard_error, rel=2e-3)


def test_bounds_units_fixed_values_and_starts_travel():
    law, stress = curve("herschel_bulkley")
    model, parameters = rk.lmfit_model(
        law, RATES, stress, fixed={"flow_index": 0.5}, bounds={"yield_stress": (0.0, 30.0)}, start={"consistency": 9.0}
    )
    assert (parameters["flow_index"].value, parameters["flow_index"].vary) == (0.5, False)
    assert (parameters["yield_stress"].min, parameters["yield_stress"].max) == (0.0, 30.0)
    assert parameters["consistency"].value == 9.0
    assert parameters["yield_stress"].user_data["unit"] == "Pa"
    assert (model.name, model.independent_vars, tuple(model.param_names)) == ("Model(herschel_bulkley)", ["x"], law.names)


def test_a_start_at_a_bound_is_moved_inside():
    _, parameters = rk.lmfit_model(rk.MODELS["bingham"], RATES, 3.0 * RATES - 1.0)
    assert parameters["yield_stress"].value > 0.0


def test_ties_and_sums_are_what_it_is_for():
    law, stress = curve("cross")
    model, parameters = rk.lmfit_model(law, RATES, stress)
    parameters["infinite_shear_viscosity"].set(expr="0.001 * zero_shear_viscosity")
    found = model.fit(stress, parameters, x=RATES, weights=1.0 / stress)
    tied = rk.Law(
        name="tied",
        parameters=tuple(law.parameter(name) for name in ("zero_shear_viscosity", "time_constant", "rate_index")),
        value=lambda x, zero_shear_viscosity, time_constant, rate_index: law.value(
            x, zero_shear_viscosity, 0.001 * zero_shear_viscosity, time_constant, rate_index
        ),
        jacobian=lambda x, zero_shear_viscosity, time_constant, rate_index: (
            law.jacobian(x, zero_shear_viscosity, 0.001 * zero_shear_viscosity, time_constant, rate_index)
            @ np.array([[1.0, 0.0, 0.0], [0.001, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
        ),
    )
    ours = rk.fit_law(RATES, stress, tied, weighting=stress, start={"zero_shear_viscosity": 500.0, "time_constant": 1.0, "rate_index": 0.7})
    for name, estimate in ours.parameters.items():
        assert found.params[name].value == pytest.approx(estimate.value, abs=1e-3 * estimate.standard_error)
        assert found.params[name].stderr == pytest.approx(estimate.standard_error, rel=1e-3)
    both = model + rk.lmfit_model(rk.MODELS["newtonian"], RATES, stress).model
    assert {*both.param_names} == {*law.names, "viscosity"}


def test_no_start_is_said():
    bare = rk.Law(name="bare", parameters=(rk.Parameter("a"),), value=lambda x, a: a * x, jacobian=lambda x, a: x[:, None])
    with pytest.raises(rk.FitError, match="bare has no guess for a"):
        rk.lmfit_model(bare, RATES, RATES)
