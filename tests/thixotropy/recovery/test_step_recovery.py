"""The rest-shear-recovery step test against courses whose answers are exact by construction."""

import math
import pickle

import matplotlib.pyplot as plt
import numpy as np
import pytest

import rheokit as rk

from .step_tests import level, made, stretched

REST, SHEARED = level(900.0), level(20.0)


def test_a_noise_free_stretched_exponential_gives_its_own_numbers():
    # X from 20 (the end of shear) to 820 with t_r = 40 s and beta = 0.7; r = (X - 20)/880, its plateau 800/880.
    recovery = rk.step_recovery(made(REST, SHEARED, stretched(20.0, 820.0, 40.0, 0.7)), law="stretched_exponential")

    def when(r):
        return 40.0 * (-math.log(1.0 - r * 880.0 / 800.0)) ** (1.0 / 0.7)

    # Rounding of the fit alone; the half-way time is (ln 2)^(1/0.7) t_r = 0.5923901 t_r, exact mathematics to seven digits.
    assert recovery.half_way_time.value == pytest.approx(0.5923901 * 40.0, rel=1e-7)
    assert recovery.half_time.value == pytest.approx(when(0.5), rel=1e-8)
    assert recovery.time_to(0.75).value == pytest.approx(when(0.75), rel=1e-8)
    for time in (10.0, 60.0, 300.0):
        assert recovery.fraction_at(time).value == pytest.approx(800.0 / 880.0 * (1.0 - math.exp(-((time / 40.0) ** 0.7))), rel=1e-9)
    assert recovery.retained_ratio_at(60.0).value == pytest.approx((820.0 - 800.0 * math.exp(-(1.5**0.7))) / 900.0, rel=1e-9)
    assert recovery.unrecovered_part.value == pytest.approx(1.0 - 800.0 / 880.0, rel=1e-7)
    assert recovery.immediate_recovery.value == pytest.approx(0.0, abs=1e-7)
    estimate = recovery.fraction_at(60.0)
    assert estimate.determined
    assert estimate.standard_error is None
    assert "no scatter to take an error from" in estimate.reason
    assert (estimate.name, estimate.unit) == ("structural_recovery", "1")


def test_moore_step_values():
    # Moore's dL/dt = a (1 - L) - b g L, exact: a 0.1, b 0.02; sheared at 20 1/s from L = 1: L(10 s) = 0.20539036, eight digits.
    a, b, low = 0.1, 0.02, 0.5
    sheared = 0.2 + 0.8 * np.exp(-(a + 20.0 * b) * 10.0)
    assert sheared == pytest.approx(0.20539036, abs=5e-9)
    equilibrium, rate = a / (a + b * low), a + b * low
    viscosity = [lambda time: 2.0 + 50.0 * equilibrium + 0.0 * time, lambda time: 2.0 + 50.0 * (0.2 + 0.8 * np.exp(-0.5 * time))]
    viscosity.append(lambda time: 2.0 + 50.0 * (equilibrium + (sheared - equilibrium) * np.exp(-rate * time)))
    recovery = rk.step_recovery(made(*viscosity, durations=(120.0, 10.0, 60.0)), law="first_order")
    # The shear is far from steady in 10 s, so r says nothing; the law of the recovery still has the rate a + b g.
    assert recovery.fit.parameters["recovery_time"].value == pytest.approx(1.0 / rate, rel=1e-9)
    assert recovery.fit.parameters["start_value"].value == pytest.approx(2.0 + 50.0 * sheared, rel=1e-9)
    assert recovery.fit.parameters["plateau_value"].value == pytest.approx(2.0 + 50.0 * equilibrium, rel=1e-9)
    assert recovery.half_way_time.value == pytest.approx(math.log(2.0) / rate, rel=1e-8)


