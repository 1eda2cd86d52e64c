"""Batches over time: charts as published, drifts that were put in, and nothing said that the history does not hold."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from reference_data import reference

from rheokit.base.errors import ComparisonError
from rheokit.comparison.drift import Drift, drift, drift_words
from rheokit.comparison.history_limits import history_risk, proposed_limits, scale_of
from rheokit.comparison.trend import trend
from rheokit.release.result_rows import ResultRow
from rheokit.reports.trend_page import trend_page
from rheokit.statistics.capability import one_sided_tolerance_factor, tolerance_factor
from rheokit.virtual import demo_history

KNOWN = reference("quality_statistics")


def history(count=40, seed=1, **drifts):
    return [ResultRow(**row) for row in demo_history(count, seed, **drifts)]


def rows(values, *, role="batch", name="viscosity-100", lower=3.4, upper=4.2):
    known = {"requirement": name, "role": role, "unit": "Pa·s", "standard_error": 0.05, "lower": lower, "upper": upper}
    days = [datetime(2026, 1, 5, 8, tzinfo=UTC) + timedelta(days=5 * place) for place in range(len(values))]
    return [
        ResultRow(time=day.isoformat(), batch=f"B{place:03d}", value=value, shown_unit="mPa·s", **known)
        for place, (value, day) in enumerate(zip(values, days, strict=True))
    ]


def test_the_chart_is_that_of_the_handbook():
    known = KNOWN["individuals"]
    found = trend(rows(known["values"], lower=None, upper=60.0)).requirements["viscosity-100"]
    assert found.chart.centre == pytest.approx(known["mean"], abs=5e-3)
    # The handbook divides by 1.128, not 1.12838: 3 · 1.8778 · (1/1.128 - 1/1.12838) = 0.0017.
    assert (found.chart.lower, found.chart.upper) == (pytest.approx(known["lower"], abs=2e-3), pytest.approx(known["upper"], abs=2e-3))
    assert found.alarms == ()
    assert found.reasons["proposed"] == "10 batches; limits are proposed from 20 on"
    assert found.reasons["risk"] == "10 batches; a global risk needs 20"
    assert (found.capability.cp, found.limits) == (None, (-math.inf, 60.0))


def test_an_exact_exponential_drift_is_found_exactly():
    days = np.arange(0.0, 100.0, 10.0)
    found = drift("product", days, 3.8 * 1.01 ** (days / 30.0))
    assert found.change == pytest.approx(0.01, rel=1e-9)
    # By hand: ln y = x/10 with one value off by d: slope and error of ordinary least squares.
    off = np.log(3.8) + np.array([0.0, 0.0, 0.01, 0.0, 0.0])
    x = np.arange(5.0)
    slope = 0.0  # the middle value does not turn the line
    rest = off - off.mean()
    error = math.sqrt(float(rest @ rest) / 3.0 / 10.0)
    seen = drift("product", x, np.exp(off))
    assert math.log1p(seen.change) / 30.0 == pytest.approx(slope, abs=1e-12)
    # Student's t at 0.975 with 3 degrees of freedom: 3.1824 (any table; five digits).
    assert math.log1p(seen.interval[1]) / 30.0 == pytest.approx(3.18245 * error, rel=1e-5)


@pytest.mark.parametrize(
    ("drifts", "seen", "unseen", "words"),
    [
        ({"instrument_drift": 0.01}, {"standard", "check oil"}, {"standard over check oil"}, "the instrument; mend that first"),
        ({"standard_drift": -0.01}, {"standard", "standard over check oil"}, {"check oil"}, "it ages, or its storage does; renew it"),
        (
            {"product_drift": 0.02},
            {"product", "product over standard"},
            {"standard", "check oil"},
            "the product drifts against the standard",
        ),
    ],
)
def test_a_drift_that_was_put_in_is_told_from_the_others(drifts, seen, unseen, words):
    found = trend(history(60, 2, **drifts)).requirements["viscosity-100"]
    held = {one.of for one in found.drifts if one.seen}
    assert seen <= held
    assert not unseen & held
    assert words in found.drift_said


def test_intervals_of_the_drift_cover_and_too_narrow_ones_do_not():
    # 200 histories: exact binomial of 95 % gives at least 0.91 with probability 0.99.
    hits = narrow = 0
    for seed in range(200):
        found = trend(history(30, seed, product_drift=0.01), requirement="viscosity-100").requirements["viscosity-100"]
        (held,) = (one for one in found.drifts if one.of == "product over standard")
        low, high = held.interval
        hits += low <= 0.01 <= high
        narrow += abs(held.change - 0.01) <= (high - low) / 2.0 / 1.6  # negative control: errors divided by 1.6
    assert hits / 200 >= 0.91
    assert narrow / 200 < 0.91


def test_words_say_what_is_not_known():
    seen = Drift(of="product", change=0.02, interval=(0.01, 0.03), count=9)
    assert "no standard tells it from the instrument" in drift_words([seen])
    against = Drift(of="product over standard", change=0.0, interval=(-0.01, 0.01), count=9)
    assert "against the standard no drift is seen" in drift_words([seen, against])
    assert "it may be ageing" in drift_words([replace(seen, of="standard")])
    assert drift_words([replace(seen, interval=(-0.01, 0.03))]) == "no drift is seen beyond the scatter"
    assert str(drift("product", [1.0, 2.0], [1.0, 2.0])) == "2 values at known times; a drift needs 4"
    assert drift("product", [1.0, 2.0, 3.0, 4.0], [1.0, 2.0, -1.0, 1.0]).reason == "values that are not above zero have no relative drift"


def test_alarms_name_batch_and_chart_and_never_reject():
    values = [3.8, 3.82, 3.79, 3.81, 3.8, 3.78, 3.81, 3.8, 4.1, 3.8]
    found = trend(rows(values), use_run_rules=False)
    assert ("B008", "single value") in {(alarm.batch, alarm.chart) for alarm in found.requirements["viscosity-100"].alarms}
    assert "an alarm is a signal to look for a cause, never a reject" in str(found)
    assert "settled" in found.requirements["viscosity-100"].reasons
    eight = trend(rows([3.79, 3.81] * 6 + [3.805] * 8), base=12, use_run_rules=True).requirements["viscosity-100"]
    assert any(alarm.chart == "eight on one side" for alarm in eight.alarms)


def test_skewed_items_stand_on_a_logarithmic_scale_and_it_is_said():
    rng = np.random.default_rng(3)
    skewed = np.exp(0.6 * rng.standard_normal(200))
    scale = scale_of(skewed)
    assert scale.logarithmic
    assert scale.reason.startswith("logarithms: the values are skewed")
    assert not scale_of(rng.normal(50.0, 1.0, 200)).logarithmic
    assert not scale_of(skewed - 5.0).logarithmic
    found = trend(rows((3.8 * skewed).tolist(), lower=0.1, upper=60.0)).requirements["viscosity-100"]
    assert found.scale.logarithmic
    logs = np.log(3.8 * skewed)
    factor = tolerance_factor(200, share=0.99, confidence=0.95)
    assert found.proposed.upper == pytest.approx(math.exp(logs.mean() + factor * logs.std(ddof=1)), rel=1e-9)
    assert "logarithms" in found.proposed.method


def test_limits_are_proposed_from_twenty_batches_on_one_or_two_sides():
    values = np.array([3.8, 3.9] * 10)
    spread = values.std(ddof=1)
    both = proposed_limits(values, scale_of(values), sides=(True, True))
    assert both.upper - both.lower == pytest.approx(2.0 * tolerance_factor(20, share=0.99, confidence=0.95) * spread, rel=1e-12)
    lower = proposed_limits(values, scale_of(values), sides=(True, False))
    assert lower.upper is None
    assert lower.lower == pytest.approx(3.85 - one_sided_tolerance_factor(20, share=0.99, confidence=0.95) * spread, rel=1e-12)


def test_the_global_risk_is_the_published_one():
    # Deaver; NCSLI RP-19: process sd 1, limits ±2, tolerance over expanded uncertainty (two standard uncertainties) 4: 0.8006 %, 1.4851 %.
    # A history whose scatter seen is that of process and measurement together: sqrt(1 + 0.25²).
    base = np.array([-1.0, 1.0] * 50)
    values = base / base.std(ddof=1) * math.hypot(1.0, 0.25)
    risk = history_risk(values, np.full(100, 0.25), scale_of(values), limits=(-2.0, 2.0), reach=0.0)
    assert 100.0 * risk.false_accept == pytest.approx(0.8006, abs=0.00005)
    assert 100.0 * risk.false_reject == pytest.approx(1.4851, abs=0.00005)
    guarded = history_risk(values, np.full(100, 0.25), scale_of(values), limits=(-2.0, 2.0), reach=1.645)
    assert guarded.false_accept < 0.1 * risk.false_accept
    with pytest.raises(ValueError, match=r"^the batches scatter no more than their measurement"):
        history_risk(values, np.full(100, 2.0), scale_of(values), limits=(-2.0, 2.0), reach=0.0)


def test_what_cannot_be_charted_is_said():
    found = trend([*rows([3.8, 3.9]), *rows([1.0] * 6, name="density")])
    assert found.left_out == {
        "viscosity-100": "2 batches; a chart needs 5 that differ",
        "density": "6 batches; a chart needs 5 that differ",
    }
    with pytest.raises(ComparisonError, match=r"^no check has a requirement 'yield'; there are viscosity-100$"):
        trend(rows([3.8] * 6), requirement="yield")
    with pytest.raises(ComparisonError, match=r"^there are no numbers to chart: no check that counts is there$"):
        trend([])
    mixed = [*rows([3.8, 3.9] * 3), replace(rows([3.8])[0], unit="Pa")]
    with pytest.raises(ComparisonError, match=r"the unit changes between checks \(Pa, Pa·s\)"):
        trend(mixed)


def test_the_page_is_whole_safe_and_the_same_each_time():
    found = trend([replace(row, batch="<b>&" if row.batch == "V003" else row.batch) for row in history(30, 5)], base=10)
    page = trend_page(found, title="<script>", source="invented")
    assert page == trend_page(found, title="<script>", source="invented")
    assert "<script" not in page
    assert "never a reject" in page
    assert page.count("<svg") == 8  # four figures of each of two requirements
    assert "://" not in page.replace("http://www.w3.org/2000/svg", "")
    assert "mPa·s" in trend_page(trend(rows([3.8, 3.9, 3.85, 3.7, 3.8])), title="t", source="s")
