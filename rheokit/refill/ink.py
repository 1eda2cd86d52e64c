"""The ink as the pen meets it: yield stresses by what they are for, flow laws by draws, all over temperature."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import RangeError
from rheokit.base.estimate import Estimate
from rheokit.refill.duct import Flowing

__all__ = ["InkInPen", "bounds"]

_YIELD = ("yield_stress", "casson_yield_stress")
# The time constant goes with the viscosity: both are set by how fast the vehicle lets the structure move.
_VISCOUS = (
    "viscosity", "consistency", "plastic_viscosity", "casson_viscosity", "zero_shear_viscosity", "infinite_shear_viscosity",
    "time_constant",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)
class InkInPen(Carried):
    """What is known of an ink when it goes into a pen.

    Attributes
    ----------
    dynamic_yield_stress
        [Pa] of the down leg or steady steps.
    creep_yield_stress
        [Pa] bracket by creep, or None where it was not measured.
    static_yield_stress
        [Pa] at the longest rest measured, or None.
    laws
        Name to Flowing: two or more laws fitted to the same points, so that what lies beyond the bench is told by each.
    bench_range
        Lowest and highest rate [1/s] of those points.
    reference_temperature
        [K] at which all of this was measured.
    yield_decay
        k [1/K] of `exp(-k (T - T_r))` of every yield stress; its standard uncertainty.
    viscous_energy
        Activation energy [J/mol] of every viscous term; its standard uncertainty.
    """

    dynamic_yield_stress: Estimate
    creep_yield_stress: Estimate | None = None
    static_yield_stress: Estimate | None = None
    laws: Mapping[str, Flowing]
    bench_range: tuple[float, float]
    reference_temperature: float
    yield_decay: tuple[float, float] = (0.0, 0.0)
    viscous_energy: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        object.__setattr__(self, "laws", MappingProxyType(dict(self.laws)))
        for estimate in (self.dynamic_yield_stress, self.creep_yield_stress, self.static_yield_stress):
            if estimate is not None and estimate.unit != "Pa":
                raise RangeError(f"{estimate.name} is in {estimate.unit}, not Pa; convert it first")
            if estimate is not None and not estimate.determined:
                raise RangeError(f"{estimate.name} is not determined ({estimate.reason}); the pen cannot be judged by it")

    def at_temperature(self, flowing: Flowing, temperature: float) -> Flowing:
        """Return a law with its yield stress, viscosities and time constant at a temperature [K]."""
        yielding, viscous = float(self.yield_factor(temperature)), float(self.viscous_factor(temperature))
        factors = {name: yielding if name in _YIELD else viscous if name in _VISCOUS else 1.0 for name in flowing.values}
        return Flowing(flowing.law, {name: value * factors[name] for name, value in flowing.values.items()})

    @property
    def holding_yield_stress(self) -> Estimate:
        """The smaller of dynamic yield stress and creep bracket by their lower ends: what holding may count on."""
        held = [estimate for estimate in (self.dynamic_yield_stress, self.creep_yield_stress) if estimate is not None]
        return min(held, key=lambda estimate: bounds(estimate)[0])

    def yield_factor(self, temperature: ArrayLike) -> FloatArray:
        """Return yield stress at a temperature [K] over that at the reference, with the decay as given."""
        return np.asarray(np.exp(-self.yield_decay[0] * (np.asarray(temperature) - self.reference_temperature)))

    def viscous_factor(self, temperature: ArrayLike) -> FloatArray:
        """Return every viscous term at a temperature [K] over that at the reference, by one activation energy."""
        inverse = 1.0 / np.asarray(temperature, dtype=np.float64) - 1.0 / self.reference_temperature
        return np.asarray(np.exp(self.viscous_energy[0] / 8.314462618 * inverse))


def bounds(estimate: Estimate) -> tuple[float, float]:
    """Return the ends of the 95 % interval of a positive number: its own, else twice its standard error, else the value itself."""
    if estimate.interval is not None:
        return max(estimate.interval.lower, 0.0), estimate.interval.upper
    spread = 0.0 if estimate.standard_error is None else 2.0 * estimate.standard_error
    return max(estimate.value - spread, 0.0), estimate.value + spread
