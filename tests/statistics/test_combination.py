"""Loads combined: exact cases, properties, and how often the interval covers the batch value."""

import math
from itertools import permutations

import matplotlib.pyplot as plt
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.meta_analysis import combine_effects

from rheokit.base.errors import FitError
from rheokit.statistics.combination import combine_loads
from rheokit.statistics.student import student_quantile


def test_without_errors_inside_it_is_the_plain_mean():
    # Exact: mean 4, standard deviation sqrt((4 + 1 + 1 + 4) / 3), its error over sqrt(4), three degrees of freedom.
    found = combine_loads([2.0, 3.0, 5.0, 6.0], name="viscosity_at_rate", unit="Pa·s")
    assert found.value == 4.0
    assert found.between == pytest.approx(math.sqrt(10.0 / 3.0), rel=1e-14)
    assert found.standard_error == pytest.approx(math.sqrt(10.0 / 12.0), rel=1e-14)
    assert found.degrees_of_freedom == 3.0
    assert found.estimate.components == {"load": pytest.approx(found.standard_error)}


def test_two_loads_with_equal_errors():
    # Exact: the variance between them is (7 - 3)²/2 less that inside, 8 - 1 = 7; the mean's is 8/2, of it 7/2 between and 1/2 inside.
    found = combine_loads([3.0, 7.0], [1.0, 1.0])
    assert found.value == pytest.approx(5.0, rel=1e-14)
    assert found.between == pytest.approx(math.sqrt(7.0), rel=1e-9)
    assert found.components == pytest.approx({"load": math.sqrt(3.5), "fit": math.sqrt(0.5)}, rel=1e-9)
    assert found.standard_error == pytest.approx(2.0, rel=1e-9)
    # Exact: one degree of freedom is the Cauchy distribution, tan(0.475 π) = 12.706.
    assert found.interval()[1] == pytest.approx(5.0 + 2.0 * math.tan(0.475 * math.pi), rel=1e-9)


def test_loads_that_agree_have_the_error_of_their_insides_and_few_degrees_of_freedom():
    # Exact: variances 1, 4 and 4 give weights 4:1:1 over 6 and an error of 1/sqrt(1.5).
    found = combine_loads([5.0, 5.1, 4.9], [1.0, 2.0, 2.0])
    assert found.between == 0.0
    assert found.weights.tolist() == pytest.approx([2 / 3, 1 / 6, 1 / 6])
    assert found.standard_error == pytest.approx(1.0 / math.sqrt(1.5), rel=1e-12)
    assert found.degrees_of_freedom == 2.0
    assert list(found.components) == ["fit"]


def test_against_an_independent_implementation():
    values, errors = [3.2, 3.9, 3.5, 4.4], [0.1, 0.3, 0.15, 0.2]
    other = combine_effects(np.array(values), np.square(errors), method_re="iterated")
    found = combine_loads(values, errors)
    # Its iteration stops where its steps change by 1e-5 of the variance.
    assert found.between**2 == pytest.approx(other.tau2, rel=1e-4)
    assert found.value == pytest.approx(other.mean_effect_re, rel=1e-5)
    # Ours is the larger of that one and what the loads lie off their mean, each over the root of one less its weight; by hand.
    away = np.sum(found.weights**2 * (np.array(values) - found.value) ** 2 / (1.0 - found.weights)) ** 0.5
    assert found.standard_error == pytest.approx(max(other.sd_eff_w_re_hksj, away), rel=1e-4)


def test_unequal_weights_widen_the_interval():
    # The load with the smallest error lies apart and pulls; what is known of its weight comes from the same three loads.
    found = combine_loads([9.0, 1.0, 2.0], [0.5, 1.0, 2.0])
    plain = math.sqrt(1.0 / np.sum(1.0 / (np.array([0.5, 1.0, 2.0]) ** 2 + found.between**2)))
    away = np.sum(found.weights**2 * (np.array([9.0, 1.0, 2.0]) - found.value) ** 2 / (1.0 - found.weights)) ** 0.5
    assert found.standard_error == pytest.approx(away, rel=1e-9)
    assert found.standard_error > 1.02 * plain


def test_loads_that_give_one_number_are_given_no_error():
    found = combine_loads([3.8, 3.8])
    assert found.standard_error is None
    assert "give the same number" in found.estimate.reason
    with pytest.raises(FitError, match="there is no interval"):
        found.interval()
    assert "not known" in str(found)


def test_a_load_that_lies_apart_is_flagged_and_kept():
    values = [3.80, 3.81, 3.79, 3.80, 4.40]
    found = combine_loads(values, load_names=["load 1", "load 2", "load 3", "load 4", "load 5"])
    assert found.value == pytest.approx(np.mean(values), rel=1e-14)
    assert [finding.check for finding in found.findings] == ["outlying_value"]
    assert "load 5" in str(found.findings[0])
    assert "outlier (Grubbs)" in str(found.table())


def test_a_load_that_scatters_inside_is_flagged():
    found = combine_loads([3.8, 3.9, 3.85], [0.01, 0.01, 0.2], degrees_of_freedom=[20, 24, 22])
    assert [finding.check for finding in found.findings] == ["outlying_scatter"]
    assert "load 3" in str(found.findings[0])


LOADS = st.lists(st.tuples(st.floats(-10.0, 10.0), st.floats(0.05, 2.0)), min_size=2, max_size=6)


@given(loads=LOADS)
def test_one_more_load_at_the_combined_value_narrows_the_interval(loads):
    values, errors = map(list, zip(*loads, strict=True))
    before = combine_loads(values, errors)
    after = combine_loads([*values, before.value], [*errors, float(np.mean(errors))])
    width = np.diff(before.interval())[0]
    assert np.diff(after.interval())[0] < width
    assert after.value == pytest.approx(before.value, abs=0.5 * width)


