"""Resampling: each draw is the fit of its own curve, and the spread of all is the standard error."""

import pickle

import numpy as np
import pytest

import rheokit as rk
from rheokit.fitting import bootstrap as module

RATES = np.geomspace(0.1, 100.0, 25)
NOISE = np.random.default_rng(11).standard_normal(25)
CURVE = rk.FlowCurve(RATES, (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.02 * NOISE))
FIT = rk.fit_flow_curve(CURVE, "herschel_bulkley")


@pytest.mark.parametrize("kind", ["residual", "case"])
@pytest.mark.parametrize("weighting", ["relative", "absolute", 0.02 * CURVE.shear_stress], ids=["relative", "absolute", "given"])
def test_each_draw_is_the_fit_of_its_curve(monkeypatch, kind, weighting):
    fit = rk.fit_flow_curve(CURVE, "herschel_bulkley", weighting=weighting, bounds={"flow_index": (0.1, 0.9)})
    seen, own = [], module.solve_chunk
    monkeypatch.setattr(module, "solve_chunk", lambda *given: seen.append(given) or own(*given))
    found = fit.bootstrap(100, kind=kind, seed=3)
    ((_, rates, stresses, deviations),) = seen
    assert len(found.draws) == 100
    for row in range(0, 100, 7):
        rate = rates if rates.ndim == 1 else rates[row]
        again = weighting if isinstance(weighting, str) else deviations if deviations.ndim == 1 else deviations[row]
        one = rk.fit_flow_curve(rk.FlowCurve(rate, stresses[row]), "herschel_bulkley", weighting=again, bounds={"flow_index": (0.1, 0.9)})
        # Both stop within 1e-11 of a standard error; what they print is the same to far more than an interval needs.
        errors = np.sqrt(np.diag(fit.covariance))
        assert np.abs(found.draws[row] - one.values).max() <= 1e-5 * errors.max()
        assert (np.abs(found.draws[row] - one.values) <= 1e-4 * errors).all()


def test_cases_keep_their_points_together(monkeypatch):
    seen, own = [], module.solve_chunk
    monkeypatch.setattr(module, "solve_chunk", lambda *given: seen.append(given) or own(*given))
    FIT.bootstrap(100, kind="case")
    ((_, rates, stresses, _),) = seen
    place = np.searchsorted(RATES, rates)
    assert np.array_equal(RATES[place], rates)
    assert np.array_equal(CURVE.shear_stress[place], stresses)
    assert len({tuple(row) for row in place}) == 100


def line():
    return rk.Law(
        name="line",
        parameters=(rk.Parameter("a"), rk.Parameter("b")),
        value=lambda x, a, b: a + b * x,
        jacobian=lambda x, a, b: np.column_stack([np.ones_like(x), x]) + 0.0 * (a + b),
        linear=("a", "b"),
        basis=lambda x: np.column_stack([np.ones_like(x), x]),
    )


def test_the_spread_of_a_line_is_that_of_theory():
    x = np.linspace(-3.0, 5.0, 24)
    y = 1.0 + 2.0 * x + 0.2 * np.random.default_rng(8).standard_normal(24)
    fit = rk.fit_law(x, y, line())
    found = fit.bootstrap(2000, seed=1)
    # The variance dealt is the mean square of residuals over one less their leverage; the covariance of a line then follows exactly,
    # and 2000 draws give a standard deviation to 1.6 %: 5 % is three of these.
    columns = np.column_stack([np.ones(24), x])
    inverse = np.linalg.inv(columns.T @ columns)
    leverage = np.einsum("np,pq,nq->n", columns, inverse, columns)
    dealt = fit.residuals / np.sqrt(1.0 - leverage)
    expected = np.sqrt(np.var(dealt) * np.diag(inverse))
    assert [found.standard_error("a"), found.standard_error("b")] == pytest.approx(expected, rel=0.05)
    assert expected == pytest.approx([estimate.standard_error for estimate in fit.parameters.values()], rel=0.05)
    cases = fit.bootstrap(500, kind="case", seed=1)
    assert cases.standard_error("b") == pytest.approx(fit.parameters["b"].standard_error, rel=0.3)


