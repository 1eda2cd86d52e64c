"""Faults that follow the course of a run: each by its own formula, each off where it is not asked for."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from rheokit.virtual import ConePlate, Faults, Ink, loop_protocol, measure, plate_excess, simulate, slate_grey_ink


@cache
def loop():
    return simulate(slate_grey_ink(), loop_protocol())


def ratio(**faults):
    """Return the stress with a fault over that without, at the sheared points, and those points."""
    ink, protocol, cone = slate_grey_ink(), loop_protocol(), ConePlate()
    with_fault, without = (measure(ink, protocol, cone, one, 3, history=loop()) for one in (Faults(**faults), Faults()))
    sheared = without.shear_rate > 0.0
    return with_fault.shear_stress[sheared] / without.shear_stress[sheared], with_fault, sheared


def test_a_history_that_is_given_is_the_one_that_would_be_integrated():
    given = measure(slate_grey_ink(), loop_protocol(), ConePlate(), Faults(point_noise_sd=0.01), 3, history=loop())
    integrated = measure(slate_grey_ink(), loop_protocol(), ConePlate(), Faults(point_noise_sd=0.01), 3)
    assert np.array_equal(given.shear_stress, integrated.shear_stress)


def test_spikes_hit_their_share_of_the_points():
    shares = []
    for seed in range(60):
        found = measure(slate_grey_ink(), loop_protocol(), ConePlate(), Faults(spike_share=0.1, spike_size=0.5), seed, history=loop())
        height = found.shear_stress[loop().stress > 0.0] / loop().stress[loop().stress > 0.0]
        assert set(np.round(height, 9)) <= {1.0, 1.5}
        shares.append(np.mean(height > 1.2))
    # 60 runs of about 170 points: the share is known to 0.3 %.
    assert np.mean(shares) == pytest.approx(0.1, abs=0.012)


def test_ringing_dies_away_after_each_step():
    found, _, sheared = ratio(ringing_size=0.2, ringing_period=6.0, ringing_decay=20.0)
    time = loop().step_time[sheared]
    assert found == pytest.approx(1.0 + 0.2 * np.exp(-time / 20.0) * np.cos(2.0 * np.pi * time / 6.0), rel=1e-12)


def test_a_lagging_torque_catches_up_at_each_held_rate():
    found, _, sheared = ratio(lag_size=-0.1, lag_time=10.0)
    first = loop().step[sheared] == 1
    assert found[first] == pytest.approx(1.0 - 0.1 * np.exp(-3.0 * np.arange(20) / 10.0), rel=1e-12)
    # In a ramp the rate is new at every point.
    assert found[loop().step[sheared] == 3] == pytest.approx(0.9, rel=1e-12)


def test_secondary_flow_by_its_reynolds_number():
    found, _, sheared = ratio(density=1e9)
    rate, stress = loop().apparent_rate[sheared], loop().stress[sheared]
    cone = ConePlate()
    reynolds = 1e9 * rate * cone.angle * (cone.radius * cone.angle) ** 2 / (stress / rate)
    assert reynolds.max() > 1.0
    assert found == pytest.approx(1.0 + 6e-4 * reynolds**2, rel=1e-12)


def test_heat_thins_by_the_power_of_the_shear():
    found, _, sheared = ratio(heating=1e-5)
    power = loop().stress[sheared] * loop().true_rate[sheared]
    assert found == pytest.approx(np.exp(-0.07 * 1e-5 * power), rel=1e-12)


def test_lost_points_and_a_drifting_sensor():
    _, found, _ = ratio(lost_share=0.2, temperature_drift=1e-3)
    assert 0.1 < np.mean(np.isnan(found.shear_stress)) < 0.3
    assert not np.isnan(found.shear_rate).any()
    assert found.temperature == pytest.approx(296.15 + 1e-3 * found.time, rel=1e-12)


@pytest.mark.parametrize("index", [0.2, 0.5, 1.0])
def test_plates_overrate_a_power_law_by_four_over_three_plus_n(index):
    ink = Ink(
        broken_yield_stress=0.0, structure_yield_stress=0.0, broken_consistency=10.0, structure_consistency=0.0, flow_index=index,
        infinite_shear_viscosity=0.0, build_up_rate=0.1, breakdown_rate=0.0,
    )  # fmt: skip
    # The midpoint rule misses by the square of a ring's width, 2e-7.
    assert plate_excess(ink, np.array([1.0, 50.0])) == pytest.approx(4.0 / (3.0 + index), rel=1e-6)
    solid = replace(ink, broken_yield_stress=100.0, broken_consistency=0.0)
    assert plate_excess(solid, np.array([1.0])) == pytest.approx(4.0 / 3.0, rel=1e-6)


@pytest.mark.parametrize("fault", ["spike_share", "ringing_size", "density", "heating", "lost_share"])
def test_a_negative_fault_is_refused(fault):
    with pytest.raises(ValueError, match=f"{fault} is -0.1; it must be zero or more"):
        Faults(**{fault: -0.1})