@settings(max_examples=40)
@given(loads=st.lists(st.tuples(st.floats(-10.0, 10.0), st.floats(0.05, 2.0)), min_size=3, max_size=4))
def test_the_order_of_loads_does_not_matter(loads):
    first = combine_loads(*zip(*loads, strict=True))
    for order in permutations(loads):
        other = combine_loads(*zip(*order, strict=True))
        # Sums in another order differ by rounding; where squares are just at their expectation, the root of that.
        assert other.value == pytest.approx(first.value, abs=1e-6)
        assert other.standard_error == pytest.approx(first.standard_error, rel=1e-6)


@given(loads=LOADS, factor=st.sampled_from([-3.0, 1e-9, 1e9]))
def test_a_change_of_unit_scales_everything(loads, factor):
    values, errors = map(np.array, zip(*loads, strict=True))
    one, other = combine_loads(values, errors), combine_loads(values * factor, errors * abs(factor))
    assert other.value == pytest.approx(one.value * factor, abs=1e-6 * abs(factor))
    assert other.standard_error == pytest.approx(one.standard_error * abs(factor), rel=1e-6)


@given(loads=LOADS)
def test_the_budget_adds_up_and_the_equation_is_solved(loads):
    values, errors = map(np.array, zip(*loads, strict=True))
    found = combine_loads(values, errors)
    assert math.hypot(*found.components.values()) == pytest.approx(found.standard_error, rel=1e-12)
    squares = float(np.sum((values - found.value) ** 2 / (errors**2 + found.between**2)))
    if found.between > 0.0:
        assert squares == pytest.approx(len(loads) - 1, rel=1e-6)
    else:
        assert squares <= len(loads) - 1 + 1e-6


@pytest.mark.parametrize("size", [1e-100, 1e100])
def test_loads_beside_which_their_errors_are_nothing(size):
    found = combine_loads([size, 2.0 * size], [1e-80 * size] * 2)
    assert found.standard_error == pytest.approx(0.5 * size, rel=1e-9)


@pytest.mark.parametrize(
    ("values", "errors", "words"),
    [
        ([1.0], None, "combine at least two"),
        ([1.0, math.nan], None, "values of loads are one finite number for each"),
        ([1.0, 2.0], [0.1], "as many names and standard errors"),
        ([1.0, 2.0], [0.1, 0.0], "is positive"),
    ],
)
def test_what_makes_no_sense_is_refused(values, errors, words):
    with pytest.raises(FitError, match=words):
        combine_loads(values, errors)


def test_degrees_of_freedom_are_one_positive_number_for_each_load():
    for freedoms in ([5.0], [5.0, 0.0]):
        with pytest.raises(FitError, match="2 loads need as many positive degrees of freedom"):
            combine_loads([1.0, 2.0], [0.1, 0.1], degrees_of_freedom=freedoms)


# --- coverage: does the 95 % interval hold the batch value as often as it says? -----------------------------------------------------

REPEATS = 2000
INSIDE = {2: (0.5, 1.0), 3: (0.5, 1.0, 2.0), 4: (0.5, 1.0, 2.0, 1.0)}
"""Unequal scatters inside the loads."""


def covered(count, between, *, seed, shrunk=1.0, normal=False):
    """Return in how many of REPEATS batches the interval holds the value 0; the loads' truth comes from numpy alone."""
    generator = np.random.default_rng(seed)
    inside = np.array(INSIDE[count])
    held = 0
    for _ in range(REPEATS):
        values = between * generator.standard_normal(count) + inside * generator.standard_normal(count)
        found = combine_loads(values, inside)
        factor = student_quantile(0.975, math.inf if normal else found.degrees_of_freedom)
        held += abs(found.value) <= factor * found.standard_error / shrunk
    return held


# Limits that a binomial count at 95 % leaves once in a thousand, on either side.
LOW, HIGH = (int(stats.binom.ppf(p, REPEATS, 0.95)) for p in (0.0005, 0.9995))


@pytest.mark.parametrize("count", [2, 3, 4])
def test_where_the_scatter_between_loads_rules_the_interval_covers_95_percent(count):
    assert LOW <= covered(count, 300.0, seed=count) <= HIGH


@pytest.mark.parametrize("between", [0.0, 1.0, 3.0])
@pytest.mark.parametrize("count", [2, 3, 4])
def test_where_it_does_not_the_interval_covers_no_less(count, between):
    assert covered(count, between, seed=10 * count) >= LOW


@pytest.mark.parametrize("count", [3, 4])
def test_errors_divided_by_1_3_do_not_cover(count):
    assert covered(count, 300.0, seed=count, shrunk=1.3) < LOW


def test_two_loads_judged_by_the_normal_distribution_do_not_cover():
    # With one degree of freedom the interval is so wide that a factor of 1.3 moves the count by 1.4 % only: the normal one shows it.
    assert covered(2, 300.0, seed=2, normal=True) < LOW
    assert covered(2, 300.0, seed=2, shrunk=2.0) < LOW


def test_the_figure_shows_every_load_and_the_interval():
    found = combine_loads([3.7, 3.8, 3.9], [0.02, 0.03, 0.02], load_names=["one", "two", "three"], name="viscosity_at_rate", unit="Pa·s")
    ax = found.plot()
    assert [label.get_text() for label in ax.get_yticklabels()] == ["one", "two", "three"]
    assert ax.get_xlabel() == "viscosity at rate [Pa·s]"
    low, high = found.interval()
    (tint,) = ax.patches
    assert (tint.get_x(), tint.get_x() + tint.get_width()) == (pytest.approx(low), pytest.approx(high))
    assert found.plot(ax) is ax
    plt.close(ax.figure)
