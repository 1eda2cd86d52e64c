"""Concentric cylinders: representative values, which nearly hold whatever the flow law, in a narrow gap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi
from typing import ClassVar

from rheokit.base.errors import GeometryError
from rheokit.geometry.geometry import Geometry
from rheokit.geometry.sensitivity import Powers
from rheokit.geometry.words import amount_in, number_in, radius_in, require_between, written

__all__ = ["ConcentricCylinders", "read_concentric_cylinders"]

WIDEST_RATIO = 1.2
"""Outer over inner radius up to which representative values serve (ISO 3219, from memory)."""

STANDARD_RATIO, STANDARD_LENGTH, STANDARD_END_FACTOR = 1.0847, 3.0, 1.10
"""Outer over inner radius, length over inner radius, and end factor of the standard cylinders (ISO 3219 and DIN 53019, from memory)."""

_LIKE_STANDARD = 0.005
"""Relative: the standard radii are rounded to a hundredth of a millimetre or so when they are made and written down."""


@dataclass(frozen=True, kw_only=True)
class ConcentricCylinders(Geometry):
    """A cylinder that turns in a cup, or a cup about a cylinder; stress and rate are the REPRESENTATIVE values of the gap.

    Parameters
    ----------
    inner_radius, outer_radius
        Of the cylinder and of the cup [m].
    length
        Of the cylinder, inside the ink [m].
    end_factor
        Torque of cylinder and ends over that of the cylinder alone, 1 or more.

    Raises
    ------
    GeometryError
        When a dimension is no length of an instrument, the cup is not wider than the cylinder, or the gap is too wide for
        representative values.

    Notes
    -----
    With δ = outer over inner radius: stress `M (1 + δ²) / (2 δ²) / (2 π L Rᵢ² c_L)`, the mean of the stresses at the two walls, and rate
    `Ω (1 + δ²)/(δ² − 1)`. The Newtonian rate at the inner wall, `Ω 2 δ²/(δ² − 1)`, is another number.

    References
    ----------
    ISO 3219; DIN 53019-1 (from memory; the constants of the standard cylinders agree).
    """

    name: ClassVar[str] = "concentric cylinders"
    source: ClassVar[str] = "representative values, ISO 3219 and DIN 53019"

    inner_radius: float
    outer_radius: float
    length: float
    end_factor: float

    def __post_init__(self) -> None:
        require_between("inner radius", self.inner_radius, 1e-4, 0.5, "m")
        require_between("outer radius", self.outer_radius, self.inner_radius * 1.000_1, self.inner_radius * WIDEST_RATIO * 1.000_1, "m")
        require_between("length", self.length, 1e-4, 1.0, "m")
        require_between("end factor", self.end_factor, 1.0, 5.0, "")

    @property
    def ratio(self) -> float:
        """Outer over inner radius, δ."""
        return self.outer_radius / self.inner_radius

    @property
    def stress_per_torque(self) -> float:
        """Representative shear stress over torque [1/m³]."""
        square = self.ratio**2
        return (1.0 + square) / (2.0 * square) / (2.0 * pi * self.length * self.inner_radius**2 * self.end_factor)

    @property
    def rate_per_speed(self) -> float:
        """Representative shear rate over angular velocity [1/rad]."""
        square = self.ratio**2
        return (1.0 + square) / (square - 1.0)

    @property
    def powers(self) -> dict[str, Powers]:
        """How stress and rate go with each dimension, near its value."""
        inner, outer = self.inner_radius**2, self.outer_radius**2
        both = inner + outer
        gap = 4.0 * inner * outer / (both * (outer - inner))
        return {
            "inner_radius": Powers(stress=-2.0 * outer / both, rate=gap),
            "outer_radius": Powers(stress=-2.0 * inner / both, rate=-gap),
            "length": Powers(stress=-1.0),
            "end_factor": Powers(stress=-1.0),
        }

    def dimensions(self) -> dict[str, str]:
        """Return radii, length and end factor as a layout file writes them."""
        radii = {"inner_radius": written(self.inner_radius, "radius"), "outer_radius": written(self.outer_radius, "radius")}
        return {**radii, "length": written(self.length, "length"), "end_factor": f"{self.end_factor!r}"}


def read_concentric_cylinders(entries: Mapping[str, str]) -> ConcentricCylinders:
    """Return the concentric cylinders that entries (keys folded) describe.

    The end factor may be left out for cylinders of the standard's proportions, where it is 1.10.

    Raises
    ------
    GeometryError
        When a dimension is missing, given twice or no amount, or the end factor is missing and the cylinders are not the standard's.
    """
    inner = radius_in(entries, ("inner", "bob", "inner cylinder", "cylinder", "innen"), "radius of the inner cylinder", "Inner radius")
    outer = radius_in(entries, ("outer", "cup", "outer cylinder", "außen", "becher"), "radius of the cup", "Outer radius")
    length = amount_in(entries, ("length", "bob length", "cylinder length", "inner cylinder length", "länge", "zylinderlänge"), "length")
    if length is None:
        raise GeometryError("the length of the cylinder is not given; write for example 'Length,40 mm'")
    end_factor = number_in(entries, ("end factor", "end effect factor"))
    if end_factor is None:
        if not (_like(outer / inner, STANDARD_RATIO) and _like(length / inner, STANDARD_LENGTH)):
            raise GeometryError("the end factor of the cylinders is not given, and they are not the standard's; write 'End factor,1.10'")
        end_factor = STANDARD_END_FACTOR
    return ConcentricCylinders(inner_radius=inner, outer_radius=outer, length=length, end_factor=end_factor)


def _like(value: float, standard: float) -> bool:
    return abs(value / standard - 1.0) <= _LIKE_STANDARD
