"""Two parallel plates: the shear rate grows with the radius, and what is given here is apparent, at the rim."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi
from typing import ClassVar

from rheokit.base.errors import GeometryError
from rheokit.geometry.geometry import Geometry
from rheokit.geometry.sensitivity import Powers
from rheokit.geometry.words import amount_in, radius_in, require_between, written

__all__ = ["ParallelPlates", "read_parallel_plates"]


@dataclass(frozen=True, kw_only=True)
class ParallelPlates(Geometry):
    """Two parallel plates; stress and rate are the APPARENT values at the rim.

    Parameters
    ----------
    radius, gap
        [m]

    Raises
    ------
    GeometryError
        When a dimension is no length of an instrument, or the gap is not much smaller than the radius.

    Notes
    -----
    Apparent shear stress `2 M / (π R³)`, exact for a Newtonian liquid alone; shear rate at the rim `Ω R / h`. For a power law the true
    stress at the rim is `(n + 3)/4` times the apparent one: with a yield stress alone (n near 0) the apparent stress is a third too high.

    References
    ----------
    ISO 3219-2 (the geometries; the formulas from memory); the factor by integration over the plate.
    """

    name: ClassVar[str] = "parallel plates"
    source: ClassVar[str] = "apparent values at the rim, by the Newtonian formula"

    radius: float
    gap: float

    def __post_init__(self) -> None:
        require_between("plate radius", self.radius, 1e-4, 0.5, "m")
        require_between("gap between the plates", self.gap, 1e-6, self.radius / 2.0, "m")

    @property
    def stress_per_torque(self) -> float:
        """Apparent shear stress at the rim over torque, `2 / (π R³)` [1/m³]."""
        return 2.0 / (pi * self.radius**3)

    @property
    def rate_per_speed(self) -> float:
        """Shear rate at the rim over angular velocity, `R / h` [1/rad]."""
        return self.radius / self.gap

    @property
    def powers(self) -> dict[str, Powers]:
        """How stress and rate go with each dimension: 1 % of radius is 3 % of stress and (3 + n) % of viscosity at a stated rate."""
        return {"radius": Powers(stress=-3.0, rate=1.0), "gap": Powers(rate=-1.0)}

    def dimensions(self) -> dict[str, str]:
        """Return radius and gap as a layout file writes them."""
        return {"radius": written(self.radius, "radius"), "gap": written(self.gap, "gap")}


def read_parallel_plates(entries: Mapping[str, str]) -> ParallelPlates:
    """Return the parallel plates that entries (keys folded) describe.

    Raises
    ------
    GeometryError
        When a dimension is missing, given twice or no amount.
    """
    radius = radius_in(entries, ("plate", "platten", ""), "radius of the plates", "Plate radius")
    gap = amount_in(entries, ("gap", "plate gap", "measuring gap", "spalt", "messspalt", "plattenabstand"), "gap")
    if gap is None:
        raise GeometryError("the gap between the plates is not given; write for example 'Gap,1 mm'")
    return ParallelPlates(radius=radius, gap=gap)
