"""From a batch to the ink in the pen: what is taken from which run, what is left out, and what is assumed and said."""

from dataclasses import replace
from math import exp

import numpy as np
import pytest
from yielding.made import crept, noise, overshoot, run, step

from rheokit.base.errors import RangeError
from rheokit.base.finding import Finding
from rheokit.base.run import Batch, RunPlace
from rheokit.characteristics.ink_in_pen import USUAL_VISCOUS_ENERGY, USUAL_YIELD_DECAY, ink_in_pen
from rheokit.refill.ink import bounds

RATES = np.geomspace(0.1, 100.0, 19)
ROOM = 296.15


def flow(seed=0, yielding=100.0, viscous=1.0, plateau=0.8):
    stress = (yielding + viscous * (12.0 * RATES**0.6 + plateau * RATES)) * noise(RATES.size, 0.004, seed)
    return step("steady", "rate", time=np.arange(19.0), shear_rate=RATES, shear_stress=stress)


def batch_of(*runs, temperatures=None, roles=None):
    places = {
        held.name: RunPlace(
            test="t", load=place, role=(roles or {}).get(held.name, "batch"), set_temperature=(temperatures or {}).get(held.name, ROOM)
        )
        for place, held in enumerate(runs, 1)
    }
    return Batch(name="B", runs={"t": runs}, metadata={}, places=places)


TWO = (run(flow(1), name="one.csv"), run(flow(2), name="two.csv"))


def test_the_loads_are_taken_together():
    ink = ink_in_pen(batch_of(*TWO))
    assert ink.dynamic_yield_stress.degrees_of_freedom == 1.0  # two loads, by their own scatter
    assert bounds(ink.dynamic_yield_stress)[0] < 100.0 < bounds(ink.dynamic_yield_stress)[1]
    assert set(ink.laws) == {"herschel_bulkley", "casson", "herschel_bulkley_plateau"}
    assert ink.points.shape == (2, 38)
    assert ink.bench_range == pytest.approx((0.1, 100.0), rel=1e-12)
    assert ink.reference_temperature == ROOM
    assert ink.creep_yield_stress is ink.static_yield_stress is ink.recovery_time is ink.creep_viscosity is None
    # A law is surest where it was measured, and less and less beyond.
    for name in ink.laws:
        inside, under_the_ball = ink.relative_error(name, np.array([10.0, 3e4]))
        assert 0.0 < inside < under_the_ball


def test_what_was_not_measured_is_assumed_and_said():
    ink = ink_in_pen(batch_of(*TWO))
    assert (ink.yield_decay, ink.viscous_energy) == (USUAL_YIELD_DECAY, USUAL_VISCOUS_ENERGY)
    assert ink.known_temperatures == (ROOM, ROOM)
    said = " / ".join(ink.assumed)
    assert (
        "decay of the yield stress 0.0120 ± 0.0060 1/K, ASSUMED as usual: the flow curve was measured at 1 temperature and not at" in said
    )
    assert "activation energy 55.0 ± 8.0 kJ/mol, ASSUMED as usual" in said
    assert "static yield stress: no start-up after a rest was measured" in said


def test_stated_numbers_stand_in():
    ink = ink_in_pen(batch_of(*TWO), yield_decay=(0.02, 0.001), viscous_energy=(50e3, 1e3))
    assert (ink.yield_decay, ink.viscous_energy) == ((0.02, 0.001), (50e3, 1e3))
    assert "decay of the yield stress 0.0200 ± 0.0010 1/K, as the description states" in ink.assumed[0]


def test_runs_at_several_temperatures_give_decay_and_energy():
    # By construction: a Herschel-Bulkley ink whose yield stress falls by exp(-(T - T_r)/60 K), its consistency by 50 kJ/mol.
    celsius = (5.0, 23.0, 23.0, 40.0, 55.0)
    kelvins = 273.15 + np.array(celsius)
    factors = [(100.0 * exp(-(kelvin - ROOM) / 60.0), exp(50e3 / 8.314462618 * (1.0 / kelvin - 1.0 / ROOM))) for kelvin in kelvins]
    runs = [run(flow(place, yielding, viscous, plateau=0.0), name=f"{place}.csv") for place, (yielding, viscous) in enumerate(factors)]
    found = ink_in_pen(batch_of(*runs, temperatures={held.name: kelvin for held, kelvin in zip(runs, kelvins, strict=True)}))
    assert found.reference_temperature == ROOM  # the one with the most loads
    assert found.points.shape == (2, 38)
    assert found.known_temperatures == pytest.approx((278.15, 328.15))
    for (value, error), true in ((found.yield_decay, 1.0 / 60.0), (found.viscous_energy, 50e3)):
        assert abs(value - true) < 1.96 * error  # the interval that is carried on holds the truth
        assert error < 0.1 * true
    assert [said for said in found.assumed if "ASSUMED" in said] == []
    two = ink_in_pen(batch_of(*runs[:4], temperatures={held.name: ROOM if held is runs[0] else kelvin
                                                       for held, kelvin in zip(runs[:4], kelvins, strict=False)}))  # fmt: skip
    assert "the flow curve was measured at 2 temperatures and not at three" in two.assumed[0]


