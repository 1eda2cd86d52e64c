"""Global risk against the published pair, a closed form and a draw of random numbers."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rheokit.statistics.risk import global_risk, normal_cdf

WIDE = (-math.inf, math.inf)


def test_the_published_pair_for_a_test_uncertainty_ratio_of_four():
    # Deaver; NCSLI RP-19: process standard deviation 1, limits ±2, tolerance over expanded uncertainty (two standard uncertainties) 4:
    # false accept 0.8006 %, false reject 1.4851 %. Four digits after the point are printed: half of the last one.
    risk = global_risk(mean=0.0, process_sd=1.0, uncertainty=0.25, limits=(-2.0, 2.0), accepted=(-2.0, 2.0))
    assert 100.0 * risk.false_accept == pytest.approx(0.8006, abs=0.00005)
    assert 100.0 * risk.false_reject == pytest.approx(1.4851, abs=0.00005)


def test_one_limit_at_the_mean_is_the_angle_between_value_and_result():
    # Exact: X and Y = X + E are correlated by r = 1/sqrt(1 + u²); P(X > 0, Y < 0) = 1/4 - asin(r)/(2π) (orthant probability).
    for uncertainty in (0.02, 0.5, 3.0):
        exact = 0.25 - math.asin(1.0 / math.hypot(1.0, uncertainty)) / (2.0 * math.pi)
        risk = global_risk(mean=5.0, process_sd=1.0, uncertainty=uncertainty, limits=(-math.inf, 5.0), accepted=(-math.inf, 5.0))
        assert risk.false_accept == pytest.approx(exact, rel=1e-10)
        assert risk.false_reject == pytest.approx(exact, rel=1e-10)


def test_a_draw_of_random_numbers_agrees():
    generator = np.random.default_rng(20260915)
    count = 400_000
    true = 0.3 + generator.standard_normal(count)
    seen = true + 0.4 * generator.standard_normal(count)
    inside = (true >= -1.5) & (true <= 1.5)
    risk = global_risk(mean=0.3, process_sd=1.0, uncertainty=0.4, limits=(-1.5, 1.5), accepted=(-1.1, 1.1), kept=(-1.9, 1.9))
    for probability, happened in (
        (risk.false_accept, ~inside & (np.abs(seen) <= 1.1)),
        (risk.false_reject, inside & (np.abs(seen) > 1.9)),
    ):
        # Four standard deviations of a binomial share are passed once in 16,000 times; the seed is fixed.
        assert abs(happened.mean() - probability) <= 4.0 * math.sqrt(probability / count)


@settings(max_examples=30, deadline=None)
@given(uncertainty=st.floats(0.01, 2.0), guard=st.floats(0.01, 0.9))
def test_a_guard_band_lowers_the_one_risk_and_raises_the_other(uncertainty, guard):
    asked = {"mean": 0.0, "process_sd": 1.0, "uncertainty": uncertainty, "limits": (-2.0, 2.0)}
    plain = global_risk(**asked, accepted=(-2.0, 2.0))
    guarded = global_risk(**asked, accepted=(-2.0 + guard, 2.0 - guard))
    assert guarded.false_accept <= plain.false_accept + 1e-15
    assert guarded.false_reject >= plain.false_reject - 1e-15


def test_without_limits_there_is_no_risk():
    assert global_risk(mean=0.0, process_sd=1.0, uncertainty=1.0, limits=WIDE, accepted=WIDE).false_accept == 0.0


def test_a_small_tail_keeps_its_digits():
    # Φ(-6) = 9.865876450377e-10, from any table (from memory; erfc of the standard library).
    assert normal_cdf(-6.0) == pytest.approx(9.865876450377e-10, rel=1e-11)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"limits": (2.0, -2.0)}, "not below"),
        ({"process_sd": 0.0}, "positive standard deviations"),
        ({"uncertainty": math.inf}, "positive"),
    ],
)
def test_what_makes_no_sense_is_refused(changes, words):
    asked = {"mean": 0.0, "process_sd": 1.0, "uncertainty": 1.0, "limits": (-2.0, 2.0), "accepted": (-2.0, 2.0)} | changes
    with pytest.raises(ValueError, match=words):
        global_risk(**asked)