@pytest.mark.parametrize(
    ("course", "law"),
    [
        (stretched(100.0, 820.0, 40.0), "first_order"),
        (lambda t: 100.0 + 720.0 * t / (t + 25.0), "second_order"),
        (stretched(100.0, 820.0, 40.0, 0.55), "stretched_exponential"),
        (lambda t: 820.0 - 360.0 * np.exp(-t / 5.0) - 360.0 * np.exp(-t / 80.0), "two_exponentials"),
    ],
    ids=["first order", "second order", "stretched", "two"],
)
def test_the_law_that_made_the_points_is_chosen_and_the_losers_are_shown(course, law):
    # Noise of 0.3 %: enough to see, and each of these courses differs from the others by several per cent somewhere.
    recovery = rk.step_recovery(made(REST, SHEARED, course, noise=0.003, seed=3))
    assert recovery.fit.law.name == law
    text = str(recovery)
    for other in ("unchanged", *(one.name.replace("_", " ") for one in rk.RECOVERY_LAWS)):
        assert other in text
    named = rk.step_recovery(made(REST, SHEARED, course, noise=0.003, seed=3), law=law)
    assert named.comparison is None
    assert named.fraction_at(60.0).value == pytest.approx(recovery.fraction_at(60.0).value, rel=1e-12)
    # The other laws have a say in the error of what was chosen, so it is no smaller than that of the law alone.
    assert recovery.fraction_at(60.0).standard_error >= named.fraction_at(60.0).standard_error * (1.0 - 1e-9)


def test_scale_and_unit_of_what_is_tracked_cancel():
    course = stretched(100.0, 820.0, 40.0)
    plain = rk.step_recovery(made(REST, SHEARED, course, noise=0.01))
    other = rk.step_recovery(
        made(level(9.0), level(0.2), lambda t: 0.01 * course(t), noise=0.01, tracked="storage_modulus"), tracked="storage_modulus"
    )
    for ask in (lambda one: one.fraction_at(60.0), lambda one: one.half_time, lambda one: one.half_way_time):
        assert ask(other).value == pytest.approx(ask(plain).value, rel=1e-8)
        assert ask(other).standard_error == pytest.approx(ask(plain).standard_error, rel=1e-6)
    assert other.fit.parameters["plateau_value"].unit == "Pa"
    assert plain.fit.parameters["plateau_value"].unit == "Pa·s"
    assert {name: str(held) for name, held in other.fraction_at(60.0).conditions.items()} == {
        "time": "60.00 s", "tracked": "storage_modulus", "shear_strain": "0.001000", "shear_strain_of_shear": "1.000",
    }  # fmt: skip


def test_intervals_lean_to_the_side_that_the_data_leave_open():
    # r = 0.9 lies close under the plateau 0.909: the time to it may be much longer than found, but hardly shorter.
    recovery = rk.step_recovery(made(REST, SHEARED, stretched(20.0, 828.0, 40.0), noise=0.01, seed=1), law="first_order")
    late = recovery.time_to(0.9)
    assert late.interval.upper - late.value > 1.5 * (late.value - late.interval.lower)
    later = recovery.time_to(0.915)
    assert not later.determined
    assert math.isinf(later.interval.upper)
    assert later.interval.lower > recovery.half_time.interval.upper
    half = recovery.half_time
    assert half.interval.lower < half.value < half.interval.upper < late.interval.lower


def test_the_two_half_times_are_two():
    # r is 0.75 as soon as the shear ends (thinning), and rebuilding alone takes ln 2 × 30 s to be half done.
    recovery = rk.step_recovery(made(level(300.0), level(4.0), stretched(226.0, 300.0, 30.0), noise=0.002, seed=2))
    assert recovery.immediate_recovery.value == pytest.approx(0.75, abs=0.02)
    half = recovery.half_time
    assert not half.determined
    assert half.reason == "r = 0.500 was passed before the first point at 3.00 s"
    assert (half.interval.lower, half.interval.upper) == (0.0, 3.0)
    way = recovery.half_way_time
    assert way.determined
    assert way.interval.lower < math.log(2.0) * 30.0 < way.interval.upper
    assert (half.name, way.name) == ("recovery_half_time", "recovery_half_way_time")


