"""Concentric cylinders: true rate at the inner cylinder against exact flows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from reference_data import reference

from rheokit.base.errors import GeometryError
from rheokit.geometry import ConcentricCylinders, bob_flow, krieger_correction, plug_radius

EXACT = reference("cylinder_corrections")
CYLINDERS = ConcentricCylinders(
    inner_radius=EXACT["inner_radius"], outer_radius=EXACT["outer_radius"], length=EXACT["length"], end_factor=1.0
)
VISCOSITY, YIELD_STRESS = EXACT["plastic_viscosity"], EXACT["yield_stress"]


def torque_of(stress):
    return 2.0 * np.pi * CYLINDERS.length * CYLINDERS.inner_radius**2 * np.asarray(stress)


def bingham_speed(stress, ratio=CYLINDERS.ratio):
    """Reiner & Riwlin: Ω = ½ ∫ (s - yield)/(μ s) ds from the stress at the outer cylinder, or the yield stress, to that at the inner."""
    lower = np.maximum(stress / ratio**2, YIELD_STRESS)
    return 0.5 / VISCOSITY * (stress - lower - YIELD_STRESS * np.log(stress / lower))


def power_law_speed(stress, index):
    """Exact: rate = (stress/K)^(1/n), Ω = n/2 (stress/K)^(1/n) (1 - δ^(-2/n)); K = 20."""
    return 0.5 * index * (stress / 20.0) ** (1.0 / index) * -np.expm1(-2.0 / index * np.log(CYLINDERS.ratio))


def test_the_printed_pair_of_torque_and_speed_is_that_of_this_file():
    for name in ("sheared", "partly_sheared"):
        pair = EXACT[name]
        assert torque_of(pair["bob_stress"]) == pytest.approx(pair["torque"], rel=1e-8)
        assert bingham_speed(pair["bob_stress"]) == pytest.approx(pair["speed"], rel=1e-9)


def test_the_correction_has_its_known_maximum_and_no_seam():
    x = np.linspace(0.0, 10.0, 200_001)
    values = krieger_correction(x)
    assert values.max() == pytest.approx(EXACT["greatest"], abs=5e-7)
    assert x[values.argmax()] == pytest.approx(EXACT["greatest_at"], abs=1e-3)  # flat at the top: 1e-3 there is 1e-8 of the value
    assert krieger_correction(1.0) == pytest.approx(EXACT["at_one"], abs=5e-8)
    # Across the change from series to closed form and at both ends; steps of 5e-5 on a slope below 0.06.
    assert np.abs(np.diff(values)).max() < 4e-6
    assert krieger_correction([0.0, 1e-9, 800.0]) == pytest.approx([0.0, 1e-18 / 12.0, 0.0], abs=1e-25)


@pytest.mark.parametrize("index", [1.0, 0.5, 0.3])
@pytest.mark.parametrize("slope", ["local", "global"])
def test_the_rate_of_a_power_law_is_exact(index, slope):
    stresses = np.geomspace(20.0, 200.0, 15)
    flow = bob_flow(torque_of(stresses), power_law_speed(stresses, index), CYLINDERS, slope=slope)
    np.testing.assert_allclose(flow.shear_rate, (stresses / 20.0) ** (1.0 / index), rtol=1e-10)
    np.testing.assert_allclose(flow.shear_stress, stresses, rtol=1e-14)


def test_the_ratios_to_speed_are_those_of_the_standard_cylinders():
    # reference: geometry_factors, power law at the inner cylinder of the standard's ratio: n 0.5 and 0.3.
    standard = replace(CYLINDERS, outer_radius=1.0847 * CYLINDERS.inner_radius, length=3.0 * CYLINDERS.inner_radius)
    for index, expected in ((0.5, 14.4078149), (0.3, 15.9325939)):
        stresses = np.geomspace(20.0, 200.0, 15)
        speed = 0.5 * index * (stresses / 20.0) ** (1.0 / index) * -np.expm1(-2.0 / index * np.log(1.0847))
        flow = bob_flow(2.0 * np.pi * standard.length * standard.inner_radius**2 * stresses, speed, standard)
        assert flow.shear_rate / speed == pytest.approx(expected, rel=5e-9)  # nine digits


def test_a_bingham_liquid_is_found_sheared_and_partly_sheared():
    stresses = np.geomspace(20.5, 80.0, 600)
    flow = bob_flow(torque_of(stresses), bingham_speed(stresses), CYLINDERS, yield_stress=YIELD_STRESS)
    true = (stresses - YIELD_STRESS) / VISCOSITY
    inner = slice(3, -3)  # the ends have a one-sided slope
    # Partly sheared 2 Ω N is exact but for the slope, whose error goes with the square of the spacing (60 points: 2 %);
    # beyond it the correction's own remainder stays below 1 %.
    partly = stresses < YIELD_STRESS * CYLINDERS.ratio**2
    said = int(partly.sum())
    partly[said - 1] = False  # its neighbour is sheared: the slope has a kink between them
    np.testing.assert_allclose(flow.shear_rate[inner][partly[inner]], true[inner][partly[inner]], rtol=2e-3)
    well_past = stresses > 1.1 * YIELD_STRESS * CYLINDERS.ratio**2
    np.testing.assert_allclose(flow.shear_rate[inner][well_past[inner]], true[inner][well_past[inner]], rtol=0.01)
    assert f"{said} of 600 points partly sheared" in flow.method
    # Representative values, which take the whole gap for sheared, miss the partly sheared points by far.
    assert np.all(flow.apparent_rate[partly] < 0.7 * true[partly])


def test_the_plug_begins_where_the_stress_meets_the_yield_stress():
    pair = EXACT["partly_sheared"]
    assert plug_radius(pair["torque"], YIELD_STRESS, CYLINDERS) == pytest.approx(pair["plug_radius"], abs=5e-9)
    assert plug_radius(EXACT["sheared"]["torque"], YIELD_STRESS, CYLINDERS) == CYLINDERS.outer_radius
    with pytest.raises(GeometryError, match=r"^the yield stress is 0 Pa; a plug needs one above zero$"):
        plug_radius(1e-3, 0.0, CYLINDERS)


def test_the_error_of_a_torque_is_carried_to_the_viscosity_at_a_stated_rate():
    index, stresses = 0.5, np.geomspace(20.0, 200.0, 15)
    torque, speed = torque_of(stresses), power_law_speed(stresses, index)
    flow = bob_flow(torque, speed, CYLINDERS, torque_error=0.01)
    moved = []
    for place in range(torque.size):
        pushed = torque.copy()
        pushed[place] *= np.exp(1e-5)
        other = bob_flow(pushed, speed, CYLINDERS)
        change = np.log(other.shear_stress / flow.shear_stress) - index * np.log(other.shear_rate / flow.shear_rate)
        moved.append(change / 1e-5)
    # The curvature's own error is left out on purpose (its weight is at most a tenth); 12 % of an error is within its purpose.
    np.testing.assert_allclose(flow.relative_standard_error, 0.01 * np.linalg.norm(moved, axis=0), rtol=0.12)


def test_dimensions_count_with_the_powers_of_their_formulas():
    for name, powers in CYLINDERS.powers.items():
        step = 1e-6
        wider = replace(CYLINDERS, **{name: getattr(CYLINDERS, name) * (1.0 + step)})
        assert np.log(wider.stress_per_torque / CYLINDERS.stress_per_torque) / step == pytest.approx(powers.stress, abs=1e-5)
        assert np.log(wider.rate_per_speed / CYLINDERS.rate_per_speed) / step == pytest.approx(powers.rate, abs=2e-4)


def test_a_speed_that_falls_is_refused():
    with pytest.raises(GeometryError, match=r"^the speed does not rise with the torque everywhere; average or leave out points"):
        bob_flow([1e-3, 2e-3, 3e-3], [1.0, 2.0, 1.5], CYLINDERS)
