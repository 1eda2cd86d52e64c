"""A kink below yield, and two gaps: exact slopes and ratios on either side of the limits."""

import numpy as np
import pytest
from screening.made_runs import PLATES, found, run, step, with_preamble

from rheokit.screening import screen, screen_loads

RATES = np.geomspace(0.1, 100.0, 16)


def kinked(extra, kind="down"):
    """Return a curve of slope 0.3 whose lowest four points lie on a line steeper by so much."""
    x = np.log(RATES / RATES[3])
    stress = 100.0 * np.exp(0.3 * x + extra * np.minimum(x, 0.0))
    return run(step(2, kind, RATES[::-1], stress[::-1], step_time=1000.0 * np.arange(1.0, 17.0)))


@pytest.mark.parametrize("kind", ["down", "steady"])
@pytest.mark.parametrize(("extra", "count"), [(0.099, 0), (0.101, 1)])
def test_a_curve_that_steepens_as_the_rate_falls(kind, extra, count):
    assert len(found(screen(kinked(extra, kind)), "wall_slip")) == count


def test_a_kink_is_never_more_than_a_caution():
    (finding,) = found(screen(kinked(0.7)), "wall_slip")
    assert (finding.severity, finding.value) == ("caution", pytest.approx(0.7, rel=1e-9))
    assert str(finding) == (
        "step 2 (down): below 0.398 1/s the flow curve falls with the rate again, its slope in log-log 0.700 above the least; the wall may "
        "slip: roughen the surfaces or measure at a second gap"
    )


def test_a_yield_curve_has_no_kink():
    assert found(screen(run(step(2, "down", RATES[::-1], 80.0 + 30.0 * RATES[::-1] ** 0.5))), "wall_slip") == []


def at_gap(gap, faster, name):
    return with_preamble({**PLATES, "Gap": gap}, step(1, "down", RATES[::-1] * faster, (100.0 * RATES**0.3)[::-1]), name=name)


@pytest.mark.parametrize(("faster", "count"), [(1.099, 0), (1.101, 1), (0.901, 0), (0.899, 1)])
def test_two_gaps_at_equal_stress(faster, count):
    loads = [at_gap("1 mm", 1.0, "wide.csv"), at_gap("0.5 mm", faster, "narrow.csv")]
    assert len(found(screen_loads(loads), "two_gaps")) == count


def test_slip_makes_the_narrow_gap_faster_and_its_velocity_is_told():
    # 2 V/h: at 30 % more at half the gap, V = 0.3 rate/(2/0.5 mm - 2/1 mm) = 1.5e-4 m times the rate.
    narrow, wide = at_gap("0.5 mm", 1.3, "narrow.csv"), at_gap("1 mm", 1.0, "wide.csv")
    (finding,) = found(screen_loads([narrow, wide]), "two_gaps")
    assert finding.source == "wide.csv"
    assert "the shear rate at the gap of 0.500 mm is 30.0% higher than at 1.00 mm: the wall slips by" in str(finding)
    (other,) = found(screen_loads([at_gap("0.5 mm", 0.8, "narrow.csv"), wide]), "two_gaps")
    assert str(other).endswith("that is not slip; check gap zero and filling")


def test_one_gap_shows_nothing():
    assert found(screen_loads([at_gap("1 mm", 1.0, "a.csv"), at_gap("1 mm", 1.5, "b.csv")]), "two_gaps") == []


@pytest.mark.parametrize(("apart", "count"), [(0.0699, 0), (0.07, 1), (0.0701, 1)])
def test_repeat_loads_are_measured_again_from_seven_per_cent(apart, count):
    levels = (1.0 - 0.5 * apart, 1.0 + 0.5 * apart)
    loads = [run(step(1, "down", RATES[::-1], level * (100.0 * RATES**0.3)[::-1]), name=f"{level}.csv") for level in levels]
    given = found(screen_loads(loads), "repeat_loads")
    assert len(given) == count
    if count:
        assert str(given[0]).startswith("from 50.0 to 100 1/s the stresses of 2 loads lie 7.0% of their mean apart; load fresh sample")
    assert found(screen_loads(loads, limits={"repeat_loads": 0.08}), "repeat_loads") == []


def test_one_load_is_no_repeat():
    assert screen_loads([kinked(0.0)]) == ()


def test_the_least_slope_may_lie_right_above_the_lowest_rates():
    slopes = np.r_[[0.4] * 3, [0.25] * 5, [0.5] * 7]
    stress = 100.0 * np.exp(np.r_[0.0, np.cumsum(slopes * np.diff(np.log(RATES)))])
    (finding,) = found(screen(run(step(2, "down", RATES[::-1], stress[::-1]))), "wall_slip")
    assert finding.value == pytest.approx(0.15, rel=1e-9)


def test_the_velocity_is_that_of_the_stress_that_is_named():
    (finding,) = found(screen_loads([at_gap("0.5 mm", 1.3, "narrow.csv"), at_gap("1 mm", 1.0, "wide.csv")]), "two_gaps")
    stress = float(str(finding).split(" Pa")[0].removeprefix("at "))
    velocity = float(str(finding).split("slips by ")[1].split(" m/s")[0])
    # The stress is printed with three digits: 1 % of it is 3 % of the rate at a slope of 0.3; the velocity with two.
    assert velocity == pytest.approx(0.3 * (stress / 100.0) ** (1.0 / 0.3) / 2000.0, rel=0.06)


def test_scatter_on_a_flat_curve_is_no_slip():
    scatter = np.exp(0.02 * np.random.default_rng(5).standard_normal((2, 16)))
    loads = [
        with_preamble({**PLATES, "Gap": gap}, step(1, "down", RATES[::-1], (100.0 * RATES**0.05 * noise)[::-1]), name=gap)
        for gap, noise in zip(("1 mm", "0.5 mm"), scatter, strict=True)
    ]
    assert found(screen_loads(loads), "two_gaps") == []


def test_seven_per_cent_on_paper_counts_whatever_its_digits():
    for scale in np.linspace(0.5, 2.0, 40):
        loads = [
            run(step(1, "down", RATES[::-1], np.full(16, scale * level)), name=f"{level}.csv") for level in (0.965 * 100.0, 1.035 * 100.0)
        ]
        assert len(found(screen_loads(loads), "repeat_loads")) == 1
