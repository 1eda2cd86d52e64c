"""Exponents, next candidates and rework: short runs of the three studies, with their negative controls."""

import numpy as np
import pytest

from rheokit.virtual import slate_grey_ink
from studies import gellant_exponent, next_candidate, rework
from studies.recipe_truth import LINES, LOAD, POINT, Truth, binomial_limits, load_factors

REPEATS = 400


def test_the_exponent_is_covered_and_a_shrunk_interval_is_seen():
    low, high = binomial_limits(REPEATS)
    for one in gellant_exponent.study(REPEATS, 7):
        assert low <= one.held <= high
        assert one.held_shrunk < low
    assert gellant_exponent.table([one]).count("\n") == 2


def test_the_suggested_candidate_regrets_less_than_chance_and_than_the_highest_desirability():
    found = {one.choice: one for one in next_candidate.study(24, 5)}
    suggested = found["suggested"]
    assert suggested.median < 0.5 * found["random"].median
    assert suggested.median < 0.5 * found["highest desirability"].median
    assert suggested.near > 0.3
    # The negative control is the random choice: a study that could not tell would find it as good.
    assert found["random"].median > 0.3


def test_rework_keeps_what_it_claims_and_claims_too_sure_are_seen():
    found = rework.study(300, 11)
    assert [one for one in found if rework.too_few(one)] == []
    sure = found[-1]
    assert sure.count > 50
    assert sure.held >= binomial_limits(sure.count)[0]
    oversure = rework.study(300, 11, oversure=rework.OVERSURE)
    assert any(rework.too_few(one) for one in oversure)


def test_the_truth_is_that_of_the_ink_and_its_scatter_that_of_the_scenario():
    standard = Truth().lines(3.0, 22.0)
    stress = slate_grey_ink().equilibrium_stress(np.array([1.0, 10.0, 100.0]))
    np.testing.assert_allclose(standard, stress / np.array([1.0, 10.0, 100.0]), rtol=1e-12)
    drawn = load_factors(np.random.default_rng(1), 20_000)
    # Relative error of a standard deviation of 20000 draws: 0.5 %; four of them.
    assert drawn.std(axis=0) == pytest.approx([np.hypot(LOAD, POINT)] * len(LINES), rel=0.02)
    assert np.corrcoef(drawn.T)[0, 1] == pytest.approx(LOAD**2 / (LOAD**2 + POINT**2), abs=0.01)


def test_a_bin_without_batches_is_shown_and_not_judged():
    empty = rework.Bin(low=0.0, high=0.2, count=0, claimed=float("nan"), held=0)
    assert not rework.too_few(empty)
    assert "| – |" in rework.table([empty])
