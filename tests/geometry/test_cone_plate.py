"""Cone and plate: the torque of a uniform stress, and the rate at every radius."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from rheokit.base.errors import GeometryError
from rheokit.geometry import ConePlate, read_geometry

CONE = ConePlate(radius=0.0125, angle=2.0 * pi / 180.0)


def test_the_torque_is_the_integral_of_a_uniform_stress_over_the_plate():
    # dM = stress · r · 2 π r dr; midpoints of a parabola are exact to 1/(4 N²) of it.
    edges = np.linspace(0.0, CONE.radius, 10_001)
    middles = 0.5 * (edges[1:] + edges[:-1])
    torque = float(np.sum(50.0 * 2.0 * pi * middles**2 * np.diff(edges)))
    assert CONE.shear_stress(torque) == pytest.approx(50.0, rel=1e-8)


def test_the_rate_is_speed_over_gap_at_every_radius():
    for radius in (0.001, 0.006, 0.0125):
        assert CONE.shear_rate(3.0) == pytest.approx(3.0 * radius / (radius * CONE.angle), rel=1e-14)  # rounding


def test_there_and_back():
    stresses = np.array([0.0, 1.0, -50.0, 400.0])
    np.testing.assert_allclose(CONE.shear_stress(CONE.torque(stresses)), stresses, rtol=1e-15)
    np.testing.assert_allclose(CONE.shear_rate(CONE.angular_velocity(stresses)), stresses, rtol=1e-15)


@pytest.mark.parametrize(
    "entries",
    [
        {"Geometry": "cone-plate", "Cone radius": "12.5 mm", "Cone angle": "2 °"},
        {"GEOMETRY": "Cone and plate", "cone_diameter": "25 mm", "angle": "2 deg"},
        {"Messgeometrie": "Kegel-Platte", "Kegelradius": "12,5 mm", "Kegelwinkel": "2 °"},
        {"Measuring system": "Cone/Plate", "Radius [mm]": "12.5", "Cone angle in °": "2"},
        {"Cone radius": "0.0125 m", "Cone angle": "2 °"},
    ],
)
def test_a_preamble_is_read(entries):
    assert read_geometry(entries | {"Gap zero": "2026-09-15T08:20:00Z", "Load": "1"}) == CONE


def test_what_is_written_reads_back_equal_and_the_text_says_it():
    assert CONE.dimensions() == {"radius": "12.5 mm", "angle": "2 °"}
    assert str(CONE) == "cone-plate (radius 12.5 mm, angle 2 °)"
    odd = ConePlate(radius=0.1 / 3.0, angle=0.1 / 3.0)
    assert read_geometry({"Geometry": odd.name, **odd.dimensions()}) == odd


@pytest.mark.parametrize(
    ("entries", "message"),
    [
        ({"Geometry": "cone-plate"}, r"^the radius of the cone is not given; write for example 'Cone radius,12\.5 mm'$"),
        ({"Geometry": "cone-plate", "Radius": "12.5 mm"}, r"^the angle of the cone is not given; write for example 'Cone angle,2 °'$"),
        ({"Geometry": "cone-plate", "Radius": "12.5", "Angle": "2 °"}, r"^radius: no unit is given"),
        (
            {"Geometry": "cone-plate", "Radius": "1,250 mm", "Angle": "2 °"},
            r"^radius: the comma of '1,250 mm' may divide decimals or thousands",
        ),
        ({"Geometry": "cone-plate", "Radius": "12.5 mm ± 0.1", "Angle": "2 °"}, r"^radius: '12\.5 mm ± 0\.1' has a tolerance"),
        ({"Geometry": "cone-plate", "Radius": "12.5 Pa", "Angle": "2 °"}, r"^radius: 'Pa' is not a unit of radius; write one such as 'mm'"),
        (
            {"Geometry": "cone-plate", "Radius": "12.5 m", "Angle": "2 °"},
            r"^the cone radius is 12\.5 m; it must be from 0\.0001 to 0\.5 m$",
        ),
        ({"Geometry": "cone-plate", "Radius": "12.5 mm", "Angle": "0 °"}, r"^the cone angle is 0°; one shear rate in the whole gap needs"),
        ({"Geometry": "cone-plate", "Radius": "12.5 mm", "Angle": "45 °"}, r"^the cone angle is 45°"),
        (
            {"Geometry": "cone-plate", "Radius": "12.5 mm", "Diameter": "20 mm", "Angle": "2 °"},
            r"^the radius of the cone is given twice, and the diameter is not twice the radius$",
        ),
        (
            {"Geometry": "cone-plate", "Radius": "12.5 mm", "Cone radius": "20 mm", "Angle": "2 °"},
            r"^'cone radius' says 20 mm and 'radius' says 12\.5 mm$",
        ),
    ],
)
def test_what_is_missing_or_impossible_is_named(entries, message):
    with pytest.raises(GeometryError, match=message):
        read_geometry(entries)
