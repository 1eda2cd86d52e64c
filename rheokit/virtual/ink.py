"""The ink of the virtual rheometer: a gel whose structure breaks under shear and rebuilds.

The structure parameter L runs from 0 (fully broken) to 1 (fully built)::

    dL/dt  = a (1 - L) - b rate^m L
    stress = tau_y0 + tau_y1 L + (K + dK L) rate^n + eta_inf rate

With ``m = 1``, no yield terms, ``K = 0`` and ``n = 1`` this is Moore's model; without ``eta_inf`` it
is Houska's.

References
----------
Moore, F., Trans. Br. Ceram. Soc. 58 (1959) 470; Houska, M., thesis, Prague (1981). Both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, inf, isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

GAS_CONSTANT = 8.314462618
"""Molar gas constant [J/(mol·K)], SI brochure 9th edition (exact product, rounded)."""


@dataclass(frozen=True, kw_only=True)
class Ink:
    """A thixotropic ink with known true parameters.

    Parameters
    ----------
    broken_yield_stress : float
        tau_y0 [Pa], the yield stress with no structure left.
    structure_yield_stress : float
        tau_y1 [Pa], what a full structure adds to it.
    broken_consistency, structure_consistency : float
        K and dK [Pa·s^n].
    flow_index : float
        n, without unit.
    infinite_shear_viscosity : float
        eta_inf [Pa·s].
    build_up_rate : float
        a [1/s]; 0 for an ink that never rebuilds.
    breakdown_rate : float
        b [1/s · s^m].
    breakdown_exponent : float
        m, without unit.
    elastic_strain : float
        Shear strain over which the yield stress builds up after a rest, ``1 - exp(-strain/elastic_strain)``;
        0 switches it off. With it a start-up after a rest passes through a stress overshoot.
    reference_temperature : float
        Temperature [K] at which the values above hold.
    activation_energy : float
        Of every viscous term [J/mol]; 40 to 70 kJ/mol is usual for vehicles (common practice, no source).
    yield_temperature_scale : float
        Tc [K] of ``tau_y exp(-(T - T_reference)/Tc)``; infinite for no dependence. The structure
        kinetics do not depend on temperature here.

    Raises
    ------
    ValueError
        If a value is negative, not finite, or the flow index or a temperature is not above zero.
    """

    broken_yield_stress: float
    structure_yield_stress: float
    broken_consistency: float
    structure_consistency: float
    flow_index: float
    infinite_shear_viscosity: float
    build_up_rate: float
    breakdown_rate: float
    breakdown_exponent: float = 1.0
    elastic_strain: float = 0.0
    reference_temperature: float = 296.15
    activation_energy: float = 0.0
    yield_temperature_scale: float = inf

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            may_be_infinite = name == "yield_temperature_scale"
            if not value >= 0.0 or not (isfinite(value) or may_be_infinite):
                raise ValueError(f"{name} is {value}; it must be zero or more and finite")
        for name in ("flow_index", "reference_temperature", "yield_temperature_scale"):
            if getattr(self, name) == 0.0:
                raise ValueError(f"{name} is 0; it must be above zero")

    def structure_change(self, shear_rate: float, structure: float) -> float:
        """Rate of change of the structure parameter [1/s] at a shear rate [1/s]."""
        breakdown: float = self.breakdown_rate * shear_rate**self.breakdown_exponent * structure
        return self.build_up_rate * (1.0 - structure) - breakdown

    def stress(self, shear_rate: ArrayLike, structure: ArrayLike, strain: ArrayLike = inf) -> FloatArray:
        """Shear stress [Pa] while the ink flows at a shear rate [1/s].

        Parameters
        ----------
        shear_rate, structure, strain : array_like, broadcast together
            Shear rate [1/s], structure parameter, and shear strain since the last rest (only the
            elastic start-up uses it).
        """
        rate = np.asarray(shear_rate, dtype=np.float64)
        built = np.asarray(structure, dtype=np.float64)
        yielding = (self.broken_yield_stress + self.structure_yield_stress * built) * self._taken_up(strain)
        consistency = self.broken_consistency + self.structure_consistency * built
        viscous = consistency * rate**self.flow_index + self.infinite_shear_viscosity * rate
        return np.asarray(yielding + viscous, dtype=np.float64)

    def _taken_up(self, strain: ArrayLike) -> FloatArray:
        """Fraction of the yield stress that the strain since the last rest has taken up."""
        since_rest = np.asarray(strain, dtype=np.float64)
        if self.elastic_strain == 0.0:
            return np.ones_like(since_rest)
        return np.asarray(-np.expm1(-since_rest / self.elastic_strain), dtype=np.float64)

    def equilibrium_structure(self, shear_rate: ArrayLike) -> FloatArray:
        """Structure parameter after shearing for ever at a shear rate [1/s]."""
        rate = np.asarray(shear_rate, dtype=np.float64)
        breakdown = self.breakdown_rate * rate**self.breakdown_exponent
        return np.asarray(self.build_up_rate / (self.build_up_rate + breakdown), dtype=np.float64)

    def equilibrium_stress(self, shear_rate: ArrayLike) -> FloatArray:
        """Shear stress [Pa] after shearing for ever at a shear rate [1/s]."""
        return self.stress(shear_rate, self.equilibrium_structure(shear_rate))

    def at_temperature(self, temperature: float) -> Ink:
        """Return the ink as it is at another temperature [K].

        Raises
        ------
        ValueError
            If the temperature is not above zero.
        """
        if not temperature > 0.0:
            raise ValueError(f"temperature is {temperature} K; it must be above zero")
        inverse = 1.0 / temperature - 1.0 / self.reference_temperature
        viscous = exp(self.activation_energy / GAS_CONSTANT * inverse)
        yielding = exp(-(temperature - self.reference_temperature) / self.yield_temperature_scale)
        return replace(
            self,
            broken_yield_stress=self.broken_yield_stress * yielding,
            structure_yield_stress=self.structure_yield_stress * yielding,
            broken_consistency=self.broken_consistency * viscous,
            structure_consistency=self.structure_consistency * viscous,
            infinite_shear_viscosity=self.infinite_shear_viscosity * viscous,
            reference_temperature=temperature,
        )
