"""A gauge study: the public example, exact cases, an independent analysis of variance, and properties."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference_data import reference
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from rheokit.base.errors import FitError
from rheokit.statistics.component_interval import MeanSquare, component_interval
from rheokit.statistics.gauge import gauge_study

EXAMPLE = reference("gauge_study_10_3_3")


@pytest.fixture
def example():
    return gauge_study(EXAMPLE["measurements"], operators=EXAMPLE["operators"], name="length", unit="mm")


@pytest.mark.parametrize("name", ["equipment_variation", "operator_variation", "gauge_variation", "part_variation"])
def test_the_public_example(example, name):
    # Two units of the last of six printed decimals: the printed .302373 lies 1.5e-6 above the exact .3023715.
    assert example.variations[name].value == pytest.approx(EXAMPLE[name], abs=2e-6)
    assert example.pooled
    assert example.distinct_categories == EXAMPLE["distinct_categories"]


@pytest.mark.parametrize("pooled_above", [0.25, 1.0])
def test_the_analysis_of_variance_is_that_of_a_linear_model(example, pooled_above):
    table = np.array(EXAMPLE["measurements"])
    study = gauge_study(table, pooled_above=pooled_above)
    o, p, _ = np.indices(table.shape)
    frame = pd.DataFrame({"y": table.ravel(), "o": o.ravel(), "p": p.ravel()})
    terms = "y ~ C(o) + C(p)" + ("" if study.pooled else " + C(o):C(p)")
    other = anova_lm(ols(terms, frame).fit())
    lines = {source.name: source for source in study.sources}
    for mine, theirs in (("operators", "C(o)"), ("parts", "C(p)"), *(() if study.pooled else (("operators by parts", "C(o):C(p)"),))):
        assert lines[mine].sum_of_squares == pytest.approx(other.loc[theirs, "sum_sq"], rel=1e-10)
        assert lines[mine].degrees_of_freedom == other.loc[theirs, "df"]
    error = lines["repeats, pooled" if study.pooled else "repeats"]
    assert error.mean_square == pytest.approx(other.loc["Residual", "mean_sq"], rel=1e-10)
    if study.pooled:  # there a linear model holds everything against its residual, as we do
        assert lines["operators"].ratio == pytest.approx(other.loc["C(o)", "F"], rel=1e-10)
        assert lines["operators"].probability == pytest.approx(other.loc["C(o)", "PR(>F)"], abs=1e-12)


def test_a_study_by_construction():
    # Exact: operators 0 and 4, parts 0 and 6, repeats ±1, no interaction. Mean squares: operators 4·8 = 32, parts 4·18 = 72, interaction
    # 0, repeats 8·1/4 = 2, pooled 8/5.
    table = [[[a + b - 1.0, a + b + 1.0] for b in (0.0, 6.0)] for a in (0.0, 4.0)]
    study = gauge_study(table)
    assert study.pooled
    assert study.variations["equipment_variation"].value == pytest.approx(math.sqrt(1.6), rel=1e-12)
    assert study.variations["operator_variation"].value == pytest.approx(math.sqrt((32.0 - 1.6) / 4.0), rel=1e-12)
    assert study.variations["part_variation"].value == pytest.approx(math.sqrt((72.0 - 1.6) / 4.0), rel=1e-12)
    assert "interaction_variation" not in study.variations
    kept = gauge_study(table, pooled_above=1.0)
    assert kept.variations["interaction_variation"].value == 0.0
    assert kept.variations["operator_variation"].value == pytest.approx(math.sqrt(32.0 / 4.0), rel=1e-12)


def test_an_interaction_that_is_seen_is_kept():
    # Exact: crossed ±5 about the means, repeats ±0.1: interaction mean square 2·4·25 = 200, repeats 8·0.01/4 = 0.02.
    table = [[[5.0 * sign * other - 0.1, 5.0 * sign * other + 0.1] for other in (-1, 1)] for sign in (-1, 1)]
    study = gauge_study(table)
    assert not study.pooled
    assert study.variations["interaction_variation"].value == pytest.approx(math.sqrt((200.0 - 0.02) / 2.0), rel=1e-12)
    assert "is kept: operators differ from part to part" in str(study)


def test_the_interval_of_the_gauge_is_that_of_its_mean_squares(example):
    # By hand: operators over 30 measurements each, and what is left of the pooled repeats.
    operators, pooled = (next(source for source in example.sources if source.name == name) for name in ("operators", "repeats, pooled"))
    low, high = component_interval(
        [
            MeanSquare(value=operators.mean_square, degrees_of_freedom=2.0, factor=1.0 / 30.0),
            MeanSquare(value=pooled.mean_square, degrees_of_freedom=78.0, factor=29.0 / 30.0),
        ],
        0.95,
    )
    held = example.variations["gauge_variation"].interval
    assert (held.lower, held.upper) == (pytest.approx(math.sqrt(low)), pytest.approx(math.sqrt(high)))


def test_the_parts_of_the_gauge_add_up(example):
    for study in (example, gauge_study(EXAMPLE["measurements"], pooled_above=1.0)):
        held = {name: estimate.value for name, estimate in study.variations.items()}
        gauge = math.hypot(held["equipment_variation"], held["operator_variation"], held.get("interaction_variation", 0.0))
        assert held["gauge_variation"] == pytest.approx(gauge, rel=1e-12)
        assert held["total_variation"] == pytest.approx(math.hypot(gauge, held["part_variation"]), rel=1e-12)
        for estimate in study.variations.values():
            assert estimate.interval.lower <= estimate.value <= estimate.interval.upper


TABLES = st.lists(st.lists(st.lists(st.floats(-9, 9), min_size=2, max_size=2), min_size=3, max_size=3), min_size=2, max_size=2)


@given(table=TABLES, factor=st.sampled_from([1e-6, 40.0]), shift=st.sampled_from([0.0, 5.0]))
def test_unit_zero_and_order_change_nothing(table, factor, shift):
    one = gauge_study(table, pooled_above=1.0)
    other = gauge_study(factor * (np.array(table)[::-1, ::-1, ::-1] + shift), pooled_above=1.0)
    for name, estimate in one.variations.items():
        # Sums of squares of numbers up to 14 keep 1e-14 of them; a root near zero 1e-7 of that.
        assert other.variations[name].value == pytest.approx(factor * estimate.value, rel=1e-6, abs=1e-6 * factor)


def test_the_gauge_ratio_and_the_table(example):
    assert example.gauge_ratio(6.0) == pytest.approx(example.variations["gauge_variation"].value)
    shown = str(example)
    for words in ("distinct categories: 4", "gauge variation", "0.3024", "27.9 %", "repeats, pooled", "is not seen and was pooled"):
        assert words in shown
    assert example._repr_html_().count("<table>") == 2
    with pytest.raises(FitError, match="width between two limits is positive"):
        example.gauge_ratio(0.0)


def test_the_figure_shows_every_measurement(example):
    ax = example.plot()
    marks = [line for line in ax.lines if line.get_label() in EXAMPLE["operators"]]
    drawn = np.sort(np.concatenate([np.asarray(line.get_ydata()) for line in marks]))
    assert drawn.tolist() == pytest.approx(np.sort(np.ravel(EXAMPLE["measurements"])).tolist())
    assert ax.get_ylabel() == "length [mm]"


def test_a_gauge_that_does_not_scatter_has_no_categories():
    study = gauge_study([[[1.0, 1.0], [2.0, 2.0]], [[1.0, 1.0], [2.0, 2.0]]])
    assert study.distinct_categories is None
    assert "the gauge does not scatter" in str(study)


@pytest.mark.parametrize(
    ("table", "options", "words"),
    [
        ([[1.0, 2.0]], {}, "operators by parts by trials"),
        ([[[1.0], [2.0]], [[1.0], [2.0]]], {}, r"not of shape \(2, 2, 1\)"),
        ([[[1.0, math.nan], [2.0, 1.0]]] * 2, {}, "measure what is missing"),
        ([[[1.0, 2.0], [2.0, 1.0]]] * 2, {"parts": ("a",)}, "need as many names"),
        ([[[1.0, 2.0], [2.0, 1.0]]] * 2, {"pooled_above": 2.0}, "a probability lies between 0 and 1"),
    ],
)
def test_what_is_no_gauge_study_is_refused(table, options, words):
    with pytest.raises(FitError, match=words):
        gauge_study(table, **options)