def test_intervals_errors_and_bands_agree_with_the_derivatives_where_the_law_is_nearly_straight():
    found = FIT.bootstrap(1000, seed=2)
    for name in FIT.law.names:
        # The draws give a standard deviation to 2.2 %; 25 points, and the bend of the law, add some percent.
        assert found.standard_error(name) == pytest.approx(FIT.parameters[name].standard_error, rel=0.15)
        interval = found.interval(name, 0.9)
        inside = ((found[name] >= interval.lower) & (found[name] <= interval.upper)).mean()
        assert inside == pytest.approx(0.9, abs=0.002)
    band, usual = found.band([0.05, 3.0]), FIT.band([0.05, 3.0])
    assert band.upper - band.lower == pytest.approx(usual.upper - usual.lower, rel=0.2)
    assert [finding.check for finding in band.findings] == ["extrapolation"]


def test_the_scatter_dealt_has_no_mean(monkeypatch):
    # A line through nothing, for points that do not go there: its residuals have a mean, which no resample may carry.
    seen, own = [], module.solve_chunk
    monkeypatch.setattr(module, "solve_chunk", lambda *given: seen.append(given) or own(*given))
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, 10.0 + RATES), "newtonian", weighting="absolute")
    assert fit.residuals.mean() > 3.0
    found = fit.bootstrap(1000)
    ((_, _, stresses, _),) = seen
    assert (stresses - fit.stress(RATES)).mean() == pytest.approx(0.0, abs=4.0 * fit.spread.scale / np.sqrt(25_000.0))
    assert found["viscosity"].mean() == pytest.approx(fit.values[0], abs=4.0 * found.standard_error("viscosity") / np.sqrt(1000.0))


def test_bounds_and_fixed_values_hold():
    stress = 12.0 * RATES**0.4 * (1.0 + 0.02 * NOISE)
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, stress), "herschel_bulkley", fixed={"flow_index": 0.41})
    found = fit.bootstrap(300)
    assert (found.draws[:, 2] == 0.41).all()
    assert found["yield_stress"].min() >= 0.0
    with pytest.raises(rk.FitError, match="flow_index was fixed by the caller"):
        found.interval("flow_index")
    with pytest.raises(rk.FitError, match="has no parameter 'slope'"):
        found.interval("slope")
    assert "flow index" not in str(found)


def test_the_seed_decides():
    one, same, other = (FIT.bootstrap(100, seed=seed) for seed in (5, 5, 6))
    assert np.array_equal(one.draws, same.draws)
    assert not np.array_equal(one.draws, other.draws)
    back = pickle.loads(pickle.dumps(one))
    assert np.array_equal(back.draws, one.draws)
    assert "100 of 100 residual resamples, seed 5" in str(back)
    assert "<td" in back._repr_html_()


def test_laws_that_do_not_broadcast_and_fits_that_fail(monkeypatch):
    x = np.linspace(-3.0, 5.0, 24)
    fit = rk.fit_law(x, 1.0 + 2.0 * x + 0.2 * NOISE[:24], line())
    own, calls = module.solve, []

    def failing(request, weighting):
        calls.append(1)
        if len(calls) % 10 == 0:
            raise rk.FitError("no")
        return own(request, weighting)

    monkeypatch.setattr(module, "solve", failing)
    found = fit.bootstrap(200)
    assert (len(found.draws), found.repeats) == (180, 200)
    assert str(found.findings[0]) == "20 of 200 resampled curves could not be fitted and are left out"
    assert found.findings[0].severity == "caution"
    assert found.band([0.0, 1.0]).lower.shape == (2,)


def test_what_cannot_be_resampled_says_so():
    with pytest.raises(rk.FitError, match="neither 'residual' nor 'case'"):
        FIT.bootstrap(kind="wild")
    with pytest.raises(rk.FitError, match="take 100 or more"):
        FIT.bootstrap(10)
    perfect = rk.fit_flow_curve(rk.FlowCurve(RATES, 3.0 + RATES), "bingham")
    with pytest.raises(rk.FitError, match="cannot be resampled: the points lie on the curve"):
        perfect.bootstrap()
