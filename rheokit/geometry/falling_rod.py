"""A falling rod: weights and times of fall to stress and rate, as printing inks and pastes have long been measured."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FlowCurve, read_only
from rheokit.base.errors import GeometryError
from rheokit.geometry.sensitivity import Powers
from rheokit.geometry.words import require_between

__all__ = ["STANDARD_GRAVITY", "FallingRod"]

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s²] (exact, 3rd CGPM 1901)."""


@dataclass(frozen=True, kw_only=True)
class FallingRod:
    """A rod that falls through a ring filled with ink.

    Parameters
    ----------
    rod_radius, ring_radius
        Of the rod and of the bore of the ring [m].
    ring_length
        Of the sheared film [m].
    fall
        Distance over which the fall is timed [m].

    Raises
    ------
    GeometryError
        When a dimension is impossible, or the film is not thin against the rod (a tenth): then the rate is not one.

    References
    ----------
    ASTM D4040 describes the method (only its scope was read); stress and rate follow from a thin film.
    """

    rod_radius: float
    ring_radius: float
    ring_length: float
    fall: float

    def __post_init__(self) -> None:
        require_between("rod radius", self.rod_radius, 1e-4, 0.1, "m")
        require_between("ring radius", self.ring_radius, self.rod_radius * 1.000_01, self.rod_radius * 1.1, "m")
        require_between("ring length", self.ring_length, 1e-3, 0.5, "m")
        require_between("distance of fall", self.fall, 1e-3, 1.0, "m")

    @property
    def film(self) -> float:
        """Thickness of the film of ink [m]."""
        return self.ring_radius - self.rod_radius

    @property
    def powers(self) -> dict[str, Powers]:
        """How stress and rate go with each dimension; the film is rate 1/film, so radii enter through it."""
        return {"rod_radius": Powers(stress=-1.0), "film": Powers(rate=-1.0), "ring_length": Powers(stress=-1.0), "fall": Powers(rate=1.0)}

    def flow(self, mass: ArrayLike, time: ArrayLike, *, gravity: float = STANDARD_GRAVITY) -> FlowCurve:
        """Return the flow curve of falls under several weights: stress `m g/(2 π R L)` at rate `fall/(time film)`, (N,).

        Parameters
        ----------
        mass
            Of rod and weights, less what buoyancy takes [kg], (N,).
        time
            Of fall [s], (N,).
        gravity
            Acceleration of free fall [m/s²].

        Raises
        ------
        GeometryError
            When a mass or time is not positive, or columns differ in length.
        """
        weight, seconds = read_only(mass, "mass"), read_only(time, "time")
        if weight.size != seconds.size or not (np.all(weight > 0.0) and np.all(seconds > 0.0)):
            raise GeometryError("masses and times of fall must be positive and as many of one as of the other")
        stress = weight * gravity / (2.0 * pi * self.rod_radius * self.ring_length)
        return FlowCurve(self.fall / (seconds * self.film), stress, name="falling rod")
