"""Cone over a plate: one shear rate and one shear stress in the whole gap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import degrees, pi
from typing import ClassVar

from rheokit.base.errors import GeometryError
from rheokit.geometry.geometry import Geometry
from rheokit.geometry.sensitivity import Powers
from rheokit.geometry.words import amount_in, radius_in, require_between, written

__all__ = ["ConePlate", "read_cone_plate"]

WIDEST_ANGLE = pi / 18.0
"""10°: wider cones shear the edge at another rate than the tip (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class ConePlate(Geometry):
    """A cone over a plate.

    Parameters
    ----------
    radius
        [m]
    angle
        Between cone and plate [rad].

    Raises
    ------
    GeometryError
        When the radius is no length of an instrument, or the angle is not between 0 and 10°.

    Notes
    -----
    Shear stress `3 M / (2 π R³)` and shear rate `Ω / α`; both follow from a shear rate that is the same everywhere in the gap.

    References
    ----------
    ISO 3219-2 (the geometries; the formulas from memory).
    """

    name: ClassVar[str] = "cone-plate"
    source: ClassVar[str] = "uniform shear rate between a flat cone and a plate"

    radius: float
    angle: float

    def __post_init__(self) -> None:
        require_between("cone radius", self.radius, 1e-4, 0.5, "m")
        if not 0.0 < self.angle <= WIDEST_ANGLE:
            raise GeometryError(f"the cone angle is {degrees(self.angle):.4g}°; one shear rate in the whole gap needs 0 to 10°")

    @property
    def stress_per_torque(self) -> float:
        """Shear stress over torque, `3 / (2 π R³)` [1/m³]."""
        return 3.0 / (2.0 * pi * self.radius**3)

    @property
    def rate_per_speed(self) -> float:
        """Shear rate over angular velocity, `1 / α` [1/rad]."""
        return 1.0 / self.angle

    @property
    def powers(self) -> dict[str, Powers]:
        """How stress and rate go with each dimension."""
        return {"radius": Powers(stress=-3.0), "angle": Powers(rate=-1.0)}

    def dimensions(self) -> dict[str, str]:
        """Return radius and angle as a layout file writes them."""
        return {"radius": written(self.radius, "radius"), "angle": written(self.angle, "cone_angle")}


def read_cone_plate(entries: Mapping[str, str]) -> ConePlate:
    """Return the cone-plate that entries (keys folded) describe.

    Raises
    ------
    GeometryError
        When a dimension is missing, given twice or no amount.
    """
    radius = radius_in(entries, ("cone", "kegel", "konus", "plate", "platten", ""), "radius of the cone", "Cone radius")
    angle = amount_in(entries, ("cone angle", "angle", "kegelwinkel", "konuswinkel", "winkel"), "cone_angle")
    if angle is None:
        raise GeometryError("the angle of the cone is not given; write for example 'Cone angle,2 °'")
    return ConePlate(radius=radius, angle=angle)
