"""A vane turned in the gel: the torque at which a cylinder of gel around it yields, walls and slip left out."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from rheokit.geometry.words import require_between

__all__ = ["Vane"]

Number = TypeVar("Number", float, NDArray[np.float64])


@dataclass(frozen=True, kw_only=True)
class Vane:
    """A vane of four blades or more, its whole height in the sample.

    The stress is even over the side and both ends of the cylinder that the blades sweep, `M = (π d³/2)(h/d + 1/3) τ`. It is no shear
    rheometer: it has no shear rate.

    Parameters
    ----------
    diameter, height
        Of the blades [m].

    Raises
    ------
    GeometryError
        When a dimension is no length of an instrument.

    References
    ----------
    Steffe, Rheological Methods in Food Process Engineering, 2nd ed. 1996, p. 246.
    """

    diameter: float
    height: float

    def __post_init__(self) -> None:
        require_between("vane diameter", self.diameter, 1e-3, 0.5, "m")
        require_between("vane height", self.height, 1e-3, 1.0, "m")

    @property
    def stress_per_torque(self) -> float:
        """Shear stress on the swept cylinder over torque, `1 / ((π d³/2)(h/d + 1/3))` [1/m³]."""
        return 1.0 / (0.5 * pi * self.diameter**3 * (self.height / self.diameter + 1.0 / 3.0))

    def shear_stress(self, torque: Number) -> Number:
        """Return the shear stress [Pa] on the swept cylinder at a torque [N·m]."""
        return torque * self.stress_per_torque
