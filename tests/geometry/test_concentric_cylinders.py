"""Concentric cylinders against the constants of ISO 3219 and DIN 53019."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from reference_data import reference

from rheokit.base.errors import GeometryError
from rheokit.geometry import ConcentricCylinders, read_geometry

STANDARD = reference("geometry_factors")
RADIUS = 0.0133  # any radius: the constants are without one
CYLINDERS = ConcentricCylinders(
    inner_radius=RADIUS, outer_radius=STANDARD["ratio"] * RADIUS, length=3.0 * RADIUS, end_factor=STANDARD["end_factor"]
)


def test_the_constants_of_the_standard_cylinders():
    # Half of the last digit written beside the source.
    assert CYLINDERS.rate_per_speed == pytest.approx(STANDARD["rate_per_speed"], abs=5e-9)
    assert CYLINDERS.shear_rate(2.0 * pi / 60.0) == pytest.approx(STANDARD["rate_per_turn_a_minute"], abs=5e-10)
    assert CYLINDERS.stress_per_torque * RADIUS**3 == pytest.approx(STANDARD["stress_times_cube_over_torque"], abs=5e-11)


@pytest.mark.parametrize(("ratio", "rate"), STANDARD["rate_per_speed_by_ratio"].items())
def test_the_rate_at_other_ratios(ratio, rate):
    cylinders = replace(CYLINDERS, outer_radius=float(ratio) * RADIUS)
    assert cylinders.rate_per_speed == pytest.approx(rate, rel=5e-9)  # nine printed digits


def test_the_newtonian_rate_at_the_inner_cylinder_is_another_number():
    square = STANDARD["ratio"] ** 2
    at_the_wall = 2.0 * square / (square - 1.0)
    assert at_the_wall == pytest.approx(STANDARD["newtonian_rate_at_the_inner_cylinder"], abs=5e-9)
    assert at_the_wall - CYLINDERS.rate_per_speed == pytest.approx(1.0, abs=1e-12)  # exact: (2 δ² - 1 - δ²)/(δ² - 1) = 1


def test_the_stress_is_the_mean_of_the_stresses_at_the_two_walls():
    # At radius r the torque on a cylinder of that radius and the length is stress · 2 π r² L; ends count in the end factor.
    torque = 1e-3
    at_walls = [torque / CYLINDERS.end_factor / (2.0 * pi * r**2 * CYLINDERS.length) for r in (RADIUS, CYLINDERS.outer_radius)]
    assert CYLINDERS.shear_stress(torque) == pytest.approx(np.mean(at_walls), rel=1e-14)  # rounding


def test_radii_or_diameters_length_and_end_factor_are_read():
    entries = {"Geometry": "Cup and bob", "Bob diameter": "26.6 mm", "Cup radius": "14.43 mm", "Bob length": "39.9 mm"}
    read = read_geometry(entries)
    assert isinstance(read, ConcentricCylinders)
    assert (read.inner_radius, read.outer_radius, read.length) == pytest.approx((0.0133, 0.01443, 0.0399), rel=1e-14)
    assert read.end_factor == 1.10  # 14.43 over 13.3 is 1.08496 and the length three radii: the standard's proportions
    assert read_geometry(entries | {"End factor": "1.25"}) == replace(read, end_factor=1.25)


def test_other_proportions_need_their_end_factor():
    entries = {"Geometry": "concentric cylinders", "Inner radius": "10 mm", "Outer radius": "11 mm", "Length": "30 mm"}
    with pytest.raises(GeometryError, match=r"^the end factor of the cylinders is not given, and they are not the standard's; write 'End"):
        read_geometry(entries)
    assert read_geometry(entries | {"End factor": "1,2"}) == ConcentricCylinders(
        inner_radius=0.010, outer_radius=0.011, length=0.030, end_factor=1.2
    )


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"outer_radius": 0.0132}, r"^the outer radius is 0\.0132 m; it must be from 0\.0133 to 0\.01596 m"),
        ({"outer_radius": 0.0165}, r"^the outer radius is 0\.0165 m; it must be from"),
        ({"inner_radius": 13.3}, r"^the inner radius is 13\.3 m; it must be from 0\.0001 to 0\.5 m"),
        ({"length": 0.0}, r"^the length is 0 m"),
        ({"end_factor": 0.9}, r"^the end factor is 0\.9; it must be from 1 to 5$"),
    ],
)
def test_impossible_cylinders_are_refused(change, message):
    with pytest.raises(GeometryError, match=message):
        replace(CYLINDERS, **change)


@pytest.mark.parametrize("missing", ["Inner radius", "Outer radius", "Length"])
def test_a_missing_dimension_is_named(missing):
    entries = {"Geometry": "cylinders", "Inner radius": "13.3 mm", "Outer radius": "14.43 mm", "Length": "39.9 mm"}
    del entries[missing]
    with pytest.raises(GeometryError, match=f"is not given; write for example '{missing},"):
        read_geometry(entries)
