"""What is known of the instrument and the sample of a run; a check that needs what is not known says that it could not look."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from rheokit.base.errors import GeometryError
from rheokit.base.run import Run
from rheokit.geometry import ConcentricCylinders, ConePlate, Geometry, ParallelPlates, read_geometry
from rheokit.geometry.words import amount_in, folded

__all__ = ["Known", "known_of"]


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known of the instrument and the sample; None where it is not.

    Attributes
    ----------
    geometry
        The measuring geometry.
    least_torque
        Smallest torque that the instrument measures [N·m].
    inertia
        Moment of inertia of what turns [kg·m²].
    density
        Of the sample [kg/m³].
    largest_particle
        Its size [m].
    """

    geometry: Geometry | None = None
    least_torque: float | None = None
    inertia: float | None = None
    density: float | None = None
    largest_particle: float | None = None

    @property
    def gap(self) -> float | None:
        """Widest gap between the walls [m]: of a cone that at its rim."""
        match self.geometry:
            case ConePlate(radius=radius, angle=angle):
                return radius * angle
            case ParallelPlates(gap=gap):
                return gap
            case ConcentricCylinders(inner_radius=inner, outer_radius=outer):
                return outer - inner
        return None

    def with_more(self, more: Known) -> Known:
        """Return what is known here, and from `more` what is not."""
        missing = {field.name: getattr(more, field.name) for field in fields(self) if getattr(self, field.name) is None}
        return replace(self, **missing)


_WORDS = {
    "least_torque": ("torque", ("least torque", "minimum torque", "torque floor", "torque minimum", "kleinstes drehmoment")),
    "inertia": ("moment_of_inertia", ("moment of inertia", "inertia", "trägheitsmoment")),
    "density": ("density", ("density", "sample density", "dichte")),
    "largest_particle": ("fineness_of_grind", ("largest particle", "particle size", "fineness of grind", "größtes teilchen")),
}
"""What is known, to its quantity and the keys of a preamble under which it may stand."""


def known_of(run: Run) -> Known:
    """Return what the preamble of an export says of instrument and sample; what cannot be understood is not known."""
    entries = folded(run.metadata)
    try:
        geometry = read_geometry(run.metadata)
    except GeometryError:  # reading has said so already
        geometry = None
    found: dict[str, float | None] = {}
    for name, (quantity, words) in _WORDS.items():
        try:
            value = amount_in(entries, words, quantity)
        except GeometryError:
            value = None
        found[name] = value if value is not None and value > 0.0 else None
    return Known(geometry=geometry, **found)
