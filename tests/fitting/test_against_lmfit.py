"""Two engines that share no code: lmfit with the same residuals must find the same values and standard errors."""

import lmfit
import numpy as np
import pytest

import rheokit as rk

RATES = np.geomspace(0.01, 500.0, 25)
TRUTH = {"power_law": (14.0, 0.38), "herschel_bulkley": (40.0, 14.0, 0.45), "bingham": (40.0, 2.0), "cross": (900.0, 0.8, 4.0, 0.75)}


@pytest.mark.parametrize("name", TRUTH)
@pytest.mark.parametrize("weighting", ["absolute", "relative"])
def test_value_and_standard_error(name, weighting):
    law = rk.MODELS[name]
    noise = np.random.default_rng(7).standard_normal(RATES.size)
    stress = law.value(RATES, *TRUTH[name]) * (1.0 + 0.02 * noise)
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), name, weighting=weighting)
    # The other engine is given our final weights: reweighting is our own, the least squares under it is not.
    deviations = fit.stress(RATES) if weighting == "relative" else np.ones(RATES.size)
    parameters = lmfit.Parameters()
    for one, value in zip(law.names, TRUTH[name], strict=True):
        parameters.add(one, value=value)
    found = lmfit.minimize(
        lambda moved: (stress - law.value(RATES, *(moved[one].value for one in law.names))) / deviations,
        parameters, xtol=1e-14, ftol=1e-14, gtol=1e-14,
    )  # fmt: skip
    for one in law.names:
        ours = fit.parameters[one]
        # It takes derivatives by forward differences with steps of 1e-8, which leave some 1e-5 in a standard error of this condition.
        assert ours.value == pytest.approx(found.params[one].value, abs=1e-4 * found.params[one].stderr)
        assert ours.standard_error == pytest.approx(found.params[one].stderr, rel=1e-4)
    assert fit.sum_of_squares <= found.chisqr * (1.0 + 1e-13)
    assert fit.sum_of_squares == pytest.approx(found.chisqr, rel=1e-9)
    assert fit.degrees_of_freedom == found.nfree
