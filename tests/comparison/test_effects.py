"""Effects, desirability, fronts and ranks against published examples and an independent library."""

from __future__ import annotations

import numpy as np
import pytest
from reference_data import reference

from rheokit.base.errors import ComparisonError, FitError, RangeError
from rheokit.comparison.desirability import Aim, desirability, most_desirable
from rheokit.comparison.effects import fit_effects
from rheokit.comparison.pareto import pareto_front, rank_shares

YARN, TREAD = reference("cornell_yarn"), reference("tire_tread")


def yarn():
    shares = np.array(YARN["shares"])
    runs = {f"polymer {index + 1}": shares[:, index] for index in range(3)}
    return fit_effects(runs, YARN["elongation"], response="elongation", unit="1", model="mixture_quadratic", scale="linear")


def tread(response):
    runs = {name: np.array(TREAD[name], dtype=float) for name in ("x1", "x2", "x3")}
    return fit_effects(runs, TREAD[response], response=response, model="quadratic", scale="linear")


def test_the_mixture_of_yarns():
    found = yarn()
    order = [0, 1, 2, 3, 4, 5]  # 1, 2, 3, 12, 13, 23
    assert found.coefficients[order] == pytest.approx(YARN["coefficients"], abs=0.05)
    assert found.scatter == pytest.approx(YARN["scatter"], abs=5e-6)
    assert found.lack_of_fit is None  # as many points as terms
    one, three = YARN["maximum_at"][0], YARN["maximum_at"][2]
    best = found.predict({"polymer 1": one, "polymer 2": 0.0, "polymer 3": three})
    assert best.value == pytest.approx(YARN["maximum"], abs=1e-3)
    low, high = best.interval.lower, best.interval.upper
    assert low < best.value < high


