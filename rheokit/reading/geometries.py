"""Settle the geometry of one export: from its preamble, a layout file or the batch file, never from two that disagree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rheokit.base.errors import GeometryError, ReadError
from rheokit.geometry import Geometry, geometry_named, read_geometry
from rheokit.geometry.read import KEYS
from rheokit.reading.files import PathText
from rheokit.reading.toml_file import check_keys, nearest, text_in

__all__ = ["GeometryFound", "geometry_in_table", "settle_geometry"]

_AGREE = 1e-6
"""Relative: dimensions are written with three to five digits, so two that are meant to be the same agree far better."""


@dataclass(frozen=True, kw_only=True)
class GeometryFound:
    """The geometry of an export and where it is written; or None and why the preamble's cannot be used, if it names one."""

    geometry: Geometry | None
    where: str = ""
    problem: str = ""


def geometry_in_table(table: Mapping[str, object], place: str, path: PathText) -> Geometry:
    """Return the geometry that a table of a layout or batch file describes.

    Raises
    ------
    ReadError
        When the kind or a key is unknown, or a dimension is missing or impossible.
    """
    kind = text_in(table, "kind", f"{place}.", path)
    if kind is None or kind not in KEYS:
        seen = "it names no kind" if kind is None else f"unknown geometry {kind!r}"
        raise ReadError(path, seen, place=f"{place}.kind", remedy=nearest(kind or "", KEYS))
    check_keys(table, ("kind", *KEYS[kind]), f"{place}.", path)
    entries = {"Geometry": kind}
    for key in KEYS[kind]:
        value = table.get(key)
        if key == "end_factor" and isinstance(value, float | int) and not isinstance(value, bool):
            entries[key] = f"{value}"
        elif (text := text_in(table, key, f"{place}.", path)) is not None:
            entries[key] = text
    try:
        found = read_geometry(entries)
    except GeometryError as error:
        raise ReadError(path, str(error), place=place, remedy=f"its keys are {', '.join(KEYS[kind])}") from None
    if found is None:
        raise ReadError(path, "it names no geometry", place=place)
    return found


def settle_geometry(metadata: Mapping[str, str], given: Mapping[str, Geometry | None], path: PathText) -> GeometryFound:
    """Return the geometry of an export.

    Parameters
    ----------
    metadata
        The preamble.
    given
        Where else a geometry may be written (as `the layout file`) to the geometry there, None where there is none.
    path
        The export, for the message.

    Raises
    ------
    ReadError
        When two places name different geometries.
    """
    problem = ""
    written: dict[str, Geometry] = {}
    try:
        named = geometry_named(metadata)
        in_preamble = read_geometry(metadata)
    except GeometryError as error:
        problem, in_preamble = str(error), None
        named = _named_if_known(metadata)
    if in_preamble is not None:
        written["the preamble"] = in_preamble
    written |= {where: geometry for where, geometry in given.items() if geometry is not None}
    if not written:
        return GeometryFound(geometry=None, problem=problem)
    places = list(written)
    for other in places[1:]:
        if not _same(written[places[0]], written[other]):
            seen = f"{places[0]} says {written[places[0]]}, {other} says {written[other]}"
            raise ReadError(path, seen, remedy="find out which was used, and mend the other")
    found = written[places[0]]
    if named is not None and named != found.name:
        raise ReadError(path, f"the preamble says {named}, {places[0]} says {found}", remedy="find out which was used, and mend the other")
    return GeometryFound(geometry=found, where=" and ".join(places), problem="" if in_preamble else problem)


def _named_if_known(metadata: Mapping[str, str]) -> str | None:
    try:
        return geometry_named(metadata)
    except GeometryError:
        return None


def _same(one: Geometry, other: Geometry) -> bool:
    if one.name != other.name:
        return False
    pairs = ((one.stress_per_torque, other.stress_per_torque), (one.rate_per_speed, other.rate_per_speed))
    return all(abs(mine / theirs - 1.0) <= _AGREE for mine, theirs in pairs)
