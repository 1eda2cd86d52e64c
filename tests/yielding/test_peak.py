"""The stress overshoot, its growth over rest, and the vane."""

import pickle

import matplotlib.pyplot as plt
import numpy as np
import pytest
from reference_data import reference
from yielding.made import noise, overshoot, run, step

import rheokit as rk
from rheokit.yielding import interval_of, rest_before, stress_overshoot, vane_torque_peak
from rheokit.yielding.parabola import top_of
from rheokit.yielding.reading_off import positive, stated


@pytest.mark.parametrize("degree", [2, 3])
def test_the_top_of_a_polynomial_is_exact(degree):
    x = np.linspace(-1.0, 1.0, 41)
    y = 7.0 - 2.0 * (x - 0.2) ** 2 + (0.3 * (x - 0.2) ** 3 if degree == 3 else 0.0)
    top = top_of(x, y, 0.5, degree)
    assert (top.place, top.height, top.where) == (pytest.approx(0.2, rel=1e-9), pytest.approx(7.0, rel=1e-12), "inside")


def test_the_error_of_a_top_is_that_of_repeated_tops():
    # 400 redrawings: their standard deviation is known to 3.5 %; the window that follows the top may add some per cent.
    x = np.linspace(-1.0, 1.0, 41)
    tops = [top_of(x, 7.0 - 2.0 * (x - 0.1) ** 2 + 0.05 * (noise(41, 1.0, seed) - 1.0), 0.6) for seed in range(400)]
    for error, value in (("height_error", "height"), ("place_error", "place")):
        claimed = np.sqrt(np.mean([getattr(top, error) ** 2 for top in tops]))
        assert claimed == pytest.approx(np.std([getattr(top, value) for top in tops]), rel=0.2)


def test_the_peak_is_found_where_it_was_made():
    found = rk.static_yield_stress_peak(overshoot(height=120.0, at=5.0), rest=300.0)
    assert found.stress.value == pytest.approx(120.0, rel=1e-9)
    assert found.peak_time == pytest.approx(5.0, rel=1e-6)
    assert found.stress.name == "static_yield_stress_peak"
    assert {key: str(held) for key, held in found.stress.conditions.items()} == {
        "method": "start-up peak", "rest": "300.0 s", "shear_rate": "0.1000 1/s",
    }  # fmt: skip


def test_scaling_the_stress_scales_the_peak():
    made = overshoot()
    scaled = step("startup", "rate", **{**made.columns, "shear_stress": 1e-3 * made.shear_stress * noise(120, 0.005)})
    plain = step("startup", "rate", **{**made.columns, "shear_stress": made.shear_stress * noise(120, 0.005)})
    one, other = (rk.static_yield_stress_peak(both).stress for both in (plain, scaled))
    assert other.value == pytest.approx(1e-3 * one.value, rel=1e-12)
    assert other.standard_error == pytest.approx(1e-3 * one.standard_error, rel=1e-9)


def test_a_stress_that_still_rises_is_a_bound():
    time = np.linspace(0.5, 60.0, 120)
    found = rk.static_yield_stress_peak(rk.Leg(time, np.full(120, 0.1), 100.0 * (1.0 - np.exp(-time / 60.0)))).stress
    assert not found.determined
    assert found.reason.startswith("the stress still rises, or has just stopped rising, where the step ends at 60.0 s")
    assert found.interval.upper == np.inf
    assert found.interval.lower <= found.value
    assert found.findings[-1].severity == "caution"


def test_a_peak_before_the_first_points_is_a_bound():
    time = np.linspace(0.5, 60.0, 120)
    found = rk.static_yield_stress_peak(rk.Leg(time, np.full(120, 0.1), 60.0 + 60.0 * np.exp(-time / 20.0))).stress
    assert not found.determined
    assert "record earlier points" in found.reason


@pytest.mark.parametrize("seed", range(20))
def test_noise_about_a_plateau_is_no_overshoot(seed):
    time = np.geomspace(0.3, 60.0, 120)
    stress = 100.0 * (1.0 - np.exp(-time / 2.0)) * noise(120, 0.02, seed)
    found = rk.static_yield_stress_peak(rk.Leg(time, np.full(120, 0.1), stress)).stress
    assert not found.determined


def test_too_few_points_are_refused():
    with pytest.raises(rk.FitError, match="5 points with a positive time and stress; a peak needs at least 8"):
        stress_overshoot(np.arange(1.0, 6.0), np.arange(1.0, 6.0))


