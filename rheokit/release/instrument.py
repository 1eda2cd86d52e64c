"""The instrument as the rest of rheokit sees it: what measures, how well it is known, until when; in SI. `instrument_file` reads it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from types import MappingProxyType

from rheokit.base.carry import Carried
from rheokit.base.errors import GeometryError
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number
from rheokit.base.units import parse_unit
from rheokit.geometry import Geometry
from rheokit.release.certificate import Certificate
from rheokit.release.span import shown_time

__all__ = ["DIMENSIONS", "CheckOil", "Instrument"]

DIMENSIONS: Mapping[str, str] = MappingProxyType(
    {
        "radius": "radius",
        "angle": "cone_angle",
        "gap": "gap",
        "inner_radius": "radius",
        "outer_radius": "radius",
        "length": "length",
        "end_factor": "relative_loop_area",  # a plain number
    }
)
"""Dimension of a geometry to the quantity it is."""


@dataclass(frozen=True, kw_only=True)
class CheckOil:
    """A certified oil and what is asked of a reading of it.

    `relative_error` is the standard uncertainty of the certificate, `tolerance` how far a reading may lie from it (both relative),
    `valid_for` [s] how old a reading may be when a run is made; the certificate holds on the day it `expires`.
    """

    id: str
    certificate: Certificate
    relative_error: float
    tolerance: float
    valid_for: float
    expires: date


@dataclass(frozen=True, kw_only=True)
class Instrument(Carried):
    """An instrument file.

    Attributes
    ----------
    name, sha256
        Of the file.
    id, torque_floor, moment_of_inertia, temperature_error
        The instrument, the torque it resolves [N·m], the inertia of what it turns [kg·m²], and the standard uncertainty of its
        temperature [K], None where the file states none.
    calibrated, calibration_due
        First and last day of the calibration.
    gap_zero, gap_zero_valid_for
        When the gap was last set to zero, where the file says so, and how long [s] that holds.
    geometry, geometry_id, dimension_errors
        The measuring body, and the standard uncertainty of each of its dimensions [SI].
    check_oils
        The oils it is checked with.
    """

    name: str
    sha256: str
    id: str
    torque_floor: float
    moment_of_inertia: float
    temperature_error: float | None
    calibrated: date
    calibration_due: date
    gap_zero: datetime | None
    gap_zero_valid_for: float
    geometry: Geometry
    geometry_id: str
    dimension_errors: Mapping[str, float]
    check_oils: tuple[CheckOil, ...] = ()

    def __post_init__(self) -> None:
        unknown = set(self.dimension_errors) ^ set(self.geometry.powers)
        if unknown:
            raise GeometryError(f"the uncertainties are not those of the dimensions: {', '.join(sorted(unknown))}")
        object.__setattr__(self, "dimension_errors", MappingProxyType(dict(self.dimension_errors)))

    def relative_errors(self, geometry: Geometry | None = None) -> dict[str, float]:
        """Return the RELATIVE standard uncertainty of each dimension [1]; of a gap it depends on the gap that was set."""
        used = geometry if geometry is not None and type(geometry) is type(self.geometry) else self.geometry
        return {name: error / abs(float(getattr(used, name))) for name, error in self.dimension_errors.items()}

    def table(self) -> Table:
        """Return what the file says as a table."""
        rows = [
            ("instrument", self.id),
            ("calibration", f"{self.calibrated.isoformat()}, due {self.calibration_due.isoformat()}"),
            ("torque floor", f"{number(self.torque_floor)} N·m"),
            ("moment of inertia", f"{number(self.moment_of_inertia)} kg·m²"),
            ("temperature", "uncertainty not stated" if self.temperature_error is None else f"± {number(self.temperature_error, 2)} K"),
            ("gap zero", f"{_moment(self.gap_zero)}, holds for {shown_time(self.gap_zero_valid_for)}"),
            ("geometry", f"{self.geometry_id}: {self.geometry.name}"),
            *((name.replace("_", " "), self._dimension(name)) for name in self.dimension_errors),
            *((f"check oil {oil.id}", _oil(oil)) for oil in self.check_oils),
        ]
        notes = ("± stands for one standard uncertainty",)
        return Table(title=f"{self.name}, sha256 {self.sha256[:12]}", columns=("what", "stated"), rows=tuple(rows), notes=notes)

    def _dimension(self, name: str) -> str:
        unit = parse_unit(quantity(DIMENSIONS[name]).display_unit) if name != "end_factor" else parse_unit("1")
        value, error = float(getattr(self.geometry, name)), self.dimension_errors[name]
        shown = f"{number(unit.from_si(value), 5)} ± {number(error / unit.scale_to_si(1.0), 2)}"
        return f"{shown} {unit.symbol}" if unit.symbol != "1" else shown

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _moment(when: datetime | None) -> str:
    return "as the exports say" if when is None else when.isoformat(timespec="minutes")


def _oil(oil: CheckOil) -> str:
    return (
        f"{oil.certificate}; ± {100.0 * oil.relative_error:.2g} %; within {100.0 * oil.tolerance:.3g} %, a reading holds for "
        f"{shown_time(oil.valid_for)}; expires {oil.expires.isoformat()}"
    )
