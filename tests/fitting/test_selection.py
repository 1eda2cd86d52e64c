"""Comparison of laws: the criterion against another program, what is not ranked and what is not told apart."""

import pickle

import matplotlib.pyplot as plt
import numpy as np
import pytest
import statsmodels.api as sm

import rheokit as rk
from rheokit.fitting import selection

RATES = np.geomspace(0.1, 100.0, 20)
NOISE = np.random.default_rng(11).standard_normal(20)
CURVE = rk.FlowCurve(RATES, (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.03 * NOISE))


def by_name(comparison):
    return {candidate.name: candidate for candidate in comparison.candidates}


@pytest.mark.parametrize("deviations", [None, 0.1 * CURVE.shear_stress])
def test_the_criterion_is_that_of_another_program(deviations):
    weighting = "absolute" if deviations is None else deviations
    found = by_name(rk.compare_models(CURVE, models=["bingham", "newtonian"], weighting=weighting))
    weights = np.ones(20) if deviations is None else deviations**-2.0
    for name, columns in (("bingham", sm.add_constant(RATES)), ("newtonian", RATES[:, None])):
        other = sm.WLS(CURVE.shear_stress, columns, weights=weights).fit()
        count = columns.shape[1] + 1  # the scale is estimated too
        aicc = -2.0 * other.llf + 2.0 * count + 2.0 * count * (count + 1) / (20 - count - 1)
        assert found[name].aicc == pytest.approx(aicc, rel=1e-12)
        assert found[name].parameters == count


def test_known_deviations_count_no_scale():
    deviations = 0.03 * CURVE.shear_stress
    found = by_name(rk.compare_models(CURVE, models=["bingham"], weighting=deviations, scale="known"))["bingham"]
    likelihood = -0.5 * found.fit.sum_of_squares - np.log(deviations).sum() - 10.0 * np.log(2.0 * np.pi)
    assert found.aicc == pytest.approx(-2.0 * likelihood + 4.0 + 12.0 / 17.0, rel=1e-12)


def test_relative_weights_bring_the_logarithms_of_each_fit():
    # The density of stress with a standard deviation of s times the fitted stress f is that of stress over f, divided by f.
    found = by_name(rk.compare_models(CURVE, models=["bingham"]))["bingham"]
    fitted = found.fit.stress(RATES)
    scatter = np.sqrt(np.mean((CURVE.shear_stress / fitted - 1.0) ** 2))
    density = np.exp(-0.5 * ((CURVE.shear_stress - fitted) / (scatter * fitted)) ** 2) / (np.sqrt(2.0 * np.pi) * scatter * fitted)
    assert found.aicc == pytest.approx(-2.0 * np.log(density).sum() + 6.0 + 24.0 / 16.0, rel=1e-12)


def test_every_law_is_shown_and_the_true_one_wins():
    comparison = rk.compare_models(CURVE)
    assert {candidate.name for candidate in comparison.candidates} == set(rk.MODELS)
    assert comparison.best.law is rk.MODELS["herschel_bulkley"]
    assert [one.difference for one in comparison.ranked] == sorted(one.difference for one in comparison.ranked)
    assert sum(one.weight for one in comparison.ranked) == pytest.approx(1.0, rel=1e-12)
    first, second = comparison.ranked[:2]
    assert second.weight / first.weight == pytest.approx(np.exp(-0.5 * second.difference), rel=1e-12)
    assert "residuals go in streaks" in by_name(comparison)["newtonian"].remark
    assert by_name(comparison)["herschel_bulkley"].remark == ""
    assert "infinite shear viscosity not determined" in by_name(comparison)["herschel_bulkley_plateau"].remark
    assert comparison.conclusion == "herschel bulkley describes these points best"
    for name in rk.MODELS:
        assert name.replace("_", " ") in str(comparison)
    assert "proportional to the fitted value" in str(comparison)


def test_laws_that_are_not_told_apart_are_named():
    # Over a third of a decade with 3 % of scatter nothing tells a power law from a yield stress.
    rates = np.geomspace(10.0, 20.0, 12)
    curve = rk.FlowCurve(rates, 20.0 * rates**0.5 * (1.0 + 0.03 * NOISE[:12]))
    comparison = rk.compare_models(curve, models=["power_law", "bingham", "casson"])
    assert comparison.ranked[1].difference < selection.DISTINGUISHABLE
    assert "is not distinguishable from" in comparison.conclusion
    assert all(one.name.replace("_", " ") in comparison.conclusion for one in comparison.ranked if one.difference < 2.0)


