"""Turn torque and speed into shear stress and shear rate where these were not exported, and say by what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.reading.columns import Column
from rheokit.reading.files import PathText
from rheokit.reading.geometries import GeometryFound
from rheokit.reading.relative import spindle_named

__all__ = ["require_a_rate", "with_stress_and_rate"]

_OSCILLATION = ("storage_modulus", "loss_modulus", "complex_viscosity")


def with_stress_and_rate(values: Mapping[str, FloatArray], found: GeometryFound) -> tuple[dict[str, FloatArray], tuple[Finding, ...]]:
    """Return the columns with stress from torque and rate from angular velocity, each where it is absent and the geometry known."""
    full = dict(values)
    geometry = found.geometry
    if geometry is None:
        return full, ()
    said = []
    if "shear_stress" not in full and "torque" in full:
        full["shear_stress"] = geometry.shear_stress(full["torque"])
        said.append(f"shear stress is torque times {number(geometry.stress_per_torque, 6)} 1/m³")
    if "shear_rate" not in full and "angular_velocity" in full:
        full["shear_rate"] = geometry.shear_rate(full["angular_velocity"])
        said.append(f"shear rate is angular velocity times {number(geometry.rate_per_speed, 6)} 1/rad")
    if not said:
        return full, ()
    reason = f"{' and '.join(said)}: {geometry} by {found.where}; {geometry.source}"
    return full, (Finding(check="derived_column", severity="info", reason=reason),)


def require_a_rate(
    values: Mapping[str, FloatArray], columns: Sequence[Column], metadata: Mapping[str, str], found: GeometryFound, path: PathText
) -> None:
    """Refuse an export of torque, speed or relative readings from which no shear rate follows.

    Raises
    ------
    ReadError
        Saying that a geometry or a shear rate is needed, or that the readings are relative.
    """
    if any(name in values for name in ("shear_rate", "shear_stress", *_OSCILLATION)):
        return
    relative = [f"column {column.number} ({column.heading!r})" for column in columns if column.relative]
    spindle = spindle_named(metadata)
    if spindle is not None and "viscosity" in values:
        relative.append(f"the preamble's {spindle!r}")
    if relative:
        seen = f"there is no shear rate, and {' and '.join(relative)} {'are' if len(relative) > 1 else 'is'} relative: none is invented"
        raise ReadError(path, seen, remedy="export the shear rate, or measure with a geometry that has one")
    held = [name.replace("_", " ") for name in ("torque", "angular_velocity") if name in values]
    if not held:
        return
    why = f" ({found.problem})" if found.problem else ""
    seen = f"there is {' and '.join(held)}, and neither a shear rate nor a geometry that would give one{why}"
    remedy = (
        "export the shear rate and stress, or write the geometry into the preamble ('Geometry,cone-plate', 'Cone radius,12.5 mm', "
        "'Cone angle,2 °') or under [geometry] into a layout file or batch.toml"
    )
    raise ReadError(path, seen, remedy=remedy)
