"""The three steps made ready: clocks, columns, and points that inertia spoilt."""

import numpy as np
import pytest

import rheokit as rk
from rheokit.base.run import Run
from rheokit.thixotropy.recovery.points import ready_test

from .step_tests import level, made, stretched

REST, SHEARED, GOOD = level(900.0), level(20.0), stretched(30.0, 820.0, 40.0)


def test_time_zero_is_the_end_of_the_shear_whatever_the_clock():
    by_step = ready_test(made(REST, SHEARED, GOOD), "viscosity", "recovery").recovery.time
    assert by_step[[0, -1]].tolist() == [3.0, 300.0]

    def without(_, columns):
        del columns["step_time"]

    assert ready_test(made(REST, SHEARED, GOOD, change=without), "viscosity", "recovery").recovery.time == pytest.approx(by_step)

    def anew(_, columns):
        columns["time"] = columns.pop("step_time")

    test = ready_test(made(REST, SHEARED, GOOD, change=anew), "viscosity", "recovery")
    assert test.recovery.time == pytest.approx(by_step)
    assert [finding.check for finding in test.findings] == ["clock_starts_anew"]


def test_points_before_the_rate_is_met_are_left_out_and_counted():
    def late(index, columns):
        if index == 2:
            columns["shear_rate"][:3] = 40.0, 2.0, 0.512  # 0.512 is 2.4 % off
            columns["viscosity"][:3] *= 0.3

    test = ready_test(made(REST, SHEARED, GOOD, noise=0.002, change=late), "viscosity", "recovery")
    assert test.recovery.time[0] == 12.0
    assert test.spoilt.time.tolist() == [3.0, 6.0, 9.0]
    (seen,) = test.findings
    assert seen.check == "inertia"
    assert str(seen) == (
        "3 of the first 100 points of the recovery step are left out as spoilt by inertia: the rate or strain was still more than 2 % off"
    )
    assert seen.value == 3.0


def test_a_spike_and_its_ringing_are_left_out():
    def spike(index, columns):
        if index == 2:
            columns["viscosity"][:3] *= 4.0, 0.5, 1.8

    test = ready_test(made(REST, SHEARED, GOOD, noise=0.005, change=spike), "viscosity", "recovery")
    assert test.spoilt.time.tolist() == [3.0, 6.0, 9.0]
    assert "more than 5 times the scatter above the five after it" in str(test.findings[0])


@pytest.mark.parametrize("noise", [0.0, 0.002, 0.05])
def test_a_clean_start_keeps_every_point(noise):
    for course in (GOOD, stretched(30.0, 820.0, 2.0), SHEARED, stretched(30.0, 820.0, 40.0, 0.3)):
        for seed in range(20):
            test = ready_test(made(REST, SHEARED, course, noise=noise, seed=seed), "viscosity", "recovery")
            assert test.spoilt.time.size == 0


def test_a_rate_too_noisy_to_tell_when_it_was_met_leaves_no_point_out():
    def noisy(index, columns):
        if index == 2:
            columns["shear_rate"] = 0.5 * (1.0 + 0.2 * np.random.default_rng(1).standard_normal(100))

    assert ready_test(made(REST, SHEARED, GOOD, change=noisy), "viscosity", "recovery").spoilt.time.size == 0


def test_a_viscosity_that_was_not_exported_is_stress_over_rate():
    def as_stress(_, columns):
        columns["shear_stress"] = columns.pop("viscosity") * columns["shear_rate"]

    test = ready_test(made(REST, SHEARED, GOOD, change=as_stress), "viscosity", "recovery")
    assert test.recovery.values == pytest.approx(GOOD(test.recovery.time), rel=1e-14)


def test_rows_without_a_number_are_left_out_and_said():
    def gap(index, columns):
        if index == 2:
            columns["viscosity"][50] = np.nan

    test = ready_test(made(REST, SHEARED, GOOD, change=gap), "viscosity", "recovery")
    assert test.recovery.time.size == 99
    assert str(test.findings[0]) == "1 of 100 points of the recovery step have no number and are left out"


def test_what_is_no_step_test_is_refused():
    run = made(REST, SHEARED, GOOD)
    with pytest.raises(rk.StepError, match=r"has no storage modulus; it has viscosity: ask with tracked='viscosity'"):
        rk.step_recovery(run, tracked="storage_modulus")
    with pytest.raises(rk.StepError, match=r"step 2 \(shear\) has no rest and shear before it"):
        rk.step_recovery(run, step=2)
    alone = Run(name="alone", steps=run.steps[:2], metadata={}, findings=(), source=run.source)
    with pytest.raises(rk.StepError, match="alone has no step 'recovery'"):
        rk.step_recovery(alone)
    with pytest.raises(rk.FitError, match="the recovery step has 7 usable points; a recovery needs at least 8"):
        rk.step_recovery(made(REST, SHEARED, GOOD, points=(40, 20, 7)))

    def back(index, columns):
        if index == 2:
            columns["step_time"] = columns["step_time"][::-1].copy()

    with pytest.raises(rk.FitError, match="the times of the recovery step do not rise"):
        rk.step_recovery(made(REST, SHEARED, GOOD, change=back))