def test_too_few_points_are_not_ranked():
    comparison = rk.compare_models(rk.FlowCurve(RATES[:5], CURVE.shear_stress[:5]))
    found = by_name(comparison)
    assert found["herschel_bulkley"].remark == "not ranked: 5 points are too few for 4 estimated numbers"
    assert np.isnan(found["herschel_bulkley"].aicc)
    assert not found["casson"].reason
    fewer = by_name(rk.compare_models(rk.FlowCurve(RATES[:3], CURVE.shear_stress[:3])))
    assert fewer["cross"].fit is None
    assert "3 usable points for the 4 free parameters of cross" in fewer["cross"].reason
    with pytest.raises(rk.ComparisonError, match="no law could be ranked"):
        _ = rk.compare_models(rk.FlowCurve(RATES[:3], CURVE.shear_stress[:3]), models=["bingham"]).best
    assert rk.compare_models(rk.FlowCurve(RATES[:3], CURVE.shear_stress[:3]), models=["bingham"]).conclusion == "no law could be ranked"


def test_a_wrong_shape_is_said_even_of_the_best():
    assert "even its residuals go in streaks" in rk.compare_models(CURVE, models=["newtonian", "power_law"]).conclusion


def test_perfect_points_rank_the_law_with_fewer_parameters_first():
    comparison = rk.compare_models(rk.FlowCurve(RATES, 30.0 + 2.0 * RATES), models=["herschel_bulkley", "bingham", "casson"])
    assert [one.name for one in comparison.candidates] == ["bingham", "herschel_bulkley", "casson"]


def test_what_makes_no_sense_is_refused():
    with pytest.raises(rk.FitError, match="unknown model 'maxwell'"):
        rk.compare_models(CURVE, models=["maxwell"])
    with pytest.raises(rk.FitError, match="models is empty"):
        rk.compare_models(CURVE, models=[])
    with pytest.raises(rk.FitError, match="floor goes with"):
        rk.compare_models(CURVE, weighting="absolute", floor=1.0)


def test_it_is_drawn_and_travels():
    comparison = rk.compare_models(CURVE)
    ax = comparison.plot()
    ax.figure.canvas.draw()
    assert next(label.get_text() for label in ax.get_yticklabels()) == "herschel bulkley"
    assert {"10", "100"} <= {label.get_text() for label in ax.get_xticklabels()}
    plt.close(ax.figure)
    back = pickle.loads(pickle.dumps(comparison))
    assert str(back) == str(comparison)
    assert "<td" in comparison._repr_html_()


@pytest.mark.parametrize(("true", "wins"), [("herschel_bulkley", True), ("power_law", False)])
def test_a_yield_stress_is_found_where_there_is_one(true, wins):
    # With a third of the stress at 1 1/s as yield and 3 % of scatter; the control has none, and then it must lose nearly always.
    parameters = {"herschel_bulkley": (6.0, 12.0, 0.4), "power_law": (18.0, 0.35)}[true]
    generator, found = np.random.default_rng(5), 0
    for _ in range(40):
        stress = rk.MODELS[true].value(RATES, *parameters) * (1.0 + 0.03 * generator.standard_normal(20))
        found += (
            rk.compare_models(rk.FlowCurve(RATES, stress), models=["herschel_bulkley", "power_law"]).best.law.name == "herschel_bulkley"
        )
    assert found >= 36 if wins else found <= 10


def test_any_laws_are_compared_as_flow_laws_are():
    laws = [rk.MODELS[name] for name in ("bingham", "newtonian")]
    flow, plain = rk.compare_models(CURVE, models=laws), rk.compare_laws(RATES, CURVE.shear_stress, laws, weighting="relative")
    assert [one.name for one in plain.candidates] == [one.name for one in flow.candidates]
    assert [one.aicc for one in plain.candidates] == [one.aicc for one in flow.candidates]
    assert str(plain) == str(flow)
    # What fit_flow_curve leaves out, a rate of zero, stays for laws of anything else.
    assert rk.compare_laws(np.append(0.0, RATES), np.append(30.0, CURVE.shear_stress), laws).points == 21
    with pytest.raises(rk.FitError, match="laws is empty"):
        rk.compare_laws(RATES, CURVE.shear_stress, [])
    with pytest.raises(rk.FitError, match="1 usable point for the 2 free parameters of bingham"):
        rk.compare_laws(RATES[:1], CURVE.shear_stress[:1], laws[:1])
