"""The ink as the pen meets it: yield stresses by what they are for, flow laws by draws, all over temperature."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import RangeError
from rheokit.base.estimate import Estimate
from rheokit.refill.duct import Flowing
from rheokit.refill.extent import DRAWS, draw_normals
from rheokit.temperature.dependence import LONGEST_REACH
from rheokit.temperature.parameters import GAS_CONSTANT
from rheokit.yielding.reading_off import interval_of

__all__ = ["InkInPen", "Scores", "bounds"]

_YIELD = ("yield_stress", "casson_yield_stress")
# The time constant goes with the viscosity: both are set by how fast the vehicle lets the structure move.
_VISCOUS = (
    "viscosity", "consistency", "plastic_viscosity", "casson_viscosity", "zero_shear_viscosity", "infinite_shear_viscosity",
    "time_constant",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)
class Scores(Carried):
    """By what multiple of its standard uncertainty each number of the ink is off, draw by draw, (S,) each."""

    yield_decay: FloatArray
    viscous_energy: FloatArray
    law: FloatArray

    @classmethod
    def drawn(cls, *, seed: int, draws: int = DRAWS) -> Scores:
        """Return scores by seed."""
        return cls(**draw_normals(("yield_decay", "viscous_energy", "law"), seed=seed, draws=draws))


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
    law_errors
        Name to rates [1/s] and the relative standard error of the law's stress there, (2, N); what has none counts as exact.
    points
        Rates [1/s] and stresses [Pa] that the laws were fitted to, (2, N), or None.
    bench_range
        Lowest and highest rate [1/s] of those points.
    reference_temperature
        [K] at which all of this was measured.
    temperature_range
        Lowest and highest temperature [K] of the runs behind the two numbers below; left out, only the reference temperature.
    yield_decay
        k [1/K] of `exp(-k (T - T_r))` of every yield stress; its standard uncertainty.
    viscous_energy
        Activation energy [J/mol] of every viscous term; its standard uncertainty.
    recovery_time
        [s] of the structure after shear, or None where it was not measured.
    creep_viscosity
        [Pa·s] that creep over hours shows at least, or None.
    assumed
        What was not measured, and what stands in for it, in words.
    """

    dynamic_yield_stress: Estimate
    creep_yield_stress: Estimate | None = None
    static_yield_stress: Estimate | None = None
    laws: Mapping[str, Flowing]
    law_errors: Mapping[str, FloatArray] = field(default_factory=dict)
    points: FloatArray | None = None
    bench_range: tuple[float, float]
    reference_temperature: float
    temperature_range: tuple[float, float] | None = None
    yield_decay: tuple[float, float] = (0.0, 0.0)
    viscous_energy: tuple[float, float] = (0.0, 0.0)
    recovery_time: float | None = None
    creep_viscosity: float | None = None
    assumed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "laws", MappingProxyType(dict(self.laws)))
        object.__setattr__(self, "law_errors", MappingProxyType({name: _frozen(held) for name, held in self.law_errors.items()}))
        if self.points is not None:
            object.__setattr__(self, "points", _frozen(self.points))
        for estimate in (self.dynamic_yield_stress, self.creep_yield_stress, self.static_yield_stress):
            if estimate is not None and estimate.unit != "Pa":
                raise RangeError(f"{estimate.name} is in {estimate.unit}, not Pa; convert it first")
            if estimate is not None and not estimate.determined:
                raise RangeError(f"{estimate.name} is not determined ({estimate.reason}); the pen cannot be judged by it")

    @property
    def holding_yield_stress(self) -> Estimate:
        """The smaller of dynamic yield stress and creep bracket by their lower ends: what holding may count on."""
        held = [estimate for estimate in (self.dynamic_yield_stress, self.creep_yield_stress) if estimate is not None]
        return min(held, key=lambda estimate: bounds(estimate)[0])

    @property
    def known_temperatures(self) -> tuple[float, float]:
        """Lowest and highest temperature [K] of any run behind the dependence on temperature."""
        return self.temperature_range or (self.reference_temperature, self.reference_temperature)

    def beyond(self, temperature: float) -> float:
        """Return how far [K] a temperature [K] lies outside the runs."""
        low, high = self.known_temperatures
        return max(low - temperature, temperature - high, 0.0)

    def require_near(self, temperature: float) -> None:
        """Refuse a temperature [K] to which one activation energy is not followed.

        Raises
        ------
        RangeError
            Saying how far it lies beyond the runs.
        """
        away = self.beyond(temperature)
        if away > LONGEST_REACH:
            low, high = (f"{end - 273.15:.4g}" for end in self.known_temperatures)
            span = f"{low} °C" if low == high else f"{low} to {high} °C"
            raise RangeError(
                f"{temperature - 273.15:.4g} °C lies {away:.3g} K beyond the runs ({span}): one activation energy is followed "
                f"{LONGEST_REACH:.3g} K at most; measure the flow curve nearer to it"
            )

    def yield_factor(self, temperature: ArrayLike, scores: Scores | None = None) -> FloatArray:
        """Return yield stress at a temperature [K] over that at the reference; with scores for every draw, (S,)."""
        decay = self.yield_decay[0] + (0.0 if scores is None else scores.yield_decay * self.yield_decay[1])
        return np.asarray(np.exp(-decay * (np.asarray(temperature) - self.reference_temperature)))

    def viscous_factor(self, temperature: ArrayLike, scores: Scores | None = None) -> FloatArray:
        """Return every viscous term at a temperature [K] over that at the reference, by one activation energy; with scores (S,)."""
        energy = self.viscous_energy[0] + (0.0 if scores is None else scores.viscous_energy * self.viscous_energy[1])
        inverse = 1.0 / np.asarray(temperature, dtype=np.float64) - 1.0 / self.reference_temperature
        return np.asarray(np.exp(energy / GAS_CONSTANT * inverse))

    def relative_error(self, name: str, shear_rate: ArrayLike) -> FloatArray:
        """Return the relative standard error of a law's stress at shear rates [1/s], of their shape; 0 where it is not known."""
        rate, held = np.asarray(shear_rate, dtype=np.float64), self.law_errors.get(name)
        if held is None:
            return np.zeros(rate.shape)
        return np.asarray(np.interp(np.log(rate), np.log(held[0]), held[1]))

    def viscosity(self, name: str, shear_rate: ArrayLike, temperature: float, scores: Scores) -> FloatArray:
        """Return the viscosity [Pa·s] that a law says at a shear rate [1/s] and a temperature [K], draw by draw, (S,)."""
        flowing, rate = self.laws[name], np.asarray(shear_rate, dtype=np.float64)
        yielding, viscous = self.yield_factor(temperature, scores), self.viscous_factor(temperature, scores)
        values = [
            flowing.values[part] * (yielding if part in _YIELD else viscous if part in _VISCOUS else 1.0) for part in flowing.law.names
        ]
        stress = np.asarray(flowing.law.value(rate, *values), dtype=np.float64)
        return np.asarray(stress * np.exp(scores.law * self.relative_error(name, rate)) / rate)


def bounds(estimate: Estimate) -> tuple[float, float]:
    """Return the ends of the 95 % interval of a positive number: its own, else by Student's t, else the value itself."""
    held = interval_of(estimate)
    if held is None:
        return max(estimate.value, 0.0), estimate.value
    return max(held.lower, 0.0), held.upper


def _frozen(values: FloatArray) -> FloatArray:
    held = np.array(values, dtype=np.float64)
    held.setflags(write=False)
    return held
