"""What every measuring geometry does: torque to shear stress and speed to shear rate, and back, by one factor each."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import ClassVar, TypeVar

import numpy as np
from numpy.typing import NDArray

from rheokit.geometry.sensitivity import Powers

__all__ = ["Geometry"]

Number = TypeVar("Number", float, NDArray[np.float64])


class Geometry(ABC):
    """A measuring geometry in which stress is proportional to torque and shear rate to angular velocity.

    Attributes
    ----------
    name
        What the trade calls it, as in a preamble or layout file.
    source
        Where the two factors come from.
    """

    name: ClassVar[str]
    source: ClassVar[str]

    @property
    @abstractmethod
    def stress_per_torque(self) -> float:
        """Shear stress over torque [1/m³]."""

    @property
    @abstractmethod
    def rate_per_speed(self) -> float:
        """Shear rate over angular velocity [1/rad]."""

    @property
    @abstractmethod
    def powers(self) -> dict[str, Powers]:
        """Dimension to the powers with which stress and rate go with it."""

    @abstractmethod
    def dimensions(self) -> dict[str, str]:
        """Return the dimensions under the keys of a layout file, as text with units that reads back to the same numbers."""

    def shear_stress(self, torque: Number) -> Number:
        """Return the shear stress [Pa] at a torque [N·m]."""
        return torque * self.stress_per_torque

    def shear_rate(self, angular_velocity: Number) -> Number:
        """Return the shear rate [1/s] at an angular velocity [rad/s]."""
        return angular_velocity * self.rate_per_speed

    def torque(self, shear_stress: Number) -> Number:
        """Return the torque [N·m] at a shear stress [Pa]."""
        return shear_stress / self.stress_per_torque

    def angular_velocity(self, shear_rate: Number) -> Number:
        """Return the angular velocity [rad/s] at a shear rate [1/s]."""
        return shear_rate / self.rate_per_speed

    def __str__(self) -> str:
        inside = ", ".join(f"{key.replace('_', ' ')} {text}" for key, text in self.dimensions().items())
        return f"{self.name} ({inside})"
