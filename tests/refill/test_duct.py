"""Tubes and slots against published closed forms, exact numbers and an independent quadrature over the radius."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from reference_data import reference
from scipy.integrate import quad
from scipy.optimize import brentq

from rheokit.base.errors import RangeError
from rheokit.models import MODELS
from rheokit.refill.duct import Flowing, middle_velocity, slot_flow, tube_flow, wall_rate_at_stress, wall_rate_in_slot, wall_rate_in_tube

EXACT = reference("tube_and_slot_flows")


def herschel_bulkley(yield_stress, consistency, flow_index):
    return Flowing(MODELS["herschel_bulkley"], {"yield_stress": yield_stress, "consistency": consistency, "flow_index": flow_index})


def closed_tube(radius, wall, yield_stress, consistency, n):
    phi = yield_stress / wall
    shape = (1 - phi) ** 2 / (3 * n + 1) + 2 * phi * (1 - phi) / (2 * n + 1) + phi**2 / (n + 1)
    return pi * radius**3 * n * (wall / consistency) ** (1 / n) * (1 - phi) ** ((n + 1) / n) * shape


def closed_slot(width, height, wall, yield_stress, consistency, n):
    phi = yield_stress / wall
    front = width * height**2 / 2 * n / (n + 1) * (wall / consistency) ** (1 / n)
    return front * (1 - phi) ** ((n + 1) / n) * (1 - n * (1 - phi) / (2 * n + 1))


@pytest.mark.parametrize("case", EXACT["tubes"], ids=lambda case: case["law"])
def test_the_exact_flows_through_tubes(case):
    flowing = Flowing(MODELS[case["law"]], case["values"])
    wall = case.get("wall_stress") or case["pressure_drop"] * case["radius"] / (2.0 * case["length"])
    found = tube_flow(flowing, wall_rate_at_stress(flowing, wall), case["radius"])
    assert found == pytest.approx(case["flow"], rel=2e-9)  # the ten digits that are written


def test_the_exact_flow_through_a_slot():
    case = EXACT["slot"]
    flowing = herschel_bulkley(**case["values"])
    found = slot_flow(flowing, wall_rate_at_stress(flowing, case["wall_stress"]), case["width"], case["height"])
    assert found == pytest.approx(case["flow"], rel=1e-8)


@pytest.mark.parametrize("n", [0.2, 0.5, 1.0, 1.4])
@pytest.mark.parametrize("excess", [1e-6, 1e-3, 0.1, 3.0, 100.0])
def test_the_closed_forms_of_herschel_bulkley(n, excess):
    # The closed form itself is trusted where 1 - phi still has its digits: at an excess of 1e-6 of the yield it holds 1e-10.
    flowing, wall = herschel_bulkley(50.0, 20.0, n), 50.0 * (1.0 + excess)
    rate = ((wall - 50.0) / 20.0) ** (1.0 / n)
    assert tube_flow(flowing, rate, 1e-3) == pytest.approx(closed_tube(1e-3, wall, 50.0, 20.0, n), rel=1e-8)
    assert slot_flow(flowing, rate, 2e-3, 1e-5) == pytest.approx(closed_slot(2e-3, 1e-5, wall, 50.0, 20.0, n), rel=1e-8)


@pytest.mark.parametrize("rate", [1e-18, 1e-9, 1e-3])
def test_creep_just_above_the_yield_stress_keeps_its_digits(rate):
    # phi -> 1: 1 - phi is the power K rate^n over the yield stress, and Q -> π R³ n/(n + 1) rate (1 - phi), to first order in 1 - phi.
    flowing = herschel_bulkley(100.0, 5.0, 0.5)
    left = 5.0 * rate**0.5 / (100.0 + 5.0 * rate**0.5)
    phi = 1.0 - left
    exact = pi * 1e-9 * 0.5 * rate * left * (left**2 / 2.5 + 2.0 * phi * left / 2.0 + phi**2 / 1.5)
    assert tube_flow(flowing, rate, 1e-3) == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("name", list(MODELS))
def test_every_law_against_a_quadrature_over_the_radius(name):
    values = {
        "viscosity": 3.0, "yield_stress": 40.0, "consistency": 25.0, "flow_index": 0.45, "plastic_viscosity": 2.0,
        "casson_yield_stress": 30.0, "casson_viscosity": 1.5, "zero_shear_viscosity": 900.0, "infinite_shear_viscosity": 0.6,
        "time_constant": 8.0, "rate_index": 0.7, "transition_index": 1.6,
    }  # fmt: skip
    law = MODELS[name]
    flowing = Flowing(law, {parameter: values[parameter] for parameter in law.names})
    wall_rate, radius = 250.0, 1e-3
    wall = float(flowing.stress(wall_rate))

    def rate_at(stress):
        if stress <= flowing.yield_stress:
            return 0.0
        return brentq(lambda rate: float(flowing.stress(rate)) - stress, 0.0, wall_rate * 1.001, xtol=1e-14, rtol=1e-13)

    # Q = π R³/w³ ∫ s² rate(s) ds, the textbook's own form; from the yield stress, where the integrand begins.
    tube = pi * radius**3 / wall**3 * quad(lambda s: s**2 * rate_at(s), flowing.yield_stress, wall, epsabs=0.0, epsrel=1e-10, limit=200)[0]
    slot = 1e-3 * 1e-10 / 2.0 / wall**2 * quad(lambda s: s * rate_at(s), flowing.yield_stress, wall, epsabs=0.0, epsrel=1e-10, limit=200)[0]
    assert tube_flow(flowing, wall_rate, radius) == pytest.approx(tube, rel=1e-8)
    assert slot_flow(flowing, wall_rate, 1e-3, 1e-5) == pytest.approx(slot, rel=1e-8)


def test_the_inverse_gives_the_rate_back():
    flowing = herschel_bulkley(120.0, 60.0, 0.4)
    rates = np.geomspace(1e-12, 1e6, 19)
    np.testing.assert_allclose(wall_rate_in_tube(flowing, tube_flow(flowing, rates, 1e-3), 1e-3), rates, rtol=1e-10)
    np.testing.assert_allclose(wall_rate_in_slot(flowing, slot_flow(flowing, rates, 1e-3, 1e-5), 1e-3, 1e-5), rates, rtol=1e-10)
    coarse = np.geomspace(1e-3, 1e6, 10)  # the stress itself has no more digits of the excess than this
    np.testing.assert_allclose(wall_rate_at_stress(flowing, flowing.stress(coarse)), coarse, rtol=1e-9)
    assert wall_rate_at_stress(flowing, [0.0, 120.0]).tolist() == [0.0, 0.0]
    assert wall_rate_in_tube(flowing, 0.0, 1e-3) == 0.0


def test_a_pipeline_against_the_textbook():
    # Coulson & Richardson vol. 1 ex. 3.10: power law through two points, pressure drop at a velocity in the middle of 1 m/s.
    case = EXACT["pipeline"]
    flowing = Flowing(MODELS["power_law"], {"consistency": case["consistency"], "flow_index": case["flow_index"]})
    n, radius = case["flow_index"], case["radius"]
    # In the middle u = R n/(n + 1) · wall rate for a power law.
    wall = (n + 1.0) / n * case["middle_velocity"] / radius
    assert 2.0 * case["length"] / radius * float(flowing.stress(wall)) == pytest.approx(case["pressure_drop"], rel=2e-3)  # three digits
    assert middle_velocity(flowing, wall, radius) == pytest.approx(1.0, rel=1e-10)
    # The same pressure drop on the book's Bingham line through the same two points; 0.6100 m/s; the yield stress rounded to
    # 0.01 Pa is worth 2e-4 m/s.
    bingham = Flowing(MODELS["bingham"], {"yield_stress": case["bingham_yield_stress"], "plastic_viscosity": case["plastic_viscosity"]})
    slower = wall_rate_at_stress(bingham, case["pressure_drop"] * radius / (2.0 * case["length"]))
    assert middle_velocity(bingham, slower, radius) == pytest.approx(case["bingham_middle_velocity"], abs=2e-4)
    mean = tube_flow(flowing, wall, radius) / (pi * radius**2)
    assert mean == pytest.approx((n + 1.0) / (3.0 * n + 1.0) * case["middle_velocity"], rel=1e-9)


def test_a_power_law_in_a_pipe_against_the_textbook():
    case = EXACT["pipe"]
    flowing = Flowing(MODELS["power_law"], {"consistency": case["consistency"], "flow_index": case["flow_index"]})
    wall = wall_rate_in_tube(flowing, case["mean_velocity"] * pi * case["radius"] ** 2, case["radius"])
    assert 2.0 / case["radius"] * flowing.stress(wall) == pytest.approx(case["pressure_gradient"], rel=1e-4)  # four digits


def test_wrong_parameters_are_named():
    with pytest.raises(RangeError, match=r"^the law bingham takes yield_stress, plastic_viscosity, not consistency$"):
        Flowing(MODELS["bingham"], {"consistency": 1.0})
    with pytest.raises(RangeError, match=r"^the yield stress is -1\.0; it must be zero or more$"):
        herschel_bulkley(-1.0, 1.0, 1.0)
    with pytest.raises(RangeError, match=r"^a flow or stress is zero or more, not -1$"):
        wall_rate_in_tube(herschel_bulkley(1.0, 1.0, 1.0), -1.0, 1e-3)
