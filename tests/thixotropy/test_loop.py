"""The hysteresis loop, against one whose area is known exactly."""

import pickle

import matplotlib.pyplot as plt
import numpy as np
import pytest
from reference_data import reference
from scipy import stats

import rheokit as rk

EXACT = reference("breakdown_loop")
ETA = 3.0


def breakdown_legs(rate, noise=None):
    """Legs of tau = (eta + D L) g with dL/dt = -b g L from L = 1, rate beta t up to g_m and straight back.

    Up, the integral of g dt is g²/(2 beta); down it is that of the whole up leg and (g_m² - g²)/(2 beta) more.
    """
    depth, beta, b, highest = (EXACT[name] for name in ("D", "beta", "b", "g_m"))
    back = rate[::-1]
    up = (ETA + depth * np.exp(-b * rate**2 / (2.0 * beta))) * rate
    down = (ETA + depth * np.exp(-b * (2.0 * highest**2 - back**2) / (2.0 * beta))) * back
    if noise is not None:
        up, down = up * (1.0 + noise[0]), down * (1.0 + noise[1])
    return rk.Leg(rate / beta, rate, up), rk.Leg((2.0 * highest - back) / beta, back, down)


@pytest.mark.parametrize("rates", [np.linspace(0.0, 100.0, 60), np.geomspace(0.1, 100.0, 60)], ids=["linear", "logarithmic"])
def test_sixty_points_a_leg_come_within_half_a_percent(rates):
    loop = rk.hysteresis_loop(*breakdown_legs(rates))
    assert loop.area.value == pytest.approx(EXACT["area"], rel=5e-3)
    assert (loop.area.name, loop.area.unit) == ("loop_area", "Pa/s")


@pytest.mark.parametrize("rates", [np.linspace(0.0, 100.0, 2000), np.geomspace(0.1, 100.0, 2000)], ids=["linear", "logarithmic"])
def test_two_thousand_points_come_within_1e_5(rates):
    assert rk.hysteresis_loop(*breakdown_legs(rates)).area.value == pytest.approx(EXACT["area"], rel=1e-5)


def test_relative_area():
    # Area under the up leg: eta g_m²/2 + D (beta/b)(1 - exp(-X)), X = 1.
    under = ETA * 5000.0 + EXACT["D"] * EXACT["beta"] / EXACT["b"] * (1.0 - np.exp(-1.0))
    loop = rk.hysteresis_loop(*breakdown_legs(np.linspace(0.0, 100.0, 2000)))
    assert loop.relative_area.value == pytest.approx(EXACT["area"] / under, rel=1e-5)
    assert loop.relative_area.unit == "1"


def test_one_lobe_and_its_conditions():
    loop = rk.hysteresis_loop(*breakdown_legs(np.linspace(0.0, 100.0, 60)))
    (lobe,) = loop.lobes
    assert (lobe.lowest_rate, lobe.highest_rate) == (0.0, 100.0)
    assert lobe.area == pytest.approx(loop.area.value, rel=1e-12)
    assert {name: condition.value for name, condition in loop.area.conditions.items()} == {
        "lowest_rate": 0.0, "highest_rate": 100.0, "ramp": 5.0, "course": "linear", "points": 60.0,
    }  # fmt: skip
    assert loop.area.conditions["ramp"].unit == "1/s²"


def test_legs_that_cross_have_a_lobe_on_each_side():
    # Up a straight line, down a parabola through its ends and its middle value at 5: they cross at 5 by construction.
    rate = np.linspace(0.0, 10.0, 2001)
    up = 20.0 + 2.0 * rate
    loop = rk.hysteresis_loop(
        rk.Leg(rate, rate, up), rk.Leg(rate + 10.0, rate[::-1], (up + rate * (rate - 5.0) * (rate - 10.0) / 10.0)[::-1])
    )
    first, second = loop.lobes
    assert first.highest_rate == pytest.approx(5.0, rel=1e-6)
    assert second.lowest_rate == first.highest_rate
    # The integral of g (g - 5)(g - 10)/10 from 0 to 5 is 15.625, and down lies above up there.
    assert first.area == pytest.approx(-15.625, rel=1e-5)
    assert second.area == pytest.approx(15.625, rel=1e-5)
    assert loop.area.value == pytest.approx(0.0, abs=2.0 * 15.625e-5)


