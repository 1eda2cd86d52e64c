"""Parallel plates: apparent values at the rim, and how far they are from the true ones."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from rheokit.base.errors import GeometryError
from rheokit.geometry import ParallelPlates, read_geometry

PLATES = ParallelPlates(radius=0.025, gap=0.0007)


@pytest.mark.parametrize("index", [1.0, 0.5, 0.3, 0.0])
def test_the_true_stress_at_the_rim_is_a_quarter_of_three_plus_the_index_of_the_apparent_one(index):
    # Torque of a power law K rate^n, rate growing with the radius: M = 2 π ∫ stress(r) r² dr. Exact: true/apparent = (n + 3)/4.
    edges = np.linspace(0.0, PLATES.radius, 20_001)
    middles = 0.5 * (edges[1:] + edges[:-1])
    stresses = 20.0 * PLATES.shear_rate(3.0 * middles / PLATES.radius) ** index
    torque = float(np.sum(2.0 * pi * stresses * middles**2 * np.diff(edges)))
    at_rim = 20.0 * PLATES.shear_rate(3.0) ** index
    assert at_rim / PLATES.shear_stress(torque) == pytest.approx((index + 3.0) / 4.0, rel=1e-7)  # midpoint rule, 20 000 rings


def test_the_rate_is_that_of_the_rim():
    assert PLATES.shear_rate(2.8) == pytest.approx(2.8 * 0.025 / 0.0007, rel=1e-15)
    assert PLATES.angular_velocity(100.0) == pytest.approx(2.8, rel=1e-14)


def test_the_name_says_apparent():
    assert "apparent" in PLATES.source
    assert str(PLATES) == "parallel plates (radius 25 mm, gap 0.7 mm)"


def test_a_preamble_is_read():
    assert read_geometry({"Geometry": "Plate-Plate", "Plate diameter": "50 mm", "Gap": "0.7 mm"}) == PLATES
    assert read_geometry({"Messsystem": "Platte-Platte", "Plattenradius": "25 mm", "Spalt": "700 µm"}) == PLATES


@pytest.mark.parametrize(
    ("entries", "message"),
    [
        ({"Gap": "1 mm"}, r"^the radius of the plates is not given; write for example 'Plate radius,12\.5 mm'$"),
        ({"Radius": "25 mm"}, r"^the gap between the plates is not given; write for example 'Gap,1 mm'$"),
        ({"Radius": "25 mm", "Gap": "0 mm"}, r"^the gap between the plates is 0 m; it must be from 1e-06 to 0\.0125 m$"),
        ({"Radius": "25 mm", "Gap": "20 mm"}, r"^the gap between the plates is 0\.02 m"),
    ],
)
def test_what_is_missing_or_impossible_is_named(entries, message):
    with pytest.raises(GeometryError, match=message):
        read_geometry({"Geometry": "parallel plates"} | entries)
