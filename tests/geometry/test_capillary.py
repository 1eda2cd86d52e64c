"""Capillary and falling rod against exact flows."""

from __future__ import annotations

import numpy as np
import pytest

from rheokit.base.errors import GeometryError
from rheokit.geometry import Capillary, FallingRod, end_pressure_drop, wall_flow

CAPILLARY = Capillary(radius=0.0005, length=0.04)


def power_law_flow(stress, index):
    """Exact: Q = π R³ n/(3 n + 1) (stress/K)^(1/n); K = 20."""
    return np.pi * CAPILLARY.radius**3 * index / (3.0 * index + 1.0) * (stress / 20.0) ** (1.0 / index)


@pytest.mark.parametrize("index", [1.0, 0.5, 0.3])
@pytest.mark.parametrize("slope", ["local", "global"])
def test_the_wall_rate_of_a_power_law_is_exact_up_to_ten_thousand(index, slope):
    stresses = 20.0 * np.geomspace(10.0, 3e4, 20) ** index
    flow = wall_flow(stresses * 2.0 * CAPILLARY.length / CAPILLARY.radius, power_law_flow(stresses, index), CAPILLARY, slope=slope)
    np.testing.assert_allclose(flow.shear_rate, np.geomspace(10.0, 3e4, 20), rtol=1e-10)
    np.testing.assert_allclose(flow.shear_stress, stresses, rtol=1e-13)


def test_a_bingham_liquid_is_found_by_local_slopes():
    # Buckingham & Reiner: Q = π R³ w/(4 μ) (1 - 4/3 p + p⁴/3), p = yield/w; the rate at the wall is (w - yield)/μ.
    wall = np.geomspace(30.0, 3000.0, 80)
    plug = 20.0 / wall
    volume = np.pi * CAPILLARY.radius**3 * wall / (4.0 * 0.5) * (1.0 - 4.0 / 3.0 * plug + plug**4 / 3.0)
    flow = wall_flow(wall * 2.0 * CAPILLARY.length / CAPILLARY.radius, volume, CAPILLARY)
    np.testing.assert_allclose(flow.shear_rate[1:-1], ((wall - 20.0) / 0.5)[1:-1], rtol=2e-3)  # parabolas through 40 points a decade


def test_the_ends_are_the_intercept_over_length():
    lengths, gradient, ends = np.array([0.02, 0.04, 0.08]), np.array([1e6, 3e6]), np.array([2e4, 5e4])
    found, error = end_pressure_drop(lengths, ends + lengths[:, None] * gradient)
    assert found == pytest.approx(ends, rel=1e-9)
    assert error == pytest.approx(0.0, abs=1e-6)
    assert np.isnan(end_pressure_drop(lengths[:2], (ends + lengths[:, None] * gradient)[:2])[1]).all()
    with pytest.raises(GeometryError, match=r"^the ends need pressures at two lengths or more"):
        end_pressure_drop([0.02], [[1.0, 2.0]])


def test_the_error_of_pressure_and_dimensions_is_carried():
    index, stresses = 0.4, 20.0 * np.geomspace(10.0, 1e4, 12) ** 0.4
    pressure, volume = stresses * 2.0 * CAPILLARY.length / CAPILLARY.radius, power_law_flow(stresses, index)
    flow = wall_flow(pressure, volume, CAPILLARY, pressure_error=0.01)
    moved = []
    for place in range(pressure.size):
        pushed = pressure.copy()
        pushed[place] *= np.exp(1e-6)
        other = wall_flow(pushed, volume, CAPILLARY)
        moved.append((np.log(other.shear_stress / flow.shear_stress) - index * np.log(other.shear_rate / flow.shear_rate)) / 1e-6)
    np.testing.assert_allclose(flow.relative_standard_error, 0.01 * np.linalg.norm(moved, axis=0), rtol=1e-4)
    by_radius = wall_flow(pressure, volume, CAPILLARY, dimension_errors={"radius": 0.01})
    assert by_radius.relative_standard_error == pytest.approx(0.01 * (1.0 + 3.0 * index), rel=1e-9)


def test_a_short_capillary_is_refused():
    with pytest.raises(GeometryError, match=r"^the capillary length is 0\.002 m; it must be from 0\.005 to 2 m$"):
        Capillary(radius=0.0005, length=0.002)


ROD = FallingRod(rod_radius=0.006, ring_radius=0.00605, ring_length=0.03, fall=0.1)


def test_the_falling_rod_gives_stress_by_weight_and_rate_by_time():
    curve = ROD.flow([0.2, 0.4], [10.0, 5.0])
    # By hand: 0.2 kg · 9.80665 m/s² / (2 π · 6 mm · 30 mm) = 1734.2 Pa; 0.1 m/(10 s · 50 µm) = 200 1/s.
    assert curve.shear_stress == pytest.approx([1734.2, 3468.4], abs=0.05)
    assert curve.shear_rate == pytest.approx([200.0, 400.0], rel=1e-9)


def test_a_falling_rod_refuses_what_it_cannot_be():
    with pytest.raises(GeometryError, match=r"^the ring radius is 0\.007 m; it must be from"):
        FallingRod(rod_radius=0.006, ring_radius=0.007, ring_length=0.03, fall=0.1)
    with pytest.raises(GeometryError, match=r"^masses and times of fall must be positive"):
        ROD.flow([0.2, 0.4], [10.0, 0.0])