def test_equal_legs_enclose_nothing():
    rate = np.linspace(1.0, 10.0, 10)
    loop = rk.hysteresis_loop(rk.Leg(rate, rate, 3.0 * rate), rk.Leg(rate, rate[::-1], 3.0 * rate[::-1]))
    assert loop.area.value == 0.0
    assert loop.lobes == ()


def test_legs_on_unlike_points_that_lie_on_each_other_have_no_lobe():
    one, other = np.linspace(0.0, 100.0, 37), np.array([0.0, 2.0, 11.0, 23.0, 51.0, 100.0])
    loop = rk.hysteresis_loop(rk.Leg(one, one, np.full(37, 0.01)), rk.Leg(200.0 - other[::-1], other[::-1], np.full(6, 0.01)))
    assert loop.lobes == ()
    assert loop.area.value == pytest.approx(0.0, abs=1e-14)


def test_an_upper_leg_below_is_a_negative_area():
    up, down = breakdown_legs(np.linspace(0.0, 100.0, 60))
    swapped = rk.hysteresis_loop(
        rk.Leg(up.time, up.shear_rate, down.shear_stress[::-1]), rk.Leg(down.time, down.shear_rate, up.shear_stress[::-1])
    )
    assert swapped.area.value == pytest.approx(-rk.hysteresis_loop(up, down).area.value, rel=1e-12)


def test_legs_on_unlike_points():
    up, _ = breakdown_legs(np.linspace(0.0, 100.0, 60))
    _, down = breakdown_legs(np.geomspace(0.5, 100.0, 83))
    loop = rk.hysteresis_loop(up, down)
    assert loop.area.value == pytest.approx(EXACT["area"], rel=5e-3)
    assert loop.shear_rate[0] == 0.5
    assert loop.shear_rate.size == np.union1d(up.shear_rate[up.shear_rate >= 0.5], down.shear_rate).size


def test_scaling_stress_and_rate():
    up, down = breakdown_legs(np.linspace(0.0, 100.0, 60))
    plain = rk.hysteresis_loop(up, down)
    scaled = rk.hysteresis_loop(*(rk.Leg(leg.time, 1e3 * leg.shear_rate, 1e-4 * leg.shear_stress) for leg in (up, down)))
    assert scaled.area.value == pytest.approx(0.1 * plain.area.value, rel=1e-12)
    assert scaled.area.standard_error == pytest.approx(0.1 * plain.area.standard_error, rel=1e-9)
    assert scaled.relative_area.value == pytest.approx(plain.relative_area.value, rel=1e-12)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda leg: rk.Leg(1.03 * leg.time, leg.shear_rate, leg.shear_stress), "in 20.60 s"),
        (lambda leg: rk.Leg(leg.time, 1.03 * leg.shear_rate, leg.shear_stress), "0 to 103.0 1/s"),
        (lambda leg: rk.Leg(leg.time, 20.0 + leg.shear_rate, leg.shear_stress), "20.00 to 120.0 1/s"),
    ],
    ids=["duration", "range", "place"],
)
def test_unlike_ramps_are_refused_and_both_are_named(change, said):
    up, down = breakdown_legs(np.linspace(0.0, 100.0, 60))
    with pytest.raises(rk.ComparisonError) as caught:
        rk.hysteresis_loop(up, change(down))
    assert "the legs have unlike ramps, up 0 to 100.0 1/s in 20.00 s and down " in str(caught.value)
    assert said in str(caught.value)


def test_ramps_alike_to_two_percent_are_taken():
    up, down = breakdown_legs(np.linspace(0.0, 100.0, 60))
    assert rk.hysteresis_loop(up, rk.Leg(1.015 * down.time, down.shear_rate, down.shear_stress)).ramp.duration == 20.0


def test_areas_of_other_ramps_are_not_compared():
    up, down = breakdown_legs(np.linspace(0.0, 100.0, 60))
    slow = rk.hysteresis_loop(*(rk.Leg(2.0 * leg.time, leg.shear_rate, leg.shear_stress) for leg in (up, down)))
    with pytest.raises(rk.ComparisonError, match="the condition ramp differs"):
        slow.area.require_comparable(rk.hysteresis_loop(up, down).area)


