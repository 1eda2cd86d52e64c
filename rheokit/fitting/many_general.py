"""The kernels of all other laws: Casson by an angle, and any law with a basis through its own functions; which law gets which."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import Rows
from rheokit.fitting.many_plan import Plan
from rheokit.fitting.many_power import SUMS, SumKernel
from rheokit.fitting.many_transition import CarreauYasudaKernel, CrossKernel
from rheokit.fitting.many_view import Kernel, Part, View
from rheokit.fitting.request import BoolArray
from rheokit.law import Law
from rheokit.models import MODELS

__all__ = ["kernel_of"]


@dataclass(frozen=True)
class CassonKernel:
    """Casson: (cos φ + sin φ √rate)² is the one column, the angle φ the one coordinate, and both ends of its range are laws."""

    law: Law

    @property
    def linear(self) -> tuple[int, ...]:
        """The size goes with both parameters; the first stands for it."""
        return (0,)

    @property
    def nonlinear(self) -> tuple[int, ...]:
        """The angle stands for the second parameter."""
        return (1,)

    @property
    def constant(self) -> tuple[bool, ...]:
        """The column depends on the angle."""
        return (False,)

    @property
    def scaled(self) -> tuple[bool, ...]:
        """Both parameters grow with the stress."""
        return (True, True)

    def constants(self, x: FloatArray, weight: FloatArray) -> tuple[FloatArray, ...]:  # noqa: ARG002 - other kernels need it
        """Return the roots of the weights."""
        return (np.sqrt(weight),)

    @property
    def owners(self) -> tuple[int, ...]:
        """The one slope belongs to the angle."""
        return (0,)

    def evaluate(self, part: Part, theta: FloatArray) -> tuple[list[FloatArray], list[FloatArray]]:
        """Return the weighted column and its derivative by the angle."""
        root = np.sqrt(part.x)
        sum_of_roots = (np.cos(theta[0]) + np.sin(theta[0]) * root) * part.constants[0]
        turned = (np.cos(theta[0]) * root - np.sin(theta[0])) * part.constants[0]
        return [sum_of_roots * sum_of_roots], [2.0 * sum_of_roots * turned]

    def factors(self, theta: FloatArray, values: Rows) -> list[FloatArray]:  # noqa: ARG002 - other kernels need it
        """Return the size."""
        return [values[0]]

    def axes(self, view: View) -> list[FloatArray]:  # noqa: ARG002 - other kernels need it
        """Return angles, both ends among them."""
        return [np.linspace(0.0, 0.5 * np.pi, 15)]

    def nodes(self, part: Part, mesh: FloatArray) -> Iterator[list[FloatArray]]:
        """Yield the column at each angle."""
        for node in mesh:
            yield self.evaluate(part, node)[0]

    def basis(self, x: FloatArray, mesh: FloatArray) -> FloatArray:
        """Return the column without weights, (G, M, 1)."""
        angle = mesh[:, :1]
        return np.asarray((np.cos(angle) + np.sin(angle) * np.sqrt(x)) ** 2)[:, :, None]

    def point(self, theta: FloatArray, values: Rows, centre: FloatArray) -> FloatArray:
        """Return yield stress and viscosity."""
        return np.stack([values[0] * _end(np.cos(theta[0])) ** 2, values[0] * _end(np.sin(theta[0])) ** 2 * np.exp(-centre)])

    def ranges(self, lower: FloatArray, upper: FloatArray, centre: FloatArray) -> tuple[FloatArray, FloatArray]:  # noqa: ARG002 - other kernels need it
        """Return the angles of no viscosity and of no yield stress."""
        return np.zeros((1, lower.shape[1])), np.full((1, upper.shape[1]), 0.5 * np.pi)

    def coordinates(self, point: FloatArray, centre: FloatArray) -> FloatArray:
        """Return the angle."""
        return np.asarray(np.arctan2(np.sqrt(point[1] * np.exp(centre)), np.sqrt(point[0])))[None]

    def spread(self, place: FloatArray, covariance: FloatArray, open_ones: BoolArray, centre: FloatArray) -> tuple[FloatArray, BoolArray]:
        """Return variances of yield stress and viscosity; one that is 0 is open, and the other is not for it."""
        size, angle = place
        cosine, sine, both = np.cos(angle), np.sin(angle), np.sin(2.0 * angle) * size
        (first, crossed), (_, second) = covariance
        by_yield = cosine**4 * first - 2.0 * cosine**2 * both * crossed + both**2 * second
        by_viscosity = (sine**4 * first + 2.0 * sine**2 * both * crossed + both**2 * second) * np.exp(-2.0 * centre)
        none = self.point(place[1:], [size], centre) == 0.0
        hidden = open_ones[0] | (open_ones[1] & ~none.any(axis=0))
        return np.stack([by_yield, by_viscosity]), none | hidden


def _end(value: FloatArray) -> FloatArray:
    """Return 0 for the cosine of a right angle, which rounding leaves at 6e-17."""
    return np.where(value < 1e-15, 0.0, value)


def kernel_of(plan: Plan) -> Kernel | None:
    """Return the kernel of a law, or None where each curve takes the way of a single curve."""
    law = plan.law
    if MODELS.get(law.name) != law:
        return None
    if law.name in SUMS:
        return SumKernel(law, SUMS[law.name])
    if law.name == "cross":
        return CrossKernel(law)
    if law.name == "carreau_yasuda":
        return CarreauYasudaKernel(law)
    plain = bool(plan.free.all() and (plan.lower == 0.0).all() and np.isinf(plan.upper).all())
    return CassonKernel(law) if law.name == "casson" and plain else None
