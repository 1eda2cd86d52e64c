"""Say which quantity an export lacks that its results need, and which of its readings are relative: neither is passed over in silence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.reading.columns import Column
from rheokit.reading.geometries import GeometryFound
from rheokit.reading.headings import is_unit_of
from rheokit.reading.relative import spindle_named

__all__ = ["about_absent", "about_relative"]

_NEEDED = ("shear_rate", "shear_stress")
_INSTEAD = ("storage_modulus", "loss_modulus", "complex_viscosity", "creep_compliance")
"""An oscillation or a creep test is read without a shear rate."""

_TURNED = {"shear_stress": "torque", "shear_rate": "angular_velocity"}


def about_absent(values: Mapping[str, FloatArray], columns: Sequence[Column], found: GeometryFound) -> tuple[Finding, ...]:
    """Say that shear rate or shear stress was not exported and follows from nothing, and where it may stand.

    Parameters
    ----------
    values
        The columns [SI] after all that follows was derived, each of shape (N,).
    columns
        What each column is; one with a unit of the missing quantity, under a name that is not known, is named.
    found
        The geometry, or why there is none.
    """
    absent = [name for name in _NEEDED if name not in values]
    if not absent or any(name in values for name in _INSTEAD) or (absent == ["shear_rate"] and "shear_strain" in values):
        return ()
    return tuple(
        Finding(
            check="quantity_missing",
            severity="caution",
            reason=f"there is no {name.replace('_', ' ')}: {_why(name, values, columns, found)}",
        )
        for name in absent
    )


def _why(name: str, values: Mapping[str, FloatArray], columns: Sequence[Column], found: GeometryFound) -> str:
    said = []
    other = _TURNED[name]
    if other in values:
        problem = f" ({found.problem})" if found.problem else ""
        said.append(
            f"{other.replace('_', ' ')} gives one only with a geometry{problem}; write it into the preamble or under [geometry] into a "
            "layout file"
        )
    alike = [column.place for column in columns if column.unit_aside and is_unit_of(column.unit_aside, name)]
    if alike:
        said.append(f"{' and '.join(alike)} bears a unit of it, and the name is not known; name the column in a layout file")
    return "; ".join(said) or "no column is one, and it follows from no others; export it too"


def about_relative(columns: Sequence[Column], metadata: Mapping[str, str], found: GeometryFound) -> tuple[Finding, ...]:
    """Say which columns are relative readings, and that a spindle has no defined shear rate where one was exported all the same."""
    said = []
    places = [column.place for column in columns if column.relative]
    if places:
        reason = f"{' and '.join(places)}: relative, as readings of a dial, a spindle or in parts of full scale are; not used"
        said.append(Finding(check="relative_reading", severity="info", reason=reason))
    spindle = spindle_named(metadata)
    if spindle is None or found.geometry is not None:
        return tuple(said)
    reason = (
        f"the preamble names {spindle!r}: the flow round a spindle has no defined shear rate, so rate, stress and viscosity are relative; "
        "where it is the bob of a known geometry, write that into the preamble or a layout file"
    )
    return (*said, Finding(check="relative_reading", severity="caution", reason=reason))
