"""Precision of a study: the standard's own example, exact cases, properties."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference_data import reference
from scipy import stats

from rheokit.base.errors import FitError
from rheokit.statistics.interlaboratory import repeatability_and_reproducibility

SULPHUR = reference("iso_5725_sulphur_in_coal")


@pytest.fixture
def sulphur():
    return repeatability_and_reproducibility(SULPHUR["laboratories"], name="sulphur", unit="%")


def test_the_standards_example(sulphur):
    # Half of the last printed digit.
    assert sulphur.mean == pytest.approx(SULPHUR["mean"], abs=0.0005)
    assert sulphur.repeatability.value == pytest.approx(SULPHUR["repeatability"], abs=0.0005)
    assert sulphur.reproducibility.value == pytest.approx(SULPHUR["reproducibility"], abs=0.0005)
    assert sulphur.within.degrees_of_freedom == 19.0
    assert [seen.verdict for seen in sulphur.outlying] == ["", ""]


def test_h_and_k_of_the_example(sulphur):
    # By hand: means .7075 .68 .6667 .66 .69 .7333 .7033 .6767 have mean .68969 and standard deviation .02415.
    first = sulphur.laboratories[0]
    assert first.h == pytest.approx((0.7075 - 0.68969) / 0.02415, abs=0.002)
    assert first.k == pytest.approx(0.005 / 0.01512, abs=0.001)
    # ISO 5725-2:1994, tables 6 and 7 from memory: h for 8 laboratories 1.75 and 2.06 at 5 % and 1 %.
    assert first.h_critical == (pytest.approx(1.75, abs=0.005), pytest.approx(2.06, abs=0.005))
    assert "h beyond 5 %" in sulphur.laboratories[5].remark


def test_k_is_that_of_the_table_for_equal_numbers():
    # ISO 5725-2:1994, table 7 from memory: 8 laboratories of 3 results, 1.67 and 1.96 at 5 % and 1 %.
    generator = np.random.default_rng(3)
    study = repeatability_and_reproducibility({f"{place}": generator.standard_normal(3) for place in range(8)})
    assert study.laboratories[0].k_critical == (pytest.approx(1.67, abs=0.005), pytest.approx(1.96, abs=0.005))


def test_a_study_by_construction():
    # Exact: means 1, 2, 3 of two results each ±1 apart: within 2·1²=2 a laboratory, mean square 2 over 1 -> 6/3 = 2; between 2·2/2 = 2.
    study = repeatability_and_reproducibility({"a": [0, 2], "b": [1, 3], "c": [2, 4]})
    assert (study.within.value, study.between.value) == (2.0, 2.0)
    assert study.between_laboratories.value == 0.0
    assert study.reproducibility.value == study.repeatability.value == pytest.approx(math.sqrt(2.0))
    # Means 1, 5, 9: mean square between 2·32/2 = 32, so 30/2 = 15 between and 17 in all.
    study = repeatability_and_reproducibility({"a": [0, 2], "b": [4, 6], "c": [8, 10]})
    assert study.between_laboratories.value == pytest.approx(math.sqrt(15.0), rel=1e-12)
    assert study.reproducibility.value == pytest.approx(math.sqrt(17.0), rel=1e-12)
    # Satterthwaite by hand: (16 + 1)² / (16²/2 + 1²/3).
    assert study.reproducibility_freedom == pytest.approx(17.0**2 / (128.0 + 1.0 / 3.0), rel=1e-12)


def test_the_interval_of_the_repeatability_is_that_of_chi_square(sulphur):
    # Exact for one mean square: 19 s² over the quantiles of chi-square, here from scipy.stats.
    low, high = (math.sqrt(19.0 * sulphur.within.value / stats.chi2.ppf(p, 19)) for p in (0.975, 0.025))
    assert sulphur.repeatability.interval.lower == pytest.approx(low, rel=1e-9)
    assert sulphur.repeatability.interval.upper == pytest.approx(high, rel=1e-9)


def test_it_is_stated_as_a_precision_file_wants_it(sulphur):
    repeatability, reproducibility = sulphur.stated()
    assert repeatability.absolute == sulphur.repeatability.value
    assert (repeatability.degrees_of_freedom, reproducibility.degrees_of_freedom) == (19.0, sulphur.reproducibility_freedom)
    relative, _ = sulphur.stated(relative=True)
    assert relative.relative == pytest.approx(sulphur.repeatability.value / sulphur.mean)


def test_a_laboratory_apart_and_one_that_scatters_are_flagged_and_kept():
    values = {name: [10.0, 10.2, 9.8 + 0.02 * place] for place, name in enumerate("abcdefg")}
    far = repeatability_and_reproducibility(values | {"h": [15.0, 15.2, 14.8]})
    assert [finding.check for finding in far.findings] == ["outlying_value"]
    assert far.mean > 10.5  # it still counts
    assert "outlier (Grubbs)" in str(far)
    wild = repeatability_and_reproducibility(values | {"h": [8.0, 12.0, 10.0]})
    assert [finding.check for finding in wild.findings] == ["outlying_scatter"]
    assert "outlier (Cochran)" in str(wild)


def test_single_results_count_towards_the_reproducibility_alone():
    study = repeatability_and_reproducibility({"a": [1.0, 1.2], "b": [2.0], "c": [1.5]})
    assert study.within.degrees_of_freedom == 1.0
    assert study.laboratories[1].k is None
    assert "one result" in str(study)
    assert study.plot().get_title(loc="left").startswith("critical values")


RESULTS = st.lists(st.lists(st.floats(-5.0, 5.0), min_size=2, max_size=4), min_size=3, max_size=6)


@given(results=RESULTS, factor=st.sampled_from([1e-6, 7.0]), shift=st.sampled_from([0.0, 3.0]))
def test_order_unit_and_zero_change_nothing(results, factor, shift):
    one = repeatability_and_reproducibility({f"{place}": held for place, held in enumerate(results)})
    turned = {f"{place}": [factor * (value + shift) for value in held[::-1]] for place, held in reversed(list(enumerate(results)))}
    other = repeatability_and_reproducibility(turned)
    # Sums of squares of numbers up to 8 keep some 1e-15 of them; their root 1e-7.
    for name in ("repeatability", "reproducibility"):
        assert getattr(other, name).value == pytest.approx(factor * getattr(one, name).value, rel=1e-6, abs=factor * 1e-6)
    assert other.reproducibility.value >= other.repeatability.value * (1.0 - 1e-9)


def test_the_table_says_what_a_person_needs(sulphur):
    shown = str(sulphur)
    assert "repeatability standard deviation 0.0151 % (19.0 d.f." in shown
    assert "two results differ by more than" in shown
    assert "<table>" in sulphur._repr_html_()


@pytest.mark.parametrize(
    ("held", "words"),
    [
        ({"a": [1, 2], "b": [1, 2]}, "fewer than three"),
        ({"a": [1], "b": [2], "c": [3]}, "no laboratory repeated a result"),
        ({"a": [1, math.nan], "b": [2], "c": [3]}, "a: the results of a laboratory are one finite number"),
        ({"a": [], "b": [2, 3], "c": [3]}, "a: the results"),
    ],
)
def test_too_little_is_refused(held, words):
    with pytest.raises(FitError, match=words):
        repeatability_and_reproducibility(held)


def test_what_does_not_scatter_states_nothing():
    study = repeatability_and_reproducibility({"a": [1, 1], "b": [1, 1], "c": [1, 1]})
    with pytest.raises(FitError, match="no result differs from another"):
        study.stated()
    far = repeatability_and_reproducibility({"a": [-1, -2], "b": [-3, -1], "c": [-1, -1]})
    with pytest.raises(FitError, match="relative scatter of a mean of"):
        far.stated(relative=True)
