"""Kernels of the laws with two viscosity plateaus: Cross and Carreau-Yasuda, searched in logarithms of the time constant and the bend."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import Rows
from rheokit.fitting.many_view import Part, View
from rheokit.fitting.request import BoolArray
from rheokit.law import Law

__all__ = ["CarreauYasudaKernel", "CrossKernel"]

# How far beyond the rates measured a grid reaches: the low-rate plateau is often out of sight, [logarithm] of time constant times rate.
_BELOW, _ABOVE = 1.0, 2.5
# Exponents beyond which an exponential would overflow.
_LARGEST = 700.0


@dataclass(frozen=True)
class _Plateaus:
    """What both laws share: two viscosities in front of two columns, and a time constant as the first coordinate."""

    law: Law

    @property
    def linear(self) -> tuple[int, ...]:
        """Indices of the two viscosities."""
        return (0, 1)

    @property
    def nonlinear(self) -> tuple[int, ...]:
        """Indices of the other parameters."""
        return tuple(range(2, len(self.law.names)))

    @property
    def constant(self) -> tuple[bool, ...]:
        """Both columns depend on the coordinates."""
        return (False, False)

    @property
    def scaled(self) -> tuple[bool, ...]:
        """The viscosities grow with the stress."""
        return tuple(index < 2 for index in range(len(self.law.names)))

    def constants(self, x: FloatArray, weight: FloatArray) -> tuple[FloatArray, ...]:
        """Return the weighted rates."""
        return (weight * x,)

    def _times(self, view: View, count: int) -> FloatArray:
        """Return logarithms of time constants over the rates measured and somewhat beyond."""
        low, high = float(view.log_x.min()), float(view.log_x.max())
        return np.linspace(-high - _BELOW, -low + _ABOVE, count)

    def basis(self, x: FloatArray, mesh: FloatArray) -> FloatArray:
        """Return the columns without weights, (G, M, 2)."""
        assert self.law.basis is not None, "every law of this kind has one"
        parameters = self._parameters(mesh.T)
        return self.law.basis(x, *(row[:, None] for row in parameters))

    def _parameters(self, theta: FloatArray) -> list[FloatArray]:
        """Return the non-linear parameters of coordinates (s, …)."""
        raise NotImplementedError

    def point(self, theta: FloatArray, values: Rows, centre: FloatArray) -> FloatArray:
        """Return the parameters at the rates themselves."""
        shift = np.exp(-centre)
        nonlinear = self._parameters(theta)
        return np.stack([values[0] * shift, values[1] * shift, nonlinear[0] * shift, *nonlinear[1:]])

    def spread(self, place: FloatArray, covariance: FloatArray, open_ones: BoolArray, centre: FloatArray) -> tuple[FloatArray, BoolArray]:
        """Return variances of the parameters."""
        point = self.point(place[2:], [*place[:2]], centre)
        scales = [np.exp(-centre)] * 2 + [point[index] for index in range(2, len(place) - 1)] + [np.ones(centre.size)]
        return np.stack([covariance[index, index] * scale**2 for index, scale in enumerate(scales)]), open_ones


@dataclass(frozen=True)
class CrossKernel(_Plateaus):
    """Cross: coordinates are the logarithm of the time constant and the rate index."""

    @property
    def owners(self) -> tuple[int, ...]:
        """One slope for each coordinate."""
        return (0, 1)

    def evaluate(self, part: Part, theta: FloatArray) -> tuple[list[FloatArray], list[FloatArray]]:
        """Return the weighted columns, and the derivatives by the coordinates but for their factors."""
        log_rate = part.log_x + theta[0]
        unbroken, share, broken = _shares(log_rate, theta[1], part.constants[0])
        share *= unbroken
        log_rate *= share
        return [unbroken, broken], [share, log_rate]

    def factors(self, theta: FloatArray, values: Rows) -> list[FloatArray]:
        """Return what the slopes are multiplied by."""
        fall = values[1] - values[0]
        return [fall * theta[1], fall]

    def axes(self, view: View) -> list[FloatArray]:
        """Return a grid, denser where all curves share their rates and a node costs little."""
        return [self._times(view, 13 if view.shared else 7), np.linspace(0.15, 0.95, 5 if view.shared else 3)]

    def nodes(self, part: Part, mesh: FloatArray) -> Iterator[list[FloatArray]]:
        """Yield the columns at each node."""
        for node in mesh:
            unbroken, _, broken = _shares(part.log_x + node[0], node[1], part.constants[0])
            yield [unbroken, broken]

    def _parameters(self, theta: FloatArray) -> list[FloatArray]:
        return [np.exp(theta[0]), theta[1]]

    def ranges(self, lower: FloatArray, upper: FloatArray, centre: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return bounds of the coordinates."""
        return self.coordinates(lower, centre), self.coordinates(upper, centre)

    def coordinates(self, point: FloatArray, centre: FloatArray) -> FloatArray:
        """Return the coordinates of parameters."""
        return np.stack([np.log(point[2]) + centre, point[3]])


