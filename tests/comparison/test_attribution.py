"""Whole-curve ratio and causes: exact shapes are named with their size, alike shapes are not told apart, and the study holds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from studies.attribution import RATES, changed, loads, study

from rheokit.base.curve import FlowCurve
from rheokit.base.errors import ComparisonError, FitError
from rheokit.comparison.attribution import CAUSES, attribute
from rheokit.comparison.curve_ratio import curve_ratio


def exact(stress, count=2):
    return [FlowCurve(RATES, stress)] * count


def herschel(yield_stress=100.0, consistency=30.0, plateau=1.0):
    return yield_stress + consistency * RATES**0.5 + plateau * RATES


STANDARD = herschel()


def tight(batch):
    """Exact curves with a small stated scatter: what is left is the shape alone."""
    return replace(curve_ratio(exact(batch), exact(STANDARD), load_scatter=0.005))


@pytest.mark.parametrize(
    ("cause", "batch", "size", "within"),
    [
        ("level", 1.08 * STANDARD, 8.0, 0.1),
        ("network", herschel(yield_stress=125.0), 25.0, 0.5),
        ("vehicle", herschel(plateau=1.6), 60.0, 1.0),
        # 1.5 K colder by the defaults: yield part e^(1.5/60), viscous part exp(50e3/R (1/294.65 - 1/296.15)).
        (
            "temperature",
            100.0 * np.exp(1.5 / 60.0) + (30.0 * RATES**0.5 + RATES) * np.exp(50e3 / 8.314462618 * (1 / 294.65 - 1 / 296.15)),
            -1.5,
            0.02,
        ),
    ],
)
def test_a_cause_of_exact_shape_is_named_with_its_size(cause, batch, size, within):
    found = attribute(tight(batch))
    assert found.verdict == "named"
    assert found.named is CAUSES[cause]
    assert found.size == pytest.approx(size, abs=within)
    assert found.interval[0] < size < found.interval[1]
    assert CAUSES[cause].members in found.sentence
    assert len(found.explained) == 4  # losers shown


def test_no_difference_is_said_as_that():
    rng = np.random.default_rng(5)
    found = attribute(curve_ratio(loads(STANDARD, rng), loads(STANDARD, rng), load_scatter=0.015))
    assert found.verdict == "no difference"
    assert "no difference from the standard is seen" in found.sentence


def test_what_the_curve_cannot_tell_is_not_named():
    # A little colder and a little thicker vehicle look alike under loads that scatter by 3 %.
    colder = 100.0 * np.exp(0.4 / 60.0) + (30.0 * RATES**0.5 + RATES) * 1.028
    found = attribute(curve_ratio(exact(colder, 3), exact(STANDARD, 3), load_scatter=0.005))
    assert found.verdict in {"cannot tell", "named"}
    wide = attribute(replace(curve_ratio(exact(colder, 3), exact(STANDARD, 3), load_scatter=0.01),
                             covariance=1e-4 * np.ones((20, 20)) + 4e-5 * np.eye(20)))  # fmt: skip
    assert wide.verdict in {"cannot tell", "no difference"}
    assert wide.named is None


def test_two_causes_at_once_are_none_of_these():
    both = herschel(yield_stress=60.0, plateau=3.0)
    found = attribute(tight(both))
    assert found.verdict == "none of these"
    assert "look for two at once" in found.sentence


def test_a_curve_without_a_yield_stress_is_refused():
    flat = 30.0 * RATES**0.5
    with pytest.raises(FitError, match=r"^the standard's curve shows no yield stress: a network cannot be told from a vehicle"):
        attribute(curve_ratio(exact(1.1 * flat), exact(flat), load_scatter=0.01))


def test_the_ratio_is_that_of_the_means_and_common_bias_leaves_it():
    ratio = curve_ratio(exact(1.05 * STANDARD), exact(STANDARD), load_scatter=0.01)
    assert np.exp(ratio.log_ratio) == pytest.approx(1.05, rel=1e-12)
    both = curve_ratio(exact(1.05 * STANDARD * 1.2), exact(STANDARD * 1.2), load_scatter=0.01)
    np.testing.assert_allclose(both.log_ratio, ratio.log_ratio, rtol=1e-9)


def test_the_band_holds_for_all_rates_at_once():
    # 300 draws of no difference: exact binomial of 95 % gives at least 0.92 with probability 0.99 (and at most 0.98).
    rng = np.random.default_rng(8)
    hits = narrow = 0
    for _ in range(300):
        ratio = curve_ratio(loads(STANDARD, rng), loads(STANDARD, rng), load_scatter=0.015)
        low, high = ratio.band()
        hits += bool(np.all((low < 1.0) & (high > 1.0)))
        reach = 1.96 * np.sqrt(np.diag(ratio.covariance))  # negative control: the reach for one rate alone
        narrow += bool(np.all(np.abs(ratio.log_ratio) < reach))
    assert 0.92 <= hits / 300 <= 0.985
    assert narrow / 300 < 0.92


def test_loads_give_their_own_scatter_where_none_is_stated():
    rng = np.random.default_rng(3)
    ratio = curve_ratio(loads(STANDARD, rng), loads(STANDARD, rng))
    assert ratio.degrees_of_freedom == 4
    assert "by themselves (4 degrees of freedom)" in ratio.method
    with pytest.raises(ComparisonError, match=r"^one load each says nothing of the scatter between loads; state it, or measure two loads$"):
        curve_ratio(loads(STANDARD, rng)[:1], loads(STANDARD, rng)[:1])


def test_curves_that_hardly_overlap_are_refused():
    low, high = FlowCurve(RATES[:8], STANDARD[:8]), FlowCurve(RATES[8:], STANDARD[8:])
    with pytest.raises(ComparisonError, match=r"^the curves share less than half a decade of shear rate"):
        curve_ratio([low], [high], load_scatter=0.01)


def test_the_study_names_causes_rightly():
    counts = study(250, 11)
    clear, close = counts["clear"], counts["close"]
    assert clear["right"] / sum(clear.values()) >= 0.85
    assert clear["cannot tell"] / sum(clear.values()) <= 0.10
    # At most 5 %: with some 100 batches the exact binomial leaves 10 of them below 1e-2.
    assert close["wrong"] <= 0.05 * sum(close.values()) + 2.33 * np.sqrt(0.05 * 0.95 * sum(close.values()))
    # Negative control: a scatter stated five times too small names causes that are not there.
    blind = study(250, 11, scatter=0.003)["close"]
    assert blind["wrong"] > 0.10 * sum(blind.values())


def test_a_true_change_of_the_virtual_ink_is_a_change_of_its_stress():
    assert changed("level", 0.1) == pytest.approx(1.1 * changed("none", 0.0), rel=1e-12)
    assert np.all(changed("network", 0.2) > changed("none", 0.0))


def test_table_and_figure_show_all():
    ratio = tight(1.08 * STANDARD)
    assert "batch / standard" in str(ratio)
    assert "level" in str(attribute(ratio))
    assert any("differs" in text.get_text() for text in ratio.plot().texts)
