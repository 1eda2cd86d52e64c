"""Charts, capability, equivalence and tolerance factors against published worked examples."""

from __future__ import annotations

import math

import numpy as np
import pytest
from reference_data import reference
from scipy import stats

from rheokit.statistics.capability import capability, one_sided_tolerance_factor, tolerance_factor
from rheokit.statistics.charts import C4_OF_TWO, D2_OF_TWO, D4_OF_TWO, individuals, moving_average, run_rules
from rheokit.statistics.equivalence import two_one_sided_tests, two_samples

KNOWN = reference("quality_statistics")


def test_the_chart_of_single_values():
    known = KNOWN["individuals"]
    chart = individuals(known["values"])
    assert chart.centre == pytest.approx(known["mean"], abs=5e-3)
    assert np.nanmean(chart.ranges) == pytest.approx(known["moving_range"], abs=5e-5)
    # The handbook divides by 1.128, not 1.12838: 3 · 1.8778 · (1/1.128 - 1/1.12838) = 0.0017.
    assert (chart.lower, chart.upper) == (pytest.approx(known["lower"], abs=2e-3), pytest.approx(known["upper"], abs=2e-3))
    assert not chart.outside.any()


def test_limits_from_a_base_do_not_follow_a_drift():
    steady = 50.0 + np.array([0.3, -0.2, 0.1, -0.4, 0.2, 0.0])
    drifting = 50.0 + np.linspace(0.0, 3.0, 12)
    assert individuals(drifting, base=steady).outside[-1]
    jump = individuals([50.0, 50.1, 49.9, 53.0], base=steady)
    assert jump.range_outside.tolist() == [False, False, False, True]
    with pytest.raises(ValueError, match=r"^all values are equal: their moving ranges give no limits$"):
        individuals([5.0, 5.0, 5.0])
    with pytest.raises(ValueError, match="needs two values or more"):
        individuals([5.0])


def test_the_moving_average():
    known = KNOWN["moving_average"]
    found = moving_average(known["values"], target=known["target"], standard_deviation=known["standard_deviation"], settled=True)
    assert found.values == pytest.approx(known["averages"], abs=5.01e-3)
    assert (found.lower[0], found.upper[0]) == (pytest.approx(known["lower"], abs=1e-4), pytest.approx(known["upper"], abs=1e-4))
    assert not found.outside.any()
    begun = moving_average(known["values"], target=50.0, standard_deviation=2.0539)
    assert begun.upper[0] - 50.0 == pytest.approx(3.0 * 0.3 * 2.0539, rel=1e-12)  # one value: weight times its deviation
    assert begun.upper[-1] == pytest.approx(found.upper[-1], rel=1e-4)
    with pytest.raises(ValueError, match="weight lies above 0"):
        moving_average([1.0], target=0.0, standard_deviation=1.0, weight=0.0)


def test_the_constants_of_two_values():
    known = KNOWN["constants"]
    assert (pytest.approx(known["d2"], abs=5e-5), pytest.approx(known["c4"], abs=5e-5)) == (D2_OF_TWO, C4_OF_TWO)
    assert pytest.approx(known["D4"], abs=5e-5) == D4_OF_TWO


def test_each_run_rule_speaks_where_it_should():
    quiet = [0.5, -0.5] * 5
    assert not run_rules(quiet).any()
    assert run_rules([*quiet, 3.1])[-1].tolist() == [True, False, False, False]
    assert run_rules([*quiet, 2.1, 0.0, 2.2])[-1].tolist() == [False, True, False, False]
    assert run_rules([*quiet, 2.1, 0.0, -2.2])[-1].tolist() == [False, False, False, False]  # not on one side
    assert run_rules([*quiet, 1.1, 1.2, 0.1, 1.3, 1.4])[-1].tolist() == [False, False, True, False]
    assert run_rules([-0.5] + [0.2] * 8)[-1].tolist() == [False, False, False, True]
    assert run_rules([-0.5] + [0.2] * 7)[-1].tolist() == [False, False, False, False]


