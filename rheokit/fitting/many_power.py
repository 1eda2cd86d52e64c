"""Kernels of the laws whose curve is a sum of yield stress, power term and plateau: one coordinate, the flow index, or none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import Rows
from rheokit.fitting.many_view import Part, View
from rheokit.fitting.request import BoolArray
from rheokit.law import Law

__all__ = ["NODES", "SUMS", "SumKernel", "Term"]

Term = Literal["yield", "power", "plateau"]

NODES = np.concatenate([0.03 + 0.06 * np.arange(17), [1.15, 1.4, 1.8]])
"""Flow indices from which a search starts: close together where inks are."""
_FEWEST = 12

SUMS: Mapping[str, tuple[Term, ...]] = MappingProxyType(
    {
        "newtonian": ("plateau",),
        "power_law": ("power",),
        "bingham": ("yield", "plateau"),
        "herschel_bulkley": ("yield", "power"),
        "sisko": ("plateau", "power"),
        "herschel_bulkley_plateau": ("yield", "power", "plateau"),
    }
)
"""Name of a law to what it is the sum of, in the order of its linear parameters."""


@dataclass(frozen=True)
class SumKernel:
    """Yield stress, power term and plateau, whichever a law has, in the order of its linear parameters."""

    law: Law
    terms: tuple[Term, ...]

    @property
    def linear(self) -> tuple[int, ...]:
        """Index of the parameter that goes with each column."""
        return tuple(self.law.names.index(name) for name in self.law.linear)

    @property
    def nonlinear(self) -> tuple[int, ...]:
        """Index of the flow index, where there is one."""
        return tuple(self.law.names.index(name) for name in self.law.nonlinear)

    @property
    def constant(self) -> tuple[bool, ...]:
        """All columns but the power term."""
        return tuple(term != "power" for term in self.terms)

    @property
    def scaled(self) -> tuple[bool, ...]:
        """All parameters but the flow index."""
        return tuple(name in self.law.linear for name in self.law.names)

    def constants(self, x: FloatArray, weight: FloatArray) -> tuple[FloatArray, ...]:
        """Return the weighted columns that are not the power term."""
        return tuple(weight if term == "yield" else weight * x for term in self.terms if term != "power")

    @property
    def owners(self) -> tuple[int, ...]:
        """The one slope belongs to the flow index."""
        return (0,) if "power" in self.terms else ()

    def evaluate(self, part: Part, theta: FloatArray) -> tuple[list[FloatArray], list[FloatArray]]:
        """Return the weighted columns at a flow index (1, B), and the power term times the logarithm of the rate."""
        if "power" not in self.terms:
            return list(part.constants), []
        power = np.multiply(part.log_x, theta[0])
        np.exp(power, out=power)
        power *= part.weight
        return self._ordered(part, power), [power * part.log_x]

    def factors(self, theta: FloatArray, values: Rows) -> list[FloatArray]:  # noqa: ARG002 - other kernels need it
        """Return the consistency."""
        return [values[self.terms.index("power")]] if "power" in self.terms else []

    def _ordered(self, part: Part, power: FloatArray) -> list[FloatArray]:
        rest = iter(part.constants)
        return [power if term == "power" else next(rest) for term in self.terms]

    def axes(self, view: View) -> list[FloatArray]:
        """Return flow indices: close together where inks are, and some beyond; in equal parts of another range."""
        if "power" not in self.terms:
            return []
        lower, upper = view.theta_lower[0, 0], view.theta_upper[0, 0]
        inside = NODES[(lower < NODES) & (upper > NODES)]
        return [inside if inside.size >= _FEWEST else lower + (upper - lower) * (np.arange(_FEWEST) + 0.5) / _FEWEST]

    def nodes(self, part: Part, mesh: FloatArray) -> Iterator[list[FloatArray]]:
        """Yield the columns at each flow index, each power from the one before it by a multiplication."""
        power = np.exp(part.log_x * mesh[0, 0]) * part.weight
        spacing, factor = np.nan, power
        for node in range(len(mesh)):
            if node:
                between = mesh[node, 0] - mesh[node - 1, 0]
                if not abs(between - spacing) < 1e-12:
                    spacing, factor = between, np.exp(part.log_x * between)
                power *= factor
            yield self._ordered(part, power)

    def basis(self, x: FloatArray, mesh: FloatArray) -> FloatArray:
        """Return the columns without weights, (G, M, q)."""
        assert self.law.basis is not None, "every law of this kind has one"
        found = self.law.basis(x, *(mesh[:, index, None] for index in range(mesh.shape[1])))
        return np.broadcast_to(found, (len(mesh), *found.shape[-2:]))

    def point(self, theta: FloatArray, values: Rows, centre: FloatArray) -> FloatArray:
        """Return the parameters at the rates themselves."""
        point = np.empty((len(self.law.names), centre.size))
        for index, term, value in zip(self.linear, self.terms, values, strict=True):
            if term == "yield":
                point[index] = value
            else:
                point[index] = value * np.exp(-centre * (theta[0] if term == "power" else 1.0))
        for index in self.nonlinear:
            point[index] = theta[0]
        return point

    def ranges(self, lower: FloatArray, upper: FloatArray, centre: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return bounds of the coordinates."""
        return self.coordinates(lower, centre), self.coordinates(upper, centre)

    def coordinates(self, point: FloatArray, centre: FloatArray) -> FloatArray:  # noqa: ARG002 - other kernels need it
        """Return the flow index, (1, B), or nothing, (0, B)."""
        return point[list(self.nonlinear)]

    def spread(self, place: FloatArray, covariance: FloatArray, open_ones: BoolArray, centre: FloatArray) -> tuple[FloatArray, BoolArray]:
        """Return variances of the parameters; that of the consistency holds the error of the flow index at rate 1."""
        variances, opened = np.empty((len(self.law.names), centre.size)), np.empty((len(self.law.names), centre.size), dtype=bool)
        count = len(self.terms)
        for column, (index, term) in enumerate(zip(self.linear, self.terms, strict=True)):
            variance, opened[index] = covariance[column, column], open_ones[column]
            if term == "plateau":
                variance = variance * np.exp(-2.0 * centre)
            elif term == "power":
                tilt = -centre * place[column]
                variance = variance + tilt * (2.0 * covariance[column, count] + tilt * covariance[count, count])
                variance *= np.exp(-2.0 * centre * place[count])
            variances[index] = variance
        for index in self.nonlinear:
            variances[index], opened[index] = covariance[count, count], open_ones[count]
        return variances, opened
