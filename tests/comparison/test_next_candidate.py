"""What to make next: inside what was tried, by seed, and the teaching run is the one that mathematics names."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from rheokit.base.errors import ComparisonError
from rheokit.comparison.effects import fit_effects
from rheokit.comparison.feasible import HardLimit
from rheokit.comparison.next_candidate import meeting_probability, next_candidates

RNG = np.random.default_rng(12)
X, Z = RNG.uniform(0.0, 1.0, 14), RNG.uniform(0.0, 1.0, 14)


def model(truth, seed, scale="logarithmic", scatter=0.03, **more):
    noise = scatter * np.random.default_rng(seed).standard_normal(X.size)
    y = np.exp(truth(X, Z) + noise) if scale == "logarithmic" else truth(X, Z) + noise
    return fit_effects({"x": X, "z": Z}, y, response="r", scale=scale, **more)


MODELS = {"one": model(lambda x, z: 1.0 + x, 1), "two": model(lambda x, z: 1.0 + x - z, 2)}
LIMITS = [HardLimit(line="one", lower=np.exp(1.4), upper=np.exp(1.6)), HardLimit(line="two", lower=np.exp(0.9), upper=np.exp(1.1))]


def test_the_likeliest_meets_the_limits_and_lies_where_it_must():
    found = next_candidates(MODELS, LIMITS, seed=3)
    best = found.suggestions[0]
    assert best.purpose == "likeliest"
    # The limits are met in the middle at x = z = 0.5, three scatters to either side; a fit to 14 runs moves it by less than 0.1.
    assert best.setting["x"] == pytest.approx(0.5, abs=0.12)
    assert best.setting["z"] == pytest.approx(0.5, abs=0.12)
    assert best.probability > 0.9
    assert {one.purpose for one in found.suggestions} == {"likeliest", "likeliest elsewhere", "teaches most"}
    other = found.suggestions[1]
    width = np.ptp(MODELS["one"].runs, axis=0)
    assert max(abs(other.setting[name] - best.setting[name]) / size for name, size in zip("xz", width, strict=True)) >= 0.25
    for one in found.suggestions:
        assert MODELS["one"].inside(np.array([[one.setting["x"], one.setting["z"]]]))[0]
    assert "probability" in str(found)
    assert str(next_candidates(MODELS, LIMITS, seed=3)) == str(found)


def test_one_line_alone_has_the_exact_probability():
    only = {"one": MODELS["one"]}
    point = np.array([[0.41, 0.5]])
    mean, variance = only["one"].mean_and_variance(point)
    error = float(np.sqrt(variance[0] + only["one"].scatter ** 2))
    exact = stats.t.cdf((1.6 - mean[0]) / error, 11) - stats.t.cdf((1.4 - mean[0]) / error, 11)
    shares = [meeting_probability(only, LIMITS[:1], point, seed=seed)[0] for seed in range(40)]
    # 40 times 1000 draws: standard error at most sqrt(0.25/40000) = 0.0025; six of them.
    assert np.mean(shares) == pytest.approx(exact, abs=0.015)
    assert 0.5 < exact < 0.9
    # The mean of many runs is surer than one run of them.
    assert meeting_probability(only, LIMITS[:1], np.array([[0.47, 0.5]]), new_run=False)[0] > meeting_probability(
        only, LIMITS[:1], np.array([[0.47, 0.5]])
    )


def test_the_run_that_teaches_most_shrinks_the_variance_as_a_new_fit_does():
    found = next_candidates(MODELS, LIMITS, seed=3)
    most = next(one for one in found.suggestions if one.purpose == "teaches most")
    region = np.random.default_rng(0).uniform(0.2, 0.8, (400, 2))

    def mean_variance(added):
        rows = np.column_stack([np.ones(X.size + 1), np.append(X, added[0]), np.append(Z, added[1])])
        there = np.column_stack([np.ones(len(region)), region])
        return np.einsum("ij,jk,ik->i", there, np.linalg.inv(rows.T @ rows), there).mean()

    taught = mean_variance((most.setting["x"], most.setting["z"]))
    # The region of the suggestion is not quite this box, so it need only beat nine in ten settings drawn at random.
    others = [mean_variance(point) for point in np.random.default_rng(1).uniform(0.0, 1.0, (200, 2))]
    assert taught < np.quantile(others, 0.1)


def test_ranges_are_kept_and_a_mixture_closes():
    found = next_candidates(MODELS, LIMITS, {"x": (0.6, 0.9)}, seed=1)
    assert all(0.6 <= one.setting["x"] <= 0.9 for one in found.suggestions)
    shares = np.random.default_rng(5).dirichlet([4.0, 4.0, 4.0], 15)
    y = np.exp(shares @ np.array([1.0, 2.0, 0.5]) + 0.02 * np.random.default_rng(6).standard_normal(15))
    blend = fit_effects(dict(zip("abc", shares.T, strict=True)), y, response="r", model="mixture_linear")
    found = next_candidates({"r": blend}, [HardLimit(line="r", lower=3.0, upper=3.5)], seed=2)
    assert all(sum(one.setting.values()) == pytest.approx(1.0, abs=1e-9) for one in found.suggestions)


def test_what_cannot_be_suggested_is_refused():
    with pytest.raises(ComparisonError, match=r"^no model of three; fit one for each limit$"):
        next_candidates(MODELS, [HardLimit(line="three", lower=0.0)])
    with pytest.raises(ComparisonError, match=r"^no setting inside these ranges lies in the region that was tried"):
        next_candidates(MODELS, LIMITS, {"x": (3.0, 4.0)})
    with pytest.raises(ComparisonError, match=r"^w is no factor; they are x, z$"):
        next_candidates(MODELS, LIMITS, {"w": (0.0, 1.0)})
    other = {"one": MODELS["one"], "two": fit_effects({"x": X}, np.exp(X), response="r", scale="linear")}
    with pytest.raises(ComparisonError, match=r"^two: the models must rest on the same factors and runs$"):
        next_candidates(other, LIMITS)
