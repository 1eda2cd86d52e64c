"""Points: the curves of one chunk, points along the first axis and curves along the last, checked and brought to stresses of about 1."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.fitting.many_algebra import dot
from rheokit.fitting.many_view import IndexArray
from rheokit.fitting.request import BoolArray

__all__ = ["Points", "points_of"]

# Sizes whose products of a few lie far from the ends of what a short number can hold.
_PLAIN = 1e-6, 1e6
# Curves that are turned at a time.
_BLOCK = 250


@dataclass(frozen=True, kw_only=True, eq=False)
class Points:
    """Curves of one chunk.

    Attributes
    ----------
    x, log_x
        Rates and their logarithms, (M, B), or (M, 1) where all curves share them; 1 and 0 where a point is missing.
    y
        Stresses over `y_scale`, (M, B), 0 where missing.
    used
        Which points are used, (M, B); None when all are.
    count
        How many, (B,).
    weight
        Inverse deviations over `weight_scale`, (M, B), 0 where missing; None where they follow the fit.
    target, size
        Weighted stresses (M, B) and their sums of squares (B,), where the weights do not follow the fit.
    y_scale, weight_scale
        (B,), powers of four, so that neither they nor their roots change a digit.
    """

    x: FloatArray
    log_x: FloatArray
    y: FloatArray
    used: BoolArray | None
    count: IndexArray
    weight: FloatArray | None
    target: FloatArray | None
    size: FloatArray
    y_scale: FloatArray
    weight_scale: FloatArray

    @property
    def shared(self) -> bool:
        """Whether all curves have the same rates."""
        return bool(self.x.shape[1] == 1)

    def part(self, where: slice) -> Points:
        """Return curves in a row, without copying."""
        return self._cut(where)

    def masked(self, weight: FloatArray) -> FloatArray:
        """Return weights with 0 where a point is missing."""
        return weight if self.used is None else np.where(self.used, weight, 0.0)

    def take(self, kept: IndexArray) -> Points:
        """Return the curves at some positions."""
        return self._cut(kept)

    def _cut(self, kept: IndexArray | slice) -> Points:
        return replace(
            self,
            x=self.x if self.shared else self.x[:, kept],
            log_x=self.log_x if self.shared else self.log_x[:, kept],
            y=self.y[:, kept],
            used=None if self.used is None else self.used[:, kept],
            count=self.count[kept],
            weight=None if self.weight is None else self.weight[:, kept],
            target=None if self.target is None else self.target[:, kept],
            size=self.size[kept],
            y_scale=self.y_scale[kept],
            weight_scale=self.weight_scale[kept],
        )


def points_of(rates: FloatArray, stresses: FloatArray, deviations: FloatArray | None, *, first: int, follows: bool) -> Points:
    """Return the points of a chunk.

    Parameters
    ----------
    rates
        (M,) for all curves, or (B, M).
    stresses
        (B, M).
    deviations
        (M,) for all curves, or (B, M); None for equal ones, or ones that follow the fit.
    first
        Number of the first curve, for messages.
    follows
        Whether the deviations follow the fit.

    Raises
    ------
    FitError
        When a point that is used has no positive deviation.
    """
    y = _turned(stresses)
    one = rates.ndim == 1 or _are_shared(rates)
    x = (rates if rates.ndim == 1 else rates[0])[:, None] if one else _turned(rates)
    there = np.isfinite(x) & (x > 0.0)
    if one and not there.all():
        x, y = x[there[:, 0]], y[there[:, 0]]
        deviations = None if deviations is None else deviations[..., there[:, 0]]
        there = there[there[:, 0]]
    used, largest = None, np.maximum(y.max(axis=0, initial=0.0), -y.min(axis=0, initial=0.0))
    if not (there.all() and np.isfinite(largest).all()):  # a missing number shows in the largest
        used = np.isfinite(y) & there
        y = np.where(used, y, 0.0)
        x = x if one else np.where(used, x, 1.0)
        largest = np.abs(y).max(axis=0, initial=0.0)
    count = np.full(y.shape[1], len(y)) if used is None else used.sum(axis=0)
    y_scale = _power_of_four(largest)
    if (y_scale != 1.0).any():
        y /= y_scale
    if follows:  # relative deviations do not change with the unit of the stress
        weight, weight_scale = None, 1.0 / y_scale
    else:
        weight, weight_scale = _weights(y, used, deviations, first=first)
    target = None if weight is None else y * weight
    return Points(
        x=x,
        log_x=np.log(x),
        y=y,
        used=used,
        count=count,
        weight=weight,
        target=target,
        size=np.zeros(len(count)) if target is None else dot(target, target),
        y_scale=y_scale,
        weight_scale=weight_scale,
    )


def _turned(curves: FloatArray) -> FloatArray:
    """Return a copy with points along the first axis, (M, B) from (B, M), made in blocks that stay in the nearest cache."""
    found = np.empty(curves.shape[::-1])
    for begin in range(0, len(curves), _BLOCK):
        found[:, begin : begin + _BLOCK] = curves[begin : begin + _BLOCK].T
    return found


def _are_shared(rates: FloatArray) -> bool:
    """Tell whether all rows (B, M) are the same, numbers missing in the same places included."""
    same = rates == rates[0]
    return bool(same.all()) or bool((same | (np.isnan(rates) & np.isnan(rates[0]))).all())


def _weights(y: FloatArray, used: BoolArray | None, deviations: FloatArray | None, *, first: int) -> tuple[FloatArray, FloatArray]:
    """Return weights of at most about 1 and what they were divided by."""
    one = np.ones(y.shape[1])
    if deviations is None:
        return (np.ones(y.shape) if used is None else used.astype(np.float64)), one
    given = np.array(np.broadcast_to(deviations[:, None], y.shape)) if deviations.ndim == 1 else _turned(deviations)
    np.divide(1.0, given, out=given)
    if used is not None:
        given = np.where(used, given, 1.0)
    largest = given.max(axis=0, initial=0.0)
    if not (np.isfinite(largest).all() and given.min(initial=1.0) > 0.0):
        wrong = ~(np.isfinite(given) & (given > 0.0)).all(axis=0)
        curve = first + int(np.flatnonzero(wrong)[0])
        raise FitError(f"weighting: curve {curve} has a standard deviation that is not a positive number; leave the point out instead")
    scale = _power_of_four(largest)
    if (scale != 1.0).any():
        given /= scale
    return (given if used is None else np.where(used, given, 0.0)), scale


def _power_of_four(size: FloatArray) -> FloatArray:
    """Return a power of four at or above a size, 1 for zero, and for all where none is so large or small that products could overflow.

    Its root is a power of two.
    """
    if ((size > _PLAIN[0]) & (size < _PLAIN[1])).all():
        return np.ones(size.shape)
    return np.where(size > 0.0, np.ldexp(1.0, 2 * ((np.frexp(size)[1] + 1) // 2)), 1.0)