def test_a_bend_over_temperature_is_said():
    kelvins = 273.15 + np.array([0.0, 12.0, 23.0, 35.0, 47.0, 60.0, 75.0])

    def made(viscous):
        held = [run(flow(place, 100.0, factor, plateau=0.0), name=f"{place}.csv") for place, factor in enumerate(viscous)]
        return ink_in_pen(batch_of(*held, temperatures={one.name: kelvin for one, kelvin in zip(held, kelvins, strict=True)}))

    # Vogel with B 900 K and T_0 180 K, as a glycol; and one activation energy of 50 kJ/mol.
    bent = made(np.exp(900.0 / (kelvins - 180.0) - 900.0 / (ROOM - 180.0)))
    assert "the viscous part bends over temperature, by the Vogel law" in bent.assumed[0]
    assert not any("bends" in said for said in made(np.exp(50e3 / 8.314462618 * (1.0 / kelvins - 1.0 / ROOM))).assumed)


def test_the_static_one_is_that_of_the_longest_rest():
    def rested(seconds, height, name):
        rest = step("rest", "rate", 1, time=np.array([0.0, seconds]), shear_rate=np.zeros(2))
        return run(rest, replace(overshoot(height), number=2), name=name)

    ink = ink_in_pen(batch_of(*TWO, rested(100.0, 140.0, "short.csv"), rested(1000.0, 160.0, "long.csv")))
    assert ink.static_yield_stress.value == pytest.approx(160.0, rel=1e-6)
    assert not any("static" in said for said in ink.assumed)


def test_creep_gives_a_bracket_and_a_viscosity():
    creeps = [run(crept(stress, power, number=place), name=f"creep{place}.csv")
              for place, (stress, power) in enumerate(((40.0, 0.2), (60.0, 0.2), (90.0, 1.0)), 1)]  # fmt: skip
    ink = ink_in_pen(batch_of(*TWO, *creeps))
    assert bounds(ink.creep_yield_stress) == pytest.approx((60.0, 90.0), rel=1e-9)
    assert ink.holding_yield_stress is ink.creep_yield_stress
    # By hand: 0.001 t^0.2 gains between 300 and 600 s a mean of 0.001 (600^0.2 - 300^0.2)/300 = 1.55e-6 1/(Pa·s).
    assert ink.creep_viscosity == pytest.approx(300.0 / (0.001 * (600.0**0.2 - 300.0**0.2)), rel=0.05)


def test_the_retained_standard_and_invalid_runs_are_left_out():
    thick = run(flow(3, yielding=300.0), name="standard.csv")
    ink = ink_in_pen(batch_of(*TWO, thick, roles={"standard.csv": "reference"}))
    assert ink.points.shape == (2, 38)
    bad = replace(thick, findings=(Finding(check="edge", severity="invalid", reason="the edge broke"),))
    ink = ink_in_pen(batch_of(*TWO, bad))
    assert ink.points.shape == (2, 38)
    assert "standard.csv is left out: the edge broke" in ink.assumed
    with pytest.raises(RangeError, match=r"^batch B holds runs of the retained standard alone; there is nothing of its own to judge"):
        ink_in_pen(batch_of(thick, roles={"standard.csv": "reference"}))
    with pytest.raises(RangeError, match=r"^batch B has no steady steps and no down leg that may be used"):
        ink_in_pen(batch_of(bad))


def test_down_legs_serve_where_there_are_no_steady_steps():
    down = replace(flow(4), kind="down")
    ink = ink_in_pen(batch_of(run(down, name="loop.csv")))
    assert ink.dynamic_yield_stress.value == pytest.approx(100.0, rel=0.05)
    both = ink_in_pen(batch_of(run(down, name="loop.csv"), *TWO))
    assert both.points.shape == (2, 38)


def test_a_step_without_enough_points_is_passed_over():
    short = step("steady", "rate", time=np.arange(4.0), shear_rate=np.array([1.0, np.nan, -1.0, 2.0]), shear_stress=np.full(4, 10.0))
    assert ink_in_pen(batch_of(*TWO, run(short, name="short.csv"))).points.shape == (2, 38)
    with pytest.raises(RangeError, match=r"^batch B has no steady steps and no down leg that may be used"):
        ink_in_pen(batch_of(run(short, name="short.csv")))


def test_no_temperature_is_said():
    ink = ink_in_pen(Batch(name="B", runs={"t": TWO}, metadata={}))
    assert ink.reference_temperature == ROOM
    assert "no run says its temperature: 23 °C is assumed" in ink.assumed


def test_a_yield_stress_that_the_points_do_not_show_is_refused():
    thin = run(replace(flow(5, yielding=0.01), kind="steady"), name="thin.csv")
    with pytest.raises(RangeError, match=r"^dynamic_yield_stress is not determined"):
        ink_in_pen(batch_of(thin))
