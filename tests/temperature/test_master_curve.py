"""Master curves: known factors are found again with intervals that hold, and what is no master curve is said to be none."""

from __future__ import annotations

import numpy as np
import pytest

from rheokit.base.curve import FlowCurve
from rheokit.base.errors import FitError
from rheokit.temperature.master_curve import master_curve

KELVIN = np.array([278.15, 288.15, 296.15, 308.15, 323.15])
RATES = np.geomspace(0.1, 300.0, 31)
HORIZONTAL = np.exp(6000.0 * (1.0 / KELVIN - 1.0 / 296.15))
VERTICAL = np.exp(-(KELVIN - 296.15) / 60.0)


def gel(rate):
    return 80.0 + 40.0 * rate**0.5 + 0.6 * rate


def curves(seed, spread=0.01):
    rng = np.random.default_rng(seed)
    return {
        kelvin: FlowCurve(RATES, b * gel(a * RATES) * np.exp(spread * rng.standard_normal(RATES.size)))
        for kelvin, a, b in zip(KELVIN, HORIZONTAL, VERTICAL, strict=True)
    }


def test_known_factors_are_found_again():
    found = master_curve(curves(1, spread=1e-4), reference_temperature=296.15)
    # The polynomial itself follows the gel to a few 1e-4 over five decades.
    assert [found.horizontal[kelvin].value for kelvin in KELVIN] == pytest.approx(HORIZONTAL, rel=0.02)
    assert [found.vertical[kelvin].value for kelvin in KELVIN] == pytest.approx(VERTICAL, rel=0.01)
    assert found.horizontal[296.15].reason == "1 by definition"


def share_covered(divided_by):
    hits = []
    for seed in range(40):
        found = master_curve(curves(seed), reference_temperature=296.15)
        for factors, true in ((found.horizontal, HORIZONTAL), (found.vertical, VERTICAL)):
            hits += [
                abs(factors[kelvin].value - value) <= 1.98 * factors[kelvin].standard_error / divided_by
                for kelvin, value in zip(KELVIN, true, strict=True)
                if kelvin != 296.15
            ]
    return np.mean(hits)


def test_intervals_of_the_factors_cover():
    # The factors of one draw move together, so 40 draws count as 40 trials: 95 % of them give at least 0.85 with probability 0.99.
    assert share_covered(1.0) >= 0.85
    assert share_covered(2.0) < 0.85  # negative control: errors halved cover two thirds


def test_the_scatter_about_the_curve_is_that_of_the_points():
    found = master_curve(curves(5), reference_temperature=296.15)
    assert found.scatter == pytest.approx(0.01, rel=0.2)  # 155 points: 6 % standard error, three of them
    assert not found.findings


def test_without_vertical_factors_a_gel_is_no_master_curve_and_that_is_said():
    found = master_curve(curves(5, spread=0.003), reference_temperature=296.15, vertical=False)
    assert "the curves have different shapes" in str(found.findings[0])
    assert all(held.value == 1.0 for held in found.vertical.values())


def test_curves_that_hardly_overlap_are_named():
    low = FlowCurve(np.geomspace(0.1, 1.0, 12), gel(np.geomspace(0.1, 1.0, 12)))
    high = FlowCurve(np.geomspace(0.9, 9.0, 12), gel(np.geomspace(0.9, 9.0, 12)))
    found = master_curve({296.15: low, 297.15: high}, reference_temperature=296.15, vertical=False)
    assert "shares" in str(found.findings[-1])
    assert "its factor is a guess" in str(found.findings[-1])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({}, r"^a master curve needs two temperatures or more, the reference 300 K among them$"),
        ({300.0: FlowCurve([1.0, 2.0], [1.0, 2.0])}, r"^the flow curve at 26\.85 °C has 2 usable points"),
    ],
)
def test_too_little_is_refused(change, message):
    with pytest.raises(FitError, match=message):
        master_curve(curves(1) | change, reference_temperature=300.0)


def test_the_figure_names_every_temperature():
    axes = master_curve(curves(1), reference_temperature=296.15).plot()
    assert [text.get_text() for text in axes.get_legend().get_texts()] == ["5 °C", "15 °C", "23 °C", "35 °C", "50 °C"]
