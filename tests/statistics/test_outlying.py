"""Outlying values and scatters, against the printed tables of the standard and by construction."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.statistics.outlying import cochran, grubbs

NAMES = tuple("abcdefgh")

# ISO 5725-2:1994, from memory: table 5 (one outlying observation; p, at 5 %, at 1 %) and table 4 (p laboratories of n results).
GRUBBS_TABLE = [(4, 1.481, 1.496), (5, 1.715, 1.764), (8, 2.126, 2.274)]
COCHRAN_TABLE = [(8, 3, 0.516, 0.615), (5, 3, 0.684, 0.788), (6, 2, 0.781, 0.883)]


@pytest.mark.parametrize(("count", "straggler", "outlier"), GRUBBS_TABLE)
def test_critical_values_of_a_value_are_the_table(count, straggler, outlier):
    seen = grubbs([1.0, *([0.0] * (count - 2)), 0.2], NAMES[:count])
    # One unit of the last printed digit: the table cuts 2.1266 to 2.126.
    assert seen.straggler == pytest.approx(straggler, abs=0.001)
    assert seen.outlier == pytest.approx(outlier, abs=0.001)


@pytest.mark.parametrize(("count", "results", "straggler", "outlier"), COCHRAN_TABLE)
def test_critical_values_of_a_scatter_are_the_table(count, results, straggler, outlier):
    seen = cochran([2.0, *([1.0] * (count - 1))], [results - 1.0] * count, NAMES[:count])
    # The table's values come from this ratio of variances; half of the last printed digit, and half again for its own rounding.
    assert seen.straggler == pytest.approx(straggler, abs=0.001)
    assert seen.outlier == pytest.approx(outlier, abs=0.001)
    # Exact: the share of one variance 4 among others of 1.
    assert seen.statistic == pytest.approx(4.0 / (count + 3.0), rel=1e-14)


def test_the_statistic_of_a_value_is_its_distance_in_standard_deviations():
    # Exact: mean 1, deviations -1, -1, -1, -1, 4; standard deviation sqrt(20/4).
    seen = grubbs([0.0, 0.0, 0.0, 0.0, 5.0], NAMES[:5])
    assert (seen.index, seen.name) == (4, "e")
    assert seen.statistic == pytest.approx(4.0 / math.sqrt(5.0), rel=1e-14)
    assert seen.verdict == "outlier"
    (said,) = seen.finding()
    assert said.severity == "caution"
    assert str(said).startswith("e: its value is an outlier by Grubbs' test (1.789; critical 1.715 at 5 %, 1.764 at 1 %); it is kept")


def test_what_does_not_lie_apart_is_said_so():
    seen = grubbs([1.0, 2.0, 3.0, 4.0], NAMES[:4])
    assert (seen.verdict, seen.finding()) == ("", ())
    assert "not outlying by Grubbs' test" in str(seen)


def test_the_largest_share_need_not_be_the_outlying_one():
    # The first has the largest sum of squares (200 against 25), but with 50 of the 54 degrees of freedom it may.
    seen = cochran([2.0, 5.0, 1.0, 1.0, 1.0], [50.0, 1.0, 1.0, 1.0, 1.0], NAMES[:5])
    assert seen.name == "b"
    assert "its scatter is a" in str(seen) or seen.verdict == ""


def test_nothing_to_test():
    assert grubbs([1.0, 2.0], NAMES[:2]) is None
    assert grubbs([1.0, 1.0, 1.0], NAMES[:3]) is None
    assert cochran([1.0], [3.0], NAMES[:1]) is None
    assert cochran([0.0, 0.0], [3.0, 3.0], NAMES[:2]) is None
    assert cochran([1.0, 2.0], [3.0, math.inf], NAMES[:2]) is None


@given(values=st.lists(st.integers(-1000, 1000), min_size=3, max_size=8), factor=st.sampled_from([1e-9, 1e12]))
def test_a_change_of_unit_changes_nothing(values, factor):
    names = NAMES[: len(values)]
    one, other = grubbs(values, names), grubbs([value * factor for value in values], names)
    assert (one is None) == (len(set(values)) == 1)
    if one is not None and other is not None:
        # A mean loses at most four digits beside these sizes.
        assert other.statistic == pytest.approx(one.statistic, rel=1e-10)