def _shares(log_rate: FloatArray, index: FloatArray, rate: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return rate over 1 + (time · rate)^index, the share that is broken, and that share of the rate."""
    unbroken = log_rate * -index
    np.minimum(unbroken, _LARGEST, out=unbroken)
    np.exp(unbroken, out=unbroken)
    share = unbroken + 1.0
    np.divide(1.0, share, out=share)
    broken = share * rate
    unbroken *= broken
    return unbroken, share, broken


@dataclass(frozen=True)
class CarreauYasudaKernel(_Plateaus):
    """Carreau-Yasuda: coordinates are the logarithms of time constant and transition index, and the flow index."""

    @property
    def owners(self) -> tuple[int, ...]:
        """One slope for each coordinate."""
        return (0, 1, 2)

    def evaluate(self, part: Part, theta: FloatArray) -> tuple[list[FloatArray], list[FloatArray]]:
        """Return the weighted columns, and the derivatives by the coordinates but for their factors."""
        exponent = part.log_x + theta[0]
        bend_index = np.exp(theta[1])
        exponent *= bend_index
        small, softplus = _bend(exponent)
        unbroken = softplus * ((theta[2] - 1.0) / bend_index)
        np.exp(unbroken, out=unbroken)
        unbroken *= part.constants[0]
        by_time = _logistic(exponent, small)
        exponent *= by_time
        exponent -= softplus
        exponent *= unbroken
        by_time *= unbroken
        softplus *= unbroken
        return [unbroken, part.constants[0] - unbroken], [by_time, exponent, softplus]

    def factors(self, theta: FloatArray, values: Rows) -> list[FloatArray]:
        """Return what the slopes are multiplied by."""
        fall, bend_index = values[0] - values[1], np.exp(theta[1])
        by_time = fall * (theta[2] - 1.0)
        return [by_time, by_time / bend_index, fall / bend_index]

    def axes(self, view: View) -> list[FloatArray]:
        """Return a grid, denser where all curves share their rates and a node costs little."""
        if view.shared:
            return [self._times(view, 11), np.log([0.5, 1.4, 4.0]), np.array([0.05, 0.3, 0.55, 0.8])]
        return [self._times(view, 7), np.log([0.7, 2.5]), np.array([0.1, 0.4, 0.7])]

    def nodes(self, part: Part, mesh: FloatArray) -> Iterator[list[FloatArray]]:
        """Yield the columns at each node; the bend is worked out once for all flow indices at a time constant and a transition index."""
        before = np.full(2, np.nan)
        softplus = part.log_x
        for node in mesh:
            if (node[:2] != before).any():
                before = node[:2]
                softplus = _bend((part.log_x + node[0]) * np.exp(node[1]))[1]
            unbroken = np.exp(softplus * ((node[2] - 1.0) / np.exp(node[1])))
            unbroken *= part.constants[0]
            yield [unbroken, part.constants[0] - unbroken]

    def _parameters(self, theta: FloatArray) -> list[FloatArray]:
        return [np.exp(theta[0]), np.exp(theta[1]), theta[2]]

    def ranges(self, lower: FloatArray, upper: FloatArray, centre: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return bounds of the coordinates."""
        return self.coordinates(lower, centre), self.coordinates(upper, centre)

    def coordinates(self, point: FloatArray, centre: FloatArray) -> FloatArray:
        """Return the coordinates of parameters."""
        return np.stack([np.log(point[2]) + centre, np.log(point[3]), point[4]])


def _bend(exponent: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return exp(-|e|) and log(1 + exp(e)), which does not overflow."""
    small = np.abs(exponent)
    np.negative(small, out=small)
    np.exp(small, out=small)
    softplus = np.log1p(small)
    softplus += np.maximum(exponent, 0.0)
    return small, softplus


def _logistic(exponent: FloatArray, small: FloatArray) -> FloatArray:
    """Return 1 / (1 + exp(-e)) from exp(-|e|)."""
    return np.asarray(np.where(exponent >= 0.0, 1.0, small) / (1.0 + small))
