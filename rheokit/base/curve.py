"""FlowCurve and Leg: arrays in SI, copied and read-only."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rheokit.base.carry import Carried

__all__ = ["FloatArray", "FlowCurve", "HasFlow", "HasLeg", "Leg", "read_only"]

FloatArray = NDArray[np.float64]


class HasFlow(Protocol):
    """Anything with shear rates [1/s] and shear stresses [Pa] of equal length."""

    @property
    def shear_rate(self) -> FloatArray:
        """Shear rates [1/s]."""

    @property
    def shear_stress(self) -> FloatArray:
        """Shear stresses [Pa]."""


class HasLeg(HasFlow, Protocol):
    """Anything that has times [s] as well."""

    @property
    def time(self) -> FloatArray:
        """Times [s]."""


def read_only(values: ArrayLike, name: str) -> FloatArray:
    """Return a one-dimensional copy as float64 that cannot be written to.

    Raises
    ------
    ValueError
        When the values are not one-dimensional.
    """
    array = np.array(values, dtype=np.float64)
    if array.ndim != 1:
        raise ValueError(f"{name} must be one-dimensional, not of shape {array.shape}")
    array.setflags(write=False)
    return array


def _equal_length(**arrays: FloatArray) -> None:
    if len({array.size for array in arrays.values()}) > 1:
        sizes = ", ".join(f"{name} {array.size}" for name, array in arrays.items())
        raise ValueError(f"columns of unequal length: {sizes}")


@dataclass(frozen=True, eq=False)
class FlowCurve(Carried):
    """Shear stress [Pa] against shear rate [1/s], shape (N,)."""

    shear_rate: FloatArray
    shear_stress: FloatArray
    name: str = field(default="", kw_only=True)

    def __post_init__(self) -> None:
        object.__setattr__(self, "shear_rate", read_only(self.shear_rate, "shear_rate"))
        object.__setattr__(self, "shear_stress", read_only(self.shear_stress, "shear_stress"))
        _equal_length(shear_rate=self.shear_rate, shear_stress=self.shear_stress)

    @property
    def viscosity(self) -> FloatArray:
        """Apparent viscosity [Pa·s], NaN where the rate is zero."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.shear_rate == 0.0, np.nan, self.shear_stress / self.shear_rate)


@dataclass(frozen=True, eq=False)
class Leg(Carried):
    """One leg of a loop: time [s], shear rate [1/s] and shear stress [Pa], shape (N,)."""

    time: FloatArray
    shear_rate: FloatArray
    shear_stress: FloatArray
    name: str = field(default="", kw_only=True)

    def __post_init__(self) -> None:
        for name in ("time", "shear_rate", "shear_stress"):
            object.__setattr__(self, name, read_only(getattr(self, name), name))
        _equal_length(time=self.time, shear_rate=self.shear_rate, shear_stress=self.shear_stress)