def test_the_rest_is_from_the_end_of_the_step_before():
    times = {1: np.linspace(1.0, 60.0, 10), 2: np.linspace(120.0, 360.0, 5), 3: np.linspace(361.0, 420.0, 20)}
    kinds = {1: "shear", 2: "rest", 3: "startup"}
    steps = [step(kinds[number], "rate", number, time=time) for number, time in times.items()]
    assert rest_before(run(*steps), steps[2]) == 300.0
    assert rest_before(run(*steps[1:]), steps[2]) == 240.0
    assert rest_before(run(*steps), steps[1]) is None


def peaks(values, error=0.005, rate=0.1):
    return [
        positive("static_yield_stress_peak", value, "Pa", relative_error=error, degrees_of_freedom=10.0, method="made",
                 conditions=stated("start-up peak", rest=rest, shear_rate=rate))
        for rest, value in values.items()
    ]  # fmt: skip


def test_growth_over_the_rest_is_exact_on_a_line():
    made = {rest: 80.0 + 15.0 * np.log10(rest) for rest in (10.0, 100.0, 300.0, 1000.0)}
    grown = rk.static_yield_growth(
        peaks({rest: value * factor for (rest, value), factor in zip(made.items(), noise(4, 1e-4), strict=True)})
    )
    assert grown.stress.value == pytest.approx(15.0, rel=0.01)
    inside = grown.at_rest(200.0)
    assert inside.value == pytest.approx(80.0 + 15.0 * np.log10(200.0), rel=1e-3)
    assert inside.interval.lower < inside.value < inside.interval.upper
    with pytest.raises(rk.RangeError, match=r"a rest of 5000 s lies outside the 10\.0 to 1000 s measured"):
        grown.at_rest(5000.0)


def test_growth_needs_three_peaks_at_one_rate():
    with pytest.raises(rk.FitError, match="2 determined peaks with a rest; a line over the rest needs 3"):
        rk.static_yield_growth(peaks({10.0: 90.0, 100.0: 100.0}))
    with pytest.raises(rk.ComparisonError, match="the condition shear_rate differs"):
        rk.static_yield_growth([*peaks({10.0: 90.0, 100.0: 100.0}), *peaks({300.0: 110.0}, rate=0.01)])


def test_the_vane_of_the_book():
    known = reference("vane")
    vane = rk.Vane(diameter=known["diameter"], height=known["height"])
    found = rk.static_yield_stress_vane(known["torque"], vane, rest=60.0)
    assert found.value == pytest.approx(known["yield_stress"], abs=0.005)  # the digits printed
    assert (found.name, found.standard_error) == ("static_yield_stress_vane", None)
    made = overshoot()
    course = vane_torque_peak(made.time, made.shear_stress / vane.stress_per_torque, vane, rest=60.0)
    assert course.stress.value == pytest.approx(120.0, rel=1e-9)
    assert str(course.stress.conditions["method"]) == "vane, torque peak"
    with pytest.raises(rk.FitError, match=r"highest torque of a vane is positive, not 0\.0"):
        rk.static_yield_stress_vane(0.0, vane)


def test_figures_tables_and_travel():
    made = overshoot()
    found = rk.static_yield_stress_peak(
        step("startup", "rate", **{**made.columns, "shear_stress": made.shear_stress * noise(120, 0.005)}), rest=300.0
    )
    figure, axes = plt.subplots()
    assert found.plot(axes) is axes
    assert "Pa" in axes.get_ylabel()
    held = interval_of(found.stress)
    assert f"{held.lower:.1f}"[:3] in axes.texts[-1].get_text()
    plt.close(figure)
    assert "static yield stress peak" in str(found)
    assert pickle.loads(pickle.dumps(found)).stress == found.stress
    assert not found.time.flags.writeable
    grown = rk.static_yield_growth(peaks({10.0: 90.0, 100.0: 104.0, 1000.0: 121.0}))
    figure, axes = plt.subplots()
    assert "a decade of rest" in grown.plot(axes).texts[-1].get_text()
    plt.close(figure)


def test_the_bound_of_a_flat_top_leaves_room_for_scatter():
    # A valley with one high point in its middle: no parabola has a top there, and the points scatter about it by some 3 Pa.
    place = np.linspace(-1.0, 1.0, 41)
    stress = 100.0 + 20.0 * place**2
    stress[20] = 121.0
    time = 5.0 * np.exp(np.log(1.6) * place)
    found = rk.static_yield_stress_peak(rk.Leg(time, np.full(41, 0.1), stress)).stress
    assert found.reason == "the stress has no single peak"
    scatter = np.std(stress - np.polyval(np.polyfit(place, stress, 2), place), ddof=3)
    assert found.interval.upper - found.value > 1.5 * scatter