@pytest.mark.parametrize("noise", ["relative", "at high rates"])
@pytest.mark.parametrize(("factor", "covers"), [(1.0, True), (1.4, False)], ids=["as it is", "errors divided by 1.4"])
def test_the_standard_error_covers_the_truth(noise, factor, covers):
    # 500 loops: 95 % intervals by Student's t stay within the 99.9 % binomial limits, also where the scatter is not the same along the
    # leg; the negative control, errors divided by 1.4, falls to about 84 %. The truth is the noise-free area on the same points.
    rates, generator, repeats = np.linspace(0.0, 100.0, 60), np.random.default_rng(4), 500
    truth = rk.hysteresis_loop(*breakdown_legs(rates))
    size = np.full((2, 60), 0.01)
    if noise == "at high rates":
        size = np.stack([0.03 * (rates > 70.0), 0.03 * (rates[::-1] > 70.0)])
    inside = np.zeros(2)
    for _ in range(repeats):
        loop = rk.hysteresis_loop(*breakdown_legs(rates, size * generator.standard_normal((2, 60))))
        for index, (found, true) in enumerate(((loop.area, truth.area), (loop.relative_area, truth.relative_area))):
            inside[index] += abs(found.value - true.value) <= stats.t.ppf(0.975, found.degrees_of_freedom) * found.standard_error / factor
    lowest, highest = stats.binom.ppf([0.0005, 0.9995], repeats, 0.95)
    within = (inside >= lowest) & (inside <= highest)
    assert within.all() if covers else not within.any()


def test_without_scatter_or_points_there_is_no_standard_error():
    rate = np.linspace(1.0, 10.0, 10)
    few = rk.hysteresis_loop(rk.Leg(rate[::3], rate[::3], 3.0 * rate[::3]), rk.Leg(rate[::3], rate[::-3], 2.0 * rate[::-3]))
    assert few.area.standard_error is None
    assert few.area.reason == "too few points to see their scatter"


def test_a_negative_area_under_the_up_leg_is_refused():
    rate = np.linspace(1.0, 10.0, 10)
    with pytest.raises(rk.FitError, match="the area under the up leg is not positive"):
        rk.hysteresis_loop(rk.Leg(rate, rate, -rate), rk.Leg(rate, rate[::-1], -rate[::-1]))


def test_table_plot_and_travel():
    loop = rk.hysteresis_loop(*breakdown_legs(np.linspace(0.0, 100.0, 60)))
    for part in ("loop area", "relative loop area", "lobe 1", "0 to 100.0 1/s", "ramp 0 to 100.0 1/s in 20.00 s"):
        assert part in str(loop)
    assert loop.table()._repr_html_() == loop._repr_html_()
    figure, axes = plt.subplots()
    assert loop.plot(axes) is axes
    assert "1/s" in axes.get_xlabel()
    assert len(axes.collections) == 1
    plt.close(figure)
    back = pickle.loads(pickle.dumps(loop))
    assert back.area == loop.area
    assert not back.up.flags.writeable


def test_lobes_inside_the_scatter_are_said_to_be():
    # Legs that differ by noise alone cross wherever the noise does; two smooth legs that differ throughout do not.
    rate, noise = np.linspace(1.0, 100.0, 40), np.random.default_rng(5)
    level = 60.0 + 12.0 * rate**0.5
    up, down = (level * (1.0 + 0.01 * noise.standard_normal(40)) for _ in range(2))
    loop = rk.hysteresis_loop(rk.Leg(rate, rate, up), rk.Leg(rate + 100.0, rate[::-1], down[::-1]))
    small = sum(abs(lobe.area) <= loop.area.standard_error for lobe in loop.lobes)
    assert small > 3
    assert f"{small} of {len(loop.lobes)} lobes are no larger than the standard error of the loop area" in str(loop)
    apart = rk.hysteresis_loop(rk.Leg(rate, rate, 1.2 * up), rk.Leg(rate + 100.0, rate[::-1], down[::-1]))
    assert "no larger than the standard error" not in str(apart)
