"""Find the measuring geometry in entries that a preamble, a layout file or a batch file holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from rheokit.base.errors import GeometryError, printable
from rheokit.geometry.concentric_cylinders import ConcentricCylinders, read_concentric_cylinders
from rheokit.geometry.cone_plate import ConePlate, read_cone_plate
from rheokit.geometry.geometry import Geometry
from rheokit.geometry.parallel_plates import ParallelPlates, read_parallel_plates
from rheokit.geometry.words import fold, folded

__all__ = ["GEOMETRIES", "KEYS", "geometry_named", "read_geometry"]

GEOMETRIES: tuple[type[Geometry], ...] = (ConePlate, ParallelPlates, ConcentricCylinders)

KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        ConePlate.name: ("radius", "angle"),
        ParallelPlates.name: ("radius", "gap"),
        ConcentricCylinders.name: ("inner_radius", "outer_radius", "length", "end_factor"),
    }
)
"""Keys of each geometry in a layout or batch file."""

_READ: Mapping[str, Callable[[Mapping[str, str]], Geometry]] = MappingProxyType(
    {
        ConePlate.name: read_cone_plate,
        ParallelPlates.name: read_parallel_plates,
        ConcentricCylinders.name: read_concentric_cylinders,
    }
)

_NAME_KEYS = ("geometry", "measuring geometry", "measuring system", "measuring body", "geometrie", "messgeometrie", "messsystem")
_WORDS = {
    ConePlate.name: "cone plate, plate cone, cone and plate, cone on plate, cone, kegel platte, platte kegel, konus platte, kegel, konus",
    ParallelPlates.name: "parallel plates, parallel plate, plate plate, plates, two plates, platte platte, parallelplatten",
    ConcentricCylinders.name: "concentric cylinders, concentric cylinder, coaxial cylinders, coaxial cylinder, cylinders, cup and bob, "
    "bob and cup, cup bob, konzentrische zylinder, koaxiale zylinder, zylinder, zylinder becher",
}
_BY_WORD = {fold(word): name for name, words in _WORDS.items() for word in words.split(",")}


def geometry_named(metadata: Mapping[str, str]) -> str | None:
    """Return the name of the geometry that entries speak of, complete or not, or None when they speak of none.

    Raises
    ------
    GeometryError
        When a geometry is named that is not known, and so gives no shear rate.
    """
    return _named(folded(metadata))


def _named(entries: Mapping[str, str]) -> str | None:
    for key in _NAME_KEYS:
        said = entries.get(key)
        if said:
            name = _BY_WORD.get(fold(said))
            if name is None:
                known = ", ".join(repr(kind.name) for kind in GEOMETRIES)
                raise GeometryError(f"{printable(said)!r} is no geometry that gives a shear rate here; known are {known}")
            return name
    if "cone angle" in entries or "kegelwinkel" in entries:
        return ConePlate.name
    if "bob radius" in entries and "cup radius" in entries:
        return ConcentricCylinders.name
    return None


def read_geometry(metadata: Mapping[str, str]) -> Geometry | None:
    """Return the geometry that key and value entries describe, or None when they speak of none.

    Parameters
    ----------
    metadata
        Such as `{"Geometry": "cone-plate", "Cone radius": "12.5 mm", "Cone angle": "2 °"}`; capitals, hyphens and underscores do not
        count, a diameter serves for a radius, and a unit may stand in the key.

    Returns
    -------
    Geometry or None
        A `ConePlate`, `ParallelPlates` (apparent values at the rim) or `ConcentricCylinders` (representative values).

    Raises
    ------
    GeometryError
        When a geometry is named and cannot be used: unknown, a dimension missing, impossible or without a unit.
    """
    entries = folded(metadata)
    name = _named(entries)
    return None if name is None else _READ[name](entries)
