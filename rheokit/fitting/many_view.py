"""View: the curves of a chunk as the search sees them, weighted, with rates about 1 and stresses of at most 1; arrays (M, B)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import Rows, dot
from rheokit.fitting.request import BoolArray
from rheokit.law import Law

__all__ = ["IndexArray", "Kernel", "Part", "View", "part_width"]

IndexArray = NDArray[np.intp]

# Numbers in one array of a part.
_PART = 40_000


def part_width(points: int, curves: int) -> int:
    """Return how many curves of so many points make a part, when they are divided evenly."""
    parts = max(round(points * curves / _PART), 1)
    return max(-(-curves // parts), 1)


class Kernel(Protocol):
    """A law written for many curves: points along the first axis, curves along the last.

    `linear` and `nonlinear` are indices of parameters; the coordinates searched are the non-linear parameters, or their logarithms.
    """

    @property
    def law(self) -> Law:
        """The law that is fitted."""

    @property
    def linear(self) -> tuple[int, ...]:
        """Index of the parameter that goes with each column."""

    @property
    def nonlinear(self) -> tuple[int, ...]:
        """Index of the parameter that goes with each coordinate."""

    @property
    def constant(self) -> tuple[bool, ...]:
        """Which columns do not depend on the coordinates; they come first among the view's constants, in order."""

    @property
    def scaled(self) -> tuple[bool, ...]:
        """Which parameters grow with the stress."""

    def constants(self, x: FloatArray, weight: FloatArray) -> tuple[FloatArray, ...]:
        """Return weighted arrays (M, B) that stay as they are during a search."""

    @property
    def owners(self) -> tuple[int, ...]:
        """The coordinate to which each slope belongs."""

    def evaluate(self, part: Part, theta: FloatArray) -> tuple[list[FloatArray], list[FloatArray]]:
        """Return the weighted columns (M, B) at coordinates (s, B), and slopes (M, B): derivatives of them by the coordinates."""

    def factors(self, theta: FloatArray, values: Rows) -> list[FloatArray]:
        """Return by what each slope is multiplied to give the derivative of the curve by its coordinate, (B,)."""

    def axes(self, view: View) -> list[FloatArray]:
        """Return coordinates along each axis of the grid from which a search starts."""

    def nodes(self, part: Part, mesh: FloatArray) -> Iterator[list[FloatArray]]:
        """Yield the weighted columns at each node of a grid (G, s)."""

    def basis(self, x: FloatArray, mesh: FloatArray) -> FloatArray:
        """Return the columns without weights at rates (M,) that all curves share, (G, M, q)."""

    def point(self, theta: FloatArray, values: Rows, centre: FloatArray) -> FloatArray:
        """Return the parameters (p, B) at the rates themselves, `centre` (B,) being the logarithm by which they were shifted."""

    def ranges(self, lower: FloatArray, upper: FloatArray, centre: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return bounds of the coordinates, (s, B) each, from those of the parameters, (p, B) each."""

    def coordinates(self, point: FloatArray, centre: FloatArray) -> FloatArray:
        """Return the coordinates (s, B) of parameters (p, B)."""

    def spread(self, place: FloatArray, covariance: FloatArray, open_ones: BoolArray, centre: FloatArray) -> tuple[FloatArray, BoolArray]:
        """Return variances of the parameters and whether each is open, (p, B), from those of coefficients and coordinates."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Part:
    """Some curves of a view, few enough for their arrays to stay in the cache of a core while they are worked on."""

    where: slice
    x: FloatArray
    log_x: FloatArray
    weight: FloatArray
    target: FloatArray
    constants: tuple[FloatArray, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class View:
    """What a search works on.

    Attributes
    ----------
    x, log_x
        Rates over their geometric mean, (M, B), or (M, 1) where all curves share them.
    weight, target
        Inverse deviations, 0 where a point is missing, and weighted stresses, (M, B).
    constants
        The kernel's weighted arrays, (M, B) each.
    lower, upper
        Bounds of the coefficients, q arrays (B,) each.
    theta_lower, theta_upper
        Bounds of the coordinates, (s, B).
    floor
        Where the deviations follow the fit, what they do not fall below, (B,); the weights are then 1 or 0. Else None.
    """

    kernel: Kernel
    x: FloatArray
    log_x: FloatArray
    weight: FloatArray
    target: FloatArray
    constants: tuple[FloatArray, ...]
    lower: tuple[FloatArray, ...]
    upper: tuple[FloatArray, ...]
    theta_lower: FloatArray
    theta_upper: FloatArray
    floor: FloatArray | None = None

    @property
    def size(self) -> int:
        """Number of curves."""
        return int(self.target.shape[1])

    @property
    def shared(self) -> bool:
        """Whether all curves have the same rates."""
        return bool(self.x.shape[1] == 1)

    @cached_property
    def plain(self) -> bool:
        """Whether the coefficients have no bound but zero."""
        return all(bool((low == 0.0).all() and np.isinf(high).all()) for low, high in zip(self.lower, self.upper, strict=True))

    @cached_property
    def parts(self) -> list[Part]:
        """The view in parts."""
        width = part_width(len(self.target), self.size)
        return [self._part(slice(begin, min(begin + width, self.size))) for begin in range(0, self.size, width)]

    def _part(self, where: slice) -> Part:
        return Part(
            where=where,
            x=self.x if self.shared else self.x[:, where],
            log_x=self.log_x if self.shared else self.log_x[:, where],
            weight=self.weight[:, where],
            target=self.target[:, where],
            constants=tuple(array[:, where] for array in self.constants),
        )

    @cached_property
    def total(self) -> FloatArray:
        """Sum of squares of the weighted stresses, (B,)."""
        return dot(self.target, self.target)

    @cached_property
    def searched(self) -> tuple[int, ...]:
        """Coordinates that are not held."""
        return tuple(np.flatnonzero((self.theta_lower < self.theta_upper).any(axis=1)).tolist())

    @cached_property
    def free_columns(self) -> tuple[int, ...]:
        """Columns whose coefficient is not held."""
        return tuple(index for index, (low, high) in enumerate(zip(self.lower, self.upper, strict=True)) if (low < high).any())

    @cached_property
    def constant_products(self) -> dict[tuple[int, int], FloatArray]:
        """Products (B,) of each pair of constant columns, and of each with the stresses under the second index -1."""
        fixed = [index for index, constant in enumerate(self.kernel.constant) if constant]
        held = dict(zip(fixed, self.constants, strict=False))
        products = {(i, j): dot(held[i], held[j]) for i in fixed for j in fixed if j <= i}
        return products | {(i, -1): dot(held[i], self.target) for i in fixed}

    def gram(self, sums: Mapping[tuple[int, int], FloatArray]) -> tuple[list[list[FloatArray]], list[FloatArray]]:
        """Return products of columns with one another, (q, q) arrays (B,), and with the stresses, q arrays, those known among them."""
        known = {**self.constant_products, **sums}
        count = len(self.kernel.constant)
        return [[known[max(i, j), min(i, j)] for j in range(count)] for i in range(count)], [known[i, -1] for i in range(count)]

    @cached_property
    def pairs(self) -> list[tuple[int, int]]:
        """The products that depend on the coordinates: columns by columns (i, j) and by stresses (i, -1)."""
        constant = self.kernel.constant
        moving = [(i, j) for i in range(len(constant)) for j in range(i + 1) if not (constant[i] and constant[j])]
        return moving + [(i, -1) for i in range(len(constant)) if not constant[i]]

    def take(self, kept: IndexArray) -> View:
        """Return the curves at some positions."""
        x, weight = self.x if self.shared else self.x[:, kept], self.weight[:, kept]
        found = replace(
            self,
            x=x,
            log_x=self.log_x if self.shared else self.log_x[:, kept],
            weight=weight,
            target=self.target[:, kept],
            constants=self.kernel.constants(x, weight),
            lower=tuple(array[kept] for array in self.lower),
            upper=tuple(array[kept] for array in self.upper),
            theta_lower=self.theta_lower[:, kept],
            theta_upper=self.theta_upper[:, kept],
            floor=None if self.floor is None else self.floor[kept],
        )
        # What was worked out is carried over instead of being worked out again.
        found.__dict__["total"] = self.total[kept]
        found.__dict__["plain"] = self.plain
        found.__dict__["searched"] = self.searched
        found.__dict__["constant_products"] = {key: value[kept] for key, value in self.constant_products.items()}
        return found