@pytest.mark.parametrize("model", ["main_effects", "interactions", "quadratic"])
def test_effects_errors_and_intervals_agree_with_an_independent_library(model):
    api = pytest.importorskip("statsmodels.api")
    runs = {name: np.array(TREAD[name], dtype=float) for name in ("x1", "x2", "x3")}
    y = np.log(np.array(TREAD["y1"], dtype=float))
    ours = fit_effects(runs, TREAD["y1"], response="y1", model=model)
    x = np.column_stack(list(runs.values()))
    columns = [np.ones(20), *x.T]
    if model != "main_effects":
        columns += [x[:, 0] * x[:, 1], x[:, 0] * x[:, 2], x[:, 1] * x[:, 2]]
    if model == "quadratic":
        columns += [x[:, 0] ** 2, x[:, 1] ** 2, x[:, 2] ** 2]
    theirs = api.OLS(y, np.column_stack(columns)).fit()
    np.testing.assert_allclose(ours.coefficients, theirs.params, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(ours.standard_errors, theirs.bse, rtol=1e-9)
    np.testing.assert_allclose(ours.probabilities, theirs.pvalues, rtol=1e-7, atol=1e-14)
    np.testing.assert_allclose(ours.leverage, theirs.get_influence().hat_matrix_diag, rtol=1e-9)
    point = {"x1": 0.3, "x2": -0.4, "x3": 0.2}
    row = (
        [1.0, 0.3, -0.4, 0.2]
        + [0.3 * -0.4, 0.3 * 0.2, -0.4 * 0.2] * (model != "main_effects")
        + [0.09, 0.16, 0.04] * (model == "quadratic")
    )
    frame = theirs.get_prediction(np.array([row])).summary_frame(alpha=0.05)
    new, mean = ours.predict(point), ours.predict(point, new_run=False)
    assert np.log([new.interval.lower, new.interval.upper]) == pytest.approx([frame.obs_ci_lower[0], frame.obs_ci_upper[0]], rel=1e-9)
    assert np.log([mean.interval.lower, mean.interval.upper]) == pytest.approx([frame.mean_ci_lower[0], frame.mean_ci_upper[0]], rel=1e-9)


def test_lack_of_fit_by_hand_and_by_construction():
    found = tread("y1")
    repeats = np.array(TREAD["y1"][-6:], dtype=float)
    assert found.lack_of_fit.pure == pytest.approx(((repeats - repeats.mean()) ** 2).sum(), rel=1e-12)
    assert (found.lack_of_fit.pure_freedom, found.lack_of_fit.lack_freedom) == (5, 5)
    rng = np.random.default_rng(1)
    x = np.repeat(np.linspace(-1.0, 1.0, 6), 3)
    bent = fit_effects({"x": x}, 5.0 + x**2 + 0.01 * rng.standard_normal(18), response="r", scale="linear")
    assert bent.lack_of_fit.probability < 1e-6
    assert "the model misses more than repeats scatter" in str(bent)


def test_why_lack_of_fit_cannot_be_told_is_said():
    assert "6 different settings for 6 terms" in str(yarn())
    once = fit_effects({"x": np.arange(6.0)}, np.exp([0.1, 1.0, 2.2, 2.9, 4.1, 5.0]), response="r")
    assert "nothing was repeated" in str(once)
    copies = fit_effects({"x": [0.0, 0.0, 1.0, 1.0, 2.0, 2.0]}, [1.0, 1.0, 2.0, 2.0, 5.0, 5.0], response="r")
    assert "are they copies?" in str(copies)


def test_the_best_tread_by_our_own_search():
    models = {name: tread(name) for name in ("y1", "y2", "y3", "y4")}
    aims = {
        "y1": Aim(lower=120.0, upper=170.0, target=170.0),
        "y2": Aim(lower=1000.0, upper=1300.0, target=1300.0),
        "y3": Aim(lower=400.0, upper=600.0, target=500.0),
        "y4": Aim(lower=60.0, upper=75.0, target=67.5),
    }

    def predictor(name):
        found = models[name]

        def predicted(points):
            x = np.asarray(points)
            products = [x[:, 0] * x[:, 1], x[:, 0] * x[:, 2], x[:, 1] * x[:, 2]]
            return np.column_stack([np.ones(len(x)), x, *products, x**2]) @ found.coefficients

        return predicted

    bound = np.full(3, 1.633)
    setting, found = most_desirable({name: predictor(name) for name in models}, aims, -bound, bound)
    assert found.whole == pytest.approx(TREAD["best"], abs=1e-3)  # the ridge is flat: the desirability is tested, not the setting
    assert set(found.parts) == {"y1", "y2", "y3", "y4"}
    assert "all together" in str(found)
    assert "y3" in str(found)
    assert np.all(np.abs(setting) <= 1.633)
    again, _ = most_desirable({name: predictor(name) for name in models}, aims, -bound, bound)
    np.testing.assert_array_equal(setting, again)  # by seed


def test_aims_and_their_corners():
    larger, smaller, middle = (
        Aim(lower=1.0, upper=3.0, target=3.0),
        Aim(lower=1.0, upper=3.0, target=1.0),
        Aim(lower=1.0, upper=3.0, target=2.0, weight=2.0),
    )
    assert larger.degree(np.array([0.5, 2.0, 3.0, 9.0])).tolist() == [0.0, 0.5, 1.0, 1.0]
    assert smaller.degree(np.array([0.5, 2.0, 3.0, 9.0])).tolist() == [1.0, 0.5, 0.0, 0.0]
    assert middle.degree(np.array([1.5, 2.0, 3.5])).tolist() == [0.25, 1.0, 0.0]
    assert desirability({"a": 2.0, "b": 0.0}, {"a": larger, "b": larger}).whole == 0.0
    with pytest.raises(ComparisonError, match=r"^no value of b; every aim needs one$"):
        desirability({"a": 2.0}, {"a": larger, "b": larger})
    with pytest.raises(ComparisonError, match="an aim needs lower < upper"):
        Aim(lower=3.0, upper=1.0, target=2.0)


@pytest.mark.parametrize(
    ("runs", "model", "message"),
    [
        (
            {"a": [1.0, 2.0, 3.0]},
            "quadratic",
            r"^3 terms \(constant, a, a²\) need more than 3 runs; make more runs or take a smaller model$",
        ),
        ({"a": [1.0, 2.0, 3.0, 4.0], "b": [2.0, 4.0, 6.0, 8.0]}, "main_effects", r"^b cannot be told from a in these runs; leave one out"),
        ({"a": [0.0] * 4}, "main_effects", r"^a is zero in every run; leave it out$"),
        ({"a": [2.0] * 4}, "main_effects", r"^a cannot be told from constant in these runs"),
        ({"a": [1.0, 2.0]}, "cubic", r"^'cubic' is no model of effects; they are mixture_linear"),
    ],
)
def test_what_the_runs_cannot_say_is_refused(runs, model, message):
    with pytest.raises(FitError, match=message):
        fit_effects(runs, np.arange(1.0, len(next(iter(runs.values()))) + 1.0), response="r", model=model)


def test_mixtures_close_and_logarithms_are_of_positive_numbers():
    with pytest.raises(ComparisonError, match=r"^run 2: the shares of a, b add up to 0\.9, not to 1$"):
        fit_effects({"a": [0.5, 0.4, 0.3], "b": [0.5, 0.5, 0.7]}, [1.0, 2.0, 3.0], response="r", model="mixture_linear")
    with pytest.raises(FitError, match=r"^a response that is not positive has no logarithm"):
        fit_effects({"a": [1.0, 2.0, 3.0]}, [1.0, 0.0, 3.0], response="r")


def test_a_question_outside_what_was_tried_is_refused():
    found = tread("y1")
    with pytest.raises(RangeError, match=r"^x1 1\.800 lies outside the -1\.633 to 1\.633 that was tried$"):
        found.predict({"x1": 1.8, "x2": 0.0, "x3": 0.0})
    with pytest.raises(RangeError, match=r"^the point lies outside the region that was tried, though inside the range of every factor$"):
        found.predict({"x1": 1.6, "x2": 1.6, "x3": 1.6})
    with pytest.raises(ComparisonError, match=r"^the model takes x1, x2, x3; x4, x3 does not fit$"):
        found.predict({"x1": 0.0, "x2": 0.0, "x4": 0.0})
    with pytest.raises(ComparisonError, match=r"^the shares add up to 1\.2, not to 1$"):
        yarn().predict({"polymer 1": 0.5, "polymer 2": 0.5, "polymer 3": 0.2})


def test_a_front_and_ranks():
    table = np.array([[1.0, 5.0], [2.0, 4.0], [1.5, 3.0], [3.0, 1.0], [2.0, 4.0]])
    assert pareto_front(table).tolist() == [True, True, False, True, True]
    shares = rank_shares({"a": [3.0, 1.0], "b": [2.0, 2.0], "c": [1.0, 0.0]})
    assert shares["a"].tolist() == [0.5, 0.5, 0.0]
    assert shares["b"].tolist() == [0.5, 0.5, 0.0]
    assert shares["c"].tolist() == [0.0, 0.0, 1.0]
    tied = rank_shares({"a": [1.0], "b": [1.0]}, best="smallest")
    assert tied["a"].tolist() == [0.5, 0.5]
    with pytest.raises(ComparisonError, match="as many resamples"):
        rank_shares({"a": [1.0], "b": [1.0, 2.0]})
    with pytest.raises(ComparisonError, match="a front needs a table of numbers"):
        pareto_front(np.array([1.0, np.nan]))


def test_nothing_allowed_is_said_and_not_returned():
    aims = {"y": Aim(lower=0.0, upper=1.0, target=1.0)}
    with pytest.raises(ComparisonError, match=r"^no setting that was looked at may be taken"):
        most_desirable({"y": lambda x: x[:, 0]}, aims, np.zeros(1), np.ones(1), allowed=lambda x: x[:, 0] > 2.0)
