"""Which geometry entries speak of, and when they speak of none."""

from __future__ import annotations

import pytest

from rheokit.base.errors import GeometryError
from rheokit.geometry import GEOMETRIES, geometry_named, read_geometry
from rheokit.geometry.read import KEYS


@pytest.mark.parametrize("entries", [{}, {"Batch": "B26-041", "Gap zero": "today"}, {"Geometry": ""}, {"Radius": "12.5 mm", "Gap": "1 mm"}])
def test_entries_that_name_none(entries):
    assert read_geometry(entries) is None
    assert geometry_named(entries) is None


def test_a_geometry_is_named_before_it_is_complete():
    assert geometry_named({"Geometry": "cone-plate"}) == "cone-plate"
    assert geometry_named({"Bob radius": "1 mm", "Cup radius": "2 mm"}) == "concentric cylinders"


@pytest.mark.parametrize("word", ["spindle 4", "vane", "double gap", "x" * 150])
def test_a_geometry_that_gives_no_rate_is_refused(word):
    with pytest.raises(
        GeometryError, match="is no geometry that gives a shear rate here; known are 'cone-plate', 'parallel plates', 'conc"
    ):
        read_geometry({"Geometry": word})


def test_hostile_entries_are_passed_over():
    assert read_geometry({"Geometry" + " " * 10_000: "cone", "Geometry": "x" * 10_000}) is None


def test_every_geometry_has_its_keys():
    assert set(KEYS) == {kind.name for kind in GEOMETRIES}