def test_times_outside_those_measured_are_labelled_or_refused():
    recovery = rk.step_recovery(made(REST, SHEARED, stretched(20.0, 820.0, 40.0), noise=0.01))
    for time in (1.0, 600.0):
        beyond = recovery.fraction_at(time)
        assert not beyond.determined
        assert "lies outside the measured 3.00 to 300 s: there the law speaks, not the data" in beyond.reason
    assert recovery.fraction_at(300.0).determined
    for wrong in (-1.0, math.nan, math.inf):
        with pytest.raises(rk.RangeError, match="a time after the shear is zero or more"):
            recovery.fraction_at(wrong)
    for wrong in (0.0, 1.0, 90.0):
        with pytest.raises(rk.RangeError, match="a recovery to wait for lies between 0 and 1"):
            recovery.time_to(wrong)


def test_noise_that_remembers_widens_the_error_and_says_so():
    generator = np.random.default_rng(7)

    def remembering(index, columns):
        size = columns["viscosity"].size
        draws, series, last = generator.standard_normal(size), np.empty(size), 0.0
        for place in range(size):
            last = 0.9 * last + math.sqrt(1.0 - 0.81) * draws[place]
            series[place] = last
        columns["viscosity"] = columns["viscosity"] * (1.0 + 0.01 * series)

    recovery = rk.step_recovery(made(REST, SHEARED, stretched(20.0, 820.0, 40.0), change=remembering), law="first_order")
    (seen,) = [finding for finding in recovery.findings if finding.check == "correlated_residuals"]
    assert "every standard error is widened by" in str(seen)
    assert seen.value > seen.limit == 0.2
    # First-order memory 0.9 asks for sqrt(1.9/0.1) = 4.4 in the long run; a hundred points see part of it.
    assert 1.8 < recovery.course.known.widening < 5.0
    white = rk.step_recovery(made(REST, SHEARED, stretched(20.0, 820.0, 40.0), noise=0.01, seed=4), law="first_order")
    assert white.course.known.widening == 1.0


def test_table_figure_and_travel():
    run = made(REST, SHEARED, stretched(30.0, 820.0, 40.0, 0.6), noise=0.01, tracked="storage_modulus")
    recovery = rk.step_recovery(run, tracked="storage_modulus")
    text = str(recovery)
    for part in (
        "structural recovery at 60 s", "retained ratio at the end", "half time, to r = 0.5", "half-way time, start to plateau",
        "time to r = 0.9", "unrecovered part", "storage modulus at rest", "AICc above the best",
    ):  # fmt: skip
        assert part in text
    assert "<table" in recovery._repr_html_()
    figure, axes = plt.subplots()
    assert recovery.plot(axes) is axes
    figure.canvas.draw()
    labels = " ".join(one.get_text() for one in axes.texts)
    for part in ("rest", "shear", "recovery", "r = 1, as at rest", "95 % band", "half time, to r = 0.5"):
        assert part in labels
    assert axes.get_ylabel() == "storage modulus G′ [Pa]"
    plt.close(figure)
    again = pickle.loads(pickle.dumps(recovery))
    assert again.fraction_at(60.0).value == recovery.fraction_at(60.0).value
    with pytest.raises(ValueError, match="read-only"):
        again.course.test.recovery.values[0] = 1.0
    assert [source.step for source in recovery.fraction_at(60.0).sources] == ["1 rest", "2 shear", "3 recovery"]


@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_a_figure_without_times_or_errors_is_drawn(noise):
    for recovery in (level(20.0), stretched(20.0, 820.0, 40.0)):
        axes = rk.step_recovery(made(REST, SHEARED, recovery, noise=noise)).plot()
        axes.figure.canvas.draw()
        plt.close(axes.figure)


def test_any_law_with_a_plateau_serves_and_others_are_refused():
    run = made(REST, SHEARED, stretched(20.0, 820.0, 40.0), noise=0.01)
    own = rk.RECOVERY_LAWS[0]
    assert rk.step_recovery(run, law=own).fraction_at(60.0).value == rk.step_recovery(run, law="first_order").fraction_at(60.0).value
    with pytest.raises(rk.FitError, match="law: unknown 'best'; the laws are first_order, second_order"):
        rk.step_recovery(run, law="best")
    with pytest.raises(rk.FitError, match="has no parameter 'plateau_value'"):
        rk.step_recovery(run, law=rk.MODELS["bingham"])
    with pytest.raises(rk.FitError, match="tracked: 'torque' is not followed in a step test"):
        rk.step_recovery(run, tracked="torque")
