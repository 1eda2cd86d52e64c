"""What a certificate says of a check oil at any temperature in its span: read between its rows, or by its law."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from rheokit.base.errors import RangeError

__all__ = ["Certificate", "CertifiedLaw", "CertifiedRows"]

WIDEST_BRACKET = 10.0
"""[K] Widest pair of rows between which a certificate is read.

The parabola of ln η over 1/T through three rows misses a Vogel law (1600 K, 170 K, an oil of 1 Pa·s) by at most 0.07 % between rows 10 K
apart near 23 °C; the straight line misses it by 1.1 %.
"""
BEYOND = 0.05
"""[K] How far beyond its last row a certificate still counts: what a thermostat holds."""


@dataclass(frozen=True, kw_only=True)
class CertifiedRows:
    """Rows of a certificate: temperatures [K], rising, and viscosities [Pa·s], falling; three or more."""

    temperatures: tuple[float, ...]
    viscosities: tuple[float, ...]

    def __post_init__(self) -> None:
        rows = list(zip(self.temperatures, self.viscosities, strict=True))
        if len(rows) < 3 or not all(a[0] < b[0] and a[1] > b[1] > 0.0 for a, b in pairwise(rows)):
            raise RangeError("a certificate has three rows or more, temperatures rising and viscosities falling")

    def viscosity(self, temperature: float) -> float:
        """Return the certified viscosity [Pa·s] at a temperature [K]: a parabola of ln η over 1/T through the three nearest rows.

        Raises
        ------
        RangeError
            When the temperature lies outside the rows, or between two that are too far apart.
        """
        _require_inside(temperature, self.temperatures[0], self.temperatures[-1])
        left = max(index for index, row in enumerate(self.temperatures[:-1]) if index == 0 or row <= temperature)
        apart = self.temperatures[left + 1] - self.temperatures[left]
        on_a_row = any(abs(temperature - row) <= BEYOND for row in self.temperatures)
        if apart > WIDEST_BRACKET and not on_a_row:
            raise RangeError(
                f"the rows of the certificate around {temperature - 273.15:.2f} °C lie {apart:.3g} K apart; between rows more than "
                f"{WIDEST_BRACKET:g} K apart it is not read"
            )
        return math.exp(self._logarithm(temperature))

    def coefficient(self, temperature: float) -> float:
        """Return d ln η/dT [1/K] at a temperature [K] in the span."""
        step = 0.01
        return (self._logarithm(temperature + step) - self._logarithm(temperature - step)) / (2.0 * step)

    def _logarithm(self, temperature: float) -> float:
        nearest = sorted(range(len(self.temperatures)), key=lambda index: abs(self.temperatures[index] - temperature))[:3]
        places = [1.0 / self.temperatures[index] for index in nearest]
        x, total = 1.0 / temperature, 0.0
        for one, index in enumerate(nearest):
            others = [places[other] for other in range(3) if other != one]
            weight = math.prod((x - other) / (places[one] - other) for other in others)
            total += weight * math.log(self.viscosities[index])
        return total

    def __str__(self) -> str:
        return f"{len(self.temperatures)} rows, {_span(self.temperatures[0], self.temperatures[-1])}"


@dataclass(frozen=True, kw_only=True)
class CertifiedLaw:
    """A certificate as the law of Vogel: prefactor [Pa·s], constant and temperature [K], and the span [K] in which it holds."""

    prefactor: float
    vogel_constant: float
    vogel_temperature: float
    lowest: float
    highest: float

    def __post_init__(self) -> None:
        if not (self.prefactor > 0.0 and self.vogel_constant > 0.0 and 0.0 <= self.vogel_temperature < self.lowest < self.highest):
            raise RangeError("a Vogel law has a positive prefactor and constant, and a span of temperatures above its own")

    def viscosity(self, temperature: float) -> float:
        """Return the certified viscosity [Pa·s] at a temperature [K].

        Raises
        ------
        RangeError
            When the temperature lies outside the span.
        """
        _require_inside(temperature, self.lowest, self.highest)
        return self.prefactor * math.exp(self.vogel_constant / (temperature - self.vogel_temperature))

    def coefficient(self, temperature: float) -> float:
        """Return d ln η/dT [1/K] at a temperature [K]."""
        return -self.vogel_constant / (temperature - self.vogel_temperature) ** 2

    def __str__(self) -> str:
        return f"Vogel law, {_span(self.lowest, self.highest)}"


Certificate = CertifiedRows | CertifiedLaw


def _require_inside(temperature: float, lowest: float, highest: float) -> None:
    if not lowest - BEYOND <= temperature <= highest + BEYOND:
        raise RangeError(f"{temperature - 273.15:.2f} °C lies outside the certificate ({_span(lowest, highest)})")


def _span(lowest: float, highest: float) -> str:
    return f"{lowest - 273.15:.4g} to {highest - 273.15:.4g} °C"