def test_run_lengths_of_a_process_in_control():
    rng = np.random.default_rng(20261125)
    every = run_rules(rng.standard_normal((4000, 1200))).any(axis=-1)
    alarmed = every.any(axis=1)
    length = np.where(alarmed, every.argmax(axis=1) + 1, every.shape[1])
    # Almost geometric, so its standard error is about its mean over the root of 4000; four of them.
    assert length.mean() == pytest.approx(KNOWN["run_length"]["four_rules"], abs=4.0 * 91.75 / math.sqrt(4000))
    assert 1.0 / math.erfc(3.0 / math.sqrt(2.0)) == pytest.approx(KNOWN["run_length"]["one_rule"], abs=5e-4)


def test_capability_and_its_intervals():
    known = KNOWN["capability"]
    found = capability(known["mean"], known["standard_deviation"], 50, lower=known["lower"], upper=known["upper"])
    assert (found.cp, found.cpk) == (known["cp"], pytest.approx(known["cpk"], abs=5e-5))
    sigma = 12.0 / (6.0 * known["interval_cp"])
    interval = capability(14.0, sigma, known["interval_count"], lower=8.0, upper=20.0).cp_interval
    assert interval == pytest.approx(known["interval"], abs=6e-4)
    one = capability(16.0, 2.0, 20, lower=8.0)
    assert (one.cp, one.cpk) == (None, pytest.approx(4.0 / 3.0))
    with pytest.raises(ValueError, match="needs limits"):
        capability(1.0, 1.0, 20)


def test_the_interval_of_the_smaller_index_covers():
    # 400 draws of 25 values: exact binomial of 95 % gives at least 0.92 with probability 0.99; the approximation may cost one per cent.
    rng = np.random.default_rng(4)
    hits = 0
    for _ in range(400):
        sample = rng.normal(1.0, 1.0, 25)
        low, high = capability(float(sample.mean()), float(sample.std(ddof=1)), 25, lower=-4.0, upper=4.0).cpk_interval
        hits += low <= 1.0 <= high  # true index (4 - 1)/3
    assert hits / 400 >= 0.91


@pytest.mark.parametrize("pooled", [True, False])
def test_two_one_sided_tests_of_the_published_yields(pooled):
    known = KNOWN["two_samples"]
    found = two_samples(known["one"], known["other"], bounds=(-known["bound"], known["bound"]), pooled=pooled)
    expected = known["pooled" if pooled else "welch"]
    assert sorted([found.above_lower, found.below_upper], reverse=True) == pytest.approx(expected, abs=6e-6)
    assert found.equivalent
    assert found.interval[0] > -110.0
    assert found.interval[1] < 110.0


def test_two_one_sided_tests_against_an_independent_library():
    weightstats = pytest.importorskip("statsmodels.stats.weightstats")
    known = KNOWN["two_samples"]
    for pooled in (True, False):
        ours = two_samples(known["one"], known["other"], bounds=(-110.0, 110.0), pooled=pooled)
        whole, lower, upper = weightstats.ttost_ind(
            np.array(known["one"], float), np.array(known["other"], float), -110.0, 110.0, usevar="pooled" if pooled else "unequal"
        )
        assert (ours.probability, ours.above_lower, ours.below_upper) == pytest.approx((whole, lower[1], upper[1]), rel=1e-10)


def test_the_tests_agree_with_their_interval():
    for difference in (0.0, 0.5, 0.9, 1.2):
        found = two_one_sided_tests(difference, 0.3, 12.0, bounds=(-1.0, 1.0))
        assert found.equivalent == (found.interval[0] > -1.0 and found.interval[1] < 1.0)
    with pytest.raises(ValueError, match="bounds in order"):
        two_one_sided_tests(0.0, 1.0, 5.0, bounds=(1.0, -1.0))


def test_tolerance_factors():
    known = KNOWN["tolerance"]
    for count, factor in known["factors"].items():
        assert tolerance_factor(int(count), share=known["share"], confidence=known["confidence"]) == pytest.approx(factor, abs=1e-4)
    assert one_sided_tolerance_factor(20, share=0.95, confidence=0.95) == pytest.approx(known["one_sided_20_95_95"], abs=5e-4)
    independent = stats.nct.ppf(0.95, 19, math.sqrt(20) * stats.norm.ppf(0.95)) / math.sqrt(20)
    assert one_sided_tolerance_factor(20, share=0.95, confidence=0.95) == pytest.approx(independent, rel=1e-9)
    with pytest.raises(ValueError, match="needs two values or more"):
        tolerance_factor(1, share=0.95, confidence=0.95)
