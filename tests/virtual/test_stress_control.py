"""The ink under a stress, against what closed forms say of it."""

from dataclasses import replace
from math import exp, log

import numpy as np
import pytest

from rheokit.virtual import (
    ConePlate,
    Faults,
    StressSegment,
    constant,
    creep_limit,
    creep_steps,
    evenly,
    measure,
    rested_structure,
    simulate,
    simulate_stress,
    slate_grey_ink,
    startup_series_protocol,
    stress_ramp,
)  # fmt: skip
from rheokit.virtual.protocol import Protocol
from rheokit.virtual.stress_control import driven_rate

INK = slate_grey_ink()
FROZEN = replace(INK, breakdown_rate=0.0)  # with full structure it stays full: the yield stress is 60 + 70 Pa for ever
YIELD = 130.0


@pytest.mark.parametrize("excess", [1e-9, 0.3, 20.0, 4000.0])
def test_the_driven_rate_gives_back_its_stress(excess):
    for ink in (INK, replace(INK, infinite_shear_viscosity=0.0), replace(INK, broken_consistency=0.0, structure_consistency=0.0)):
        rate = driven_rate(ink, YIELD + excess, 1.0, np.inf)
        # The excess is the difference of numbers near 130: its own rounding, 3e-14, is what may be lost.
        assert float(ink.stress(rate, 1.0)) - YIELD == pytest.approx(excess, rel=1e-9, abs=1e-13)


def test_below_the_yield_stress_nothing_is_driven_once_the_spring_is_wound():
    assert driven_rate(INK, 129.0, 1.0, np.inf) == 0.0
    with pytest.raises(ValueError, match="no viscosity"):
        driven_rate(replace(INK, broken_consistency=0.0, structure_consistency=0.0, infinite_shear_viscosity=0.0), 200.0, 1.0, np.inf)


@pytest.mark.parametrize("stress", [30.0, 65.0, 100.0])
def test_creep_below_the_yield_stress_runs_to_the_strain_of_the_spring(stress):
    # Y (1 - exp(-strain/strain_e)) = stress; what is left after 3600 s falls as 1/t and is below a part in 10 000.
    history = simulate_stress(FROZEN, creep_steps((stress,), 3600.0, 40), structure=1.0)
    assert history.strain[-1] == pytest.approx(-0.3 * log(1.0 - stress / YIELD), rel=1e-4)
    assert history.rate[-1] < 1e-6


def test_creep_above_it_flows_at_the_rate_of_the_flow_law():
    plain = replace(FROZEN, infinite_shear_viscosity=0.0)
    history = simulate_stress(plain, creep_steps((160.0,), 600.0, 40), structure=1.0)
    assert history.rate[-1] == pytest.approx((30.0 / 30.0) ** 2, rel=1e-9)  # K + dK = 30, n = 0.5


def test_the_creep_limit_of_a_structure_that_stays_is_its_yield_stress():
    # It creeps for longer than an hour within some 0.3 % of the limit.
    assert creep_limit(FROZEN, structure=1.0) == pytest.approx(YIELD, rel=5e-3)


def test_the_strain_is_the_integral_of_the_rate_and_the_stress_the_programme():
    history = simulate_stress(INK, (stress_ramp((1.0, 200.0), 180.0, 3000),), structure=0.99)
    summed = np.concatenate([[0.0], np.cumsum(0.5 * (history.rate[1:] + history.rate[:-1]) * np.diff(history.time))])
    assert history.strain - history.strain[0] == pytest.approx(summed, rel=1e-3, abs=1e-4)
    assert history.stress == pytest.approx(1.0 + 199.0 * history.time / 180.0, rel=1e-12)


def test_a_ramp_at_a_very_slow_pace_winds_the_spring_as_a_rest_would():
    history = simulate_stress(FROZEN, (stress_ramp((1.0, 100.0), 1e5, 20),), structure=1.0)
    # The rate is 3e-6 1/s or less, whose viscous stress is 30 sqrt(3e-6) = 0.05 Pa.
    assert history.strain == pytest.approx(-0.3 * np.log(1.0 - history.stress / YIELD), rel=0.02)


def test_the_structure_after_a_rest_is_that_of_the_integrated_run():
    segments = (constant(1, 100.0, 600.0, (600.0,)), constant(2, 0.0, 50.0, evenly(50.0, 5)))
    history = simulate(INK, Protocol(name="rest", segments=segments))
    assert rested_structure(INK, 50.0) == pytest.approx(float(history.structure[-1]), rel=1e-8)
    assert rested_structure(INK, 0.0) == pytest.approx(float(INK.equilibrium_structure(100.0)), rel=1e-12)
    assert 1.0 - rested_structure(INK, 400.0) == pytest.approx((1.0 - rested_structure(INK, 0.0)) * exp(-10.0), rel=1e-9)


def test_start_ups_after_rests_begin_from_more_structure_each_time():
    run = measure(replace(INK, breakdown_rate=0.05), startup_series_protocol(), ConePlate(), Faults(), 0)
    peaks = [float(run.shear_stress[run.rows(step)].max()) for step in (3, 6, 9)]
    assert peaks[0] < peaks[1] < peaks[2]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"duration": 0.0}, "duration is 0.0 s"),
        ({"start_stress": 0.0}, "must be above zero"),
        ({"course": "constant"}, "two different stresses"),
        ({"recorded": (2.0, 1.0)}, "do not rise"),
        ({"recorded": (0.0, 1.0)}, "outside the segment"),
    ],
)
def test_a_segment_that_makes_no_sense_is_refused(change, said):
    good = {"step": 1, "duration": 10.0, "start_stress": 1.0, "end_stress": 2.0, "course": "linear", "recorded": (1.0, 10.0)}
    StressSegment(**good)
    with pytest.raises(ValueError, match=said):
        StressSegment(**(good | change))
    with pytest.raises(ValueError, match=r"structure is 1\.5"):
        simulate_stress(INK, (StressSegment(**good),), structure=1.5)
