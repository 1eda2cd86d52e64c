"""A bridging study: biases by construction, words, and how often the bias interval holds the truth."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from rheokit.base.errors import FitError
from rheokit.statistics.bridging import bridging_study

OLD = np.array([2.1, 2.6, 3.0, 3.3, 3.7, 4.0, 4.4, 4.9, 5.3, 5.8])
NOISE = np.array([0.03, -0.02, 0.01, -0.04, 0.02, 0.03, -0.03, 0.0, 0.02, -0.02])
WORDS = {"name": "viscosity_at_rate", "unit": "Pa·s", "instruments": ("north bench", "south bench")}


def study(new, **changes):
    return bridging_study(OLD, new, **({"old_errors": 0.03, "new_errors": 0.03, **WORDS} | changes))


def test_a_bias_without_scatter_is_found_exactly():
    found = study(0.2 + 1.05 * OLD)
    # Exact: the points lie on the line.
    assert found.constant_bias.value == pytest.approx(0.2, abs=1e-12)
    assert found.proportional_bias.value == pytest.approx(0.05, abs=1e-12)
    assert found.bias_at(4.0).value == pytest.approx(0.4, abs=1e-12)
    assert found.mean_difference.value == pytest.approx(0.2 + 0.05 * OLD.mean(), abs=1e-12)
    # No scatter about the line does not make the errors stated smaller.
    assert found.inflation == 1.0
    assert found.constant_bias.standard_error == pytest.approx(math.sqrt(found.line.variance_at(0.0)))


def test_the_interval_is_students_with_two_degrees_less_than_batches():
    found = study(OLD + NOISE)
    estimate = found.proportional_bias
    half = stats.t.ppf(0.975, 8) * estimate.standard_error
    assert estimate.degrees_of_freedom == 8.0
    assert (estimate.interval.lower, estimate.interval.upper) == (
        pytest.approx(estimate.value - half),
        pytest.approx(estimate.value + half),
    )


def test_what_is_seen_and_what_is_not():
    same = str(study(OLD + NOISE))
    assert same.count("not told from none") == 6
    other = str(study(0.3 + OLD + NOISE))
    assert "mean difference" in other
    assert "seen" in next(line for line in other.splitlines() if line.startswith("mean difference"))
    assert "south bench beside north bench, 10 batches" in other


def test_the_mean_difference_and_its_limits():
    found = study(OLD + NOISE + 0.1)
    deviation = NOISE.std(ddof=1)
    assert found.mean_difference.value == pytest.approx(0.1)
    assert found.mean_difference.standard_error == pytest.approx(deviation / math.sqrt(10.0))
    assert found.limits_of_agreement == (pytest.approx(0.1 - 1.96 * deviation), pytest.approx(0.1 + 1.96 * deviation))
    # By hand: s sqrt(1/10 + 1.96²/18).
    assert found.limit_error == pytest.approx(deviation * math.sqrt(0.1 + 3.8416 / 18.0))


def test_a_ratio_alone_takes_the_errors_from_the_scatter():
    found = study(OLD + NOISE, old_errors=None, new_errors=None, variance_ratio=4.0)
    assert found.new_errors[0] == pytest.approx(2.0 * found.old_errors[0])
    # Exact: with the errors it found, the squares about the line are their degrees of freedom.
    again = study(OLD + NOISE, old_errors=found.old_errors, new_errors=found.new_errors)
    assert again.line.sum_of_squares == pytest.approx(8.0, rel=1e-9)
    assert again.constant_bias.standard_error == pytest.approx(found.constant_bias.standard_error, rel=1e-9)


def test_more_scatter_than_stated_widens_the_interval_and_is_said():
    found = study(OLD + 5.0 * NOISE, old_errors=0.01, new_errors=0.01)
    assert [finding.check for finding in found.findings] == ["scatter_about_line"]
    assert "times as much about the line as the errors stated allow" in str(found)
    twice = study(OLD + 5.0 * NOISE, old_errors=0.005, new_errors=0.005)
    # The line and its scatter are the same, so that half the errors stated change nothing.
    assert twice.constant_bias.standard_error == pytest.approx(found.constant_bias.standard_error, rel=1e-9)


def test_a_batch_that_lies_apart_is_flagged_and_kept():
    new = OLD + NOISE
    new[3] += 1.0
    found = study(new, batches=[f"B26-{place:03d}" for place in range(10)])
    assert "outlying_value" in [finding.check for finding in found.findings]
    assert any(str(finding).startswith("difference of B26-003: its value is an outlier") for finding in found.findings)
    assert found.mean_difference.value == pytest.approx(0.1 + NOISE.mean())


def test_a_bias_outside_the_batches_is_not_determined():
    found = study(OLD + NOISE).bias_at(10.0)
    assert not found.determined
    assert "10.00 lies outside the batches, 2.100 to 5.800: an extrapolation" in found.reason


def test_batches_that_hardly_differ_do_not_determine_a_proportional_bias():
    old = 4.0 + NOISE
    found = bridging_study(old, 4.0 + NOISE[::-1] + 0.1 * NOISE, old_errors=0.03, new_errors=0.03)
    assert not found.proportional_bias.determined
    assert "batches span too little" in str(found)


def test_equal_differences_have_no_scatter():
    found = bridging_study(np.arange(10.0), np.arange(10.0) + 1.0, old_errors=0.1, new_errors=0.1)
    assert found.mean_difference.standard_error is None
    assert "every difference is the same" in found.mean_difference.reason


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"old": OLD[:9], "new": OLD[:9]}, "9 paired batches are too few for a bridging study; measure at least 10"),
        ({"new": OLD[:9]}, "one finite result of each instrument for every batch"),
        ({"new": np.full(10, math.nan)}, "one finite result"),
        ({"old_errors": None}, "say how both instruments scatter"),
        ({"variance_ratio": 1.0}, "not both"),
        ({"variance_ratio": -1.0, "old_errors": None, "new_errors": None}, "ratio of two variances is positive"),
        ({"new": OLD, "variance_ratio": 1.0, "old_errors": None, "new_errors": None}, "nothing is seen of their scatter"),
        ({"old_errors": 0.0}, "one positive standard deviation, or one for each batch"),
        ({"old_errors": [0.1, 0.2]}, "one positive standard deviation, or one for each batch"),
        ({"batches": ["a"]}, "as many names"),
    ],
)
def test_what_is_no_bridging_study_is_refused(changes, words):
    asked = {"old": OLD, "new": OLD + NOISE, "old_errors": 0.03, "new_errors": 0.03} | changes
    with pytest.raises(FitError, match=words):
        bridging_study(**asked)


@settings(max_examples=30)
@given(seed=st.integers(0, 999), factor=st.sampled_from([1e-6, 1e6]))
def test_order_and_unit_change_nothing(seed, factor):
    generator = np.random.default_rng(seed)
    new, order = OLD + 0.05 * generator.standard_normal(10), generator.permutation(10)
    one = study(new)
    other = bridging_study(factor * OLD[order], factor * new[order], old_errors=0.03 * factor, new_errors=0.03 * factor)
    assert other.constant_bias.value == pytest.approx(factor * one.constant_bias.value, rel=1e-7, abs=1e-9 * factor)
    assert other.proportional_bias.standard_error == pytest.approx(one.proportional_bias.standard_error, rel=1e-9)


REPEATS = 1000
TRUE = np.linspace(2.0, 6.0, 12)


def covered(*, shrunk=1.0, ratio=None):
    """Return in how many studies the interval of the bias at 3 holds the truth."""
    generator = np.random.default_rng(77)
    held = 0
    for _ in range(REPEATS):
        old = TRUE + 0.1 * generator.standard_normal(12)
        new = 0.2 + 1.1 * TRUE + 0.2 * generator.standard_normal(12)
        errors = {"variance_ratio": ratio} if ratio else {"old_errors": 0.1, "new_errors": 0.2}
        bias = bridging_study(old, new, **errors).bias_at(3.0)
        half = (bias.interval.upper - bias.value) / shrunk
        held += abs(bias.value - (0.2 + 0.1 * 3.0)) <= half
    return held


# A binomial count at 95 % lies between these but for once in a thousand on either side.
LOW, HIGH = (int(stats.binom.ppf(p, REPEATS, 0.95)) for p in (0.0005, 0.9995))


def test_the_bias_interval_covers_95_percent():
    assert LOW <= covered(ratio=4.0) <= HIGH
    # With errors that are stated it is Student's all the same and never below them: wider on purpose.
    assert covered() >= LOW


def test_errors_divided_by_1_3_do_not_cover():
    assert covered(shrunk=1.3, ratio=4.0) < LOW


def test_both_figures_show_every_batch():
    found = study(0.1 + OLD + NOISE)
    ax = found.plot()
    marks = next(line for line in ax.lines if line.get_marker() == "o")
    assert np.asarray(marks.get_xdata()).tolist() == OLD.tolist()
    assert ax.get_xlabel() == "north bench: viscosity at rate [Pa·s]"
    assert {text.get_text() for text in ax.texts} == {"line", "1 : 1"}
    other = found.plot_differences()
    marks = next(line for line in other.lines if line.get_marker() == "o")
    assert np.asarray(marks.get_ydata()) == pytest.approx(0.1 + NOISE)
    assert other.get_ylabel() == "south bench less north bench [Pa·s]"
