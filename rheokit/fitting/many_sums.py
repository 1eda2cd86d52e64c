"""Products over the points of many curves at one place: derivatives with one another and with the residuals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import inner, sum_into
from rheokit.fitting.many_view import IndexArray, Part, View
from rheokit.fitting.request import BoolArray

__all__ = ["Sums", "stacked", "sums_of"]

# Share of the residuals in the sum of squares of the stresses above which what is left of the latter has digits to spare: a ten-millionth
# of their rounding times the condition below stays under the offsets above.
_NOISY = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class Sums:
    """Products over the points of each curve.

    Attributes
    ----------
    free
        Which coefficients and coordinates are free.
    gram, slope
        Their derivatives with one another, lower triangle, and with the residuals.
    squares, size
        Weighted residuals and weighted stresses with themselves.
    """

    free: IndexArray
    gram: list[list[FloatArray]]
    slope: list[FloatArray]
    squares: FloatArray
    size: FloatArray

    @property
    def diagonal(self) -> list[FloatArray]:
        """Squared lengths of the derivatives."""
        return [row[-1] for row in self.gram]


def _columns(view: View, part: Part, place: FloatArray) -> tuple[list[FloatArray], FloatArray, FloatArray]:
    """Return weighted derivatives but for the factors of the slopes, weighted residuals and weighted stresses, (M, B) each."""
    count = len(view.lower)
    columns, slopes = view.kernel.evaluate(part, place[count:])
    residual = part.target - columns[0] * place[0]
    for column, value in zip(columns[1:], place[1:count], strict=True):
        residual -= column * value
    together = [*columns, *slopes]
    if view.floor is None:
        return together, residual, part.target
    weight = 1.0 / np.hypot(part.target - residual, view.floor[part.where])
    return (
        [column * weight for column in together],
        residual * weight,
        part.target * weight,
    )


def sums_of(view: View, place: FloatArray) -> Sums:
    """Return the products, worked out in parts that stay in the cache."""
    if view.floor is None:
        quick = _by_products(view, place)
        if (quick.squares > _NOISY * quick.size).all():
            return quick
    return _by_residuals(view, place)


def _free(view: View) -> IndexArray:
    """Return which coefficients and coordinates are free."""
    return np.array([*view.free_columns, *(len(view.lower) + index for index in view.searched)], dtype=np.intp)


def _factors(view: View, place: FloatArray) -> list[FloatArray | None]:
    """Return by what each column and slope is multiplied to give a derivative; None for 1."""
    count = len(view.lower)
    return [None] * count + list(view.kernel.factors(place[count:], place[:count]))


def _by_products(view: View, place: FloatArray) -> Sums:
    """Return the products with the residuals as what is left of those with the stresses: enough digits where there is scatter."""
    count, curves, free, factors = len(view.lower), view.size, _free(view), _factors(view, place)
    known = view.constant_products
    rows = sorted({*range(count), *free.tolist()})
    pairs = [(i, j) for i in rows for j in (-1, *rows) if j <= i and (i, j) not in known]
    room = np.empty((len(pairs), curves))
    for part in view.parts:
        columns, slopes = view.kernel.evaluate(part, place[count:, part.where])
        together = [*columns, *slopes, part.target]
        for row, (i, j) in enumerate(pairs):
            sum_into(room[row, part.where], together[i], together[j])
    found = known | dict(zip(pairs, room, strict=True))
    whole = [[found[max(i, j), min(i, j)] for j in range(count)] for i in rows]
    left = [found[i, -1] - inner(whole[row], place[:count]) for row, i in enumerate(rows)]
    squares = view.total - inner([found[i, -1] + left[i] for i in range(count)], place[:count])
    slope = [_times(left[rows.index(i)], factors[i]) for i in free.tolist()]
    gram = [[_times(_times(found[i, j], factors[i]), factors[j]) for j in free.tolist() if j <= i] for i in free.tolist()]
    return Sums(free=free, gram=gram, slope=slope, squares=squares, size=view.total)


def _by_residuals(view: View, place: FloatArray) -> Sums:
    """Return the products with the residuals themselves."""
    curves, free, factors = view.size, _free(view), _factors(view, place)
    pairs = [(i, j) for i in free.tolist() for j in free.tolist() if j <= i]
    room = np.empty((len(pairs) + free.size + 2, curves))
    for part in view.parts:
        columns, residual, target = _columns(view, part, place[:, part.where])
        for row, (i, j) in enumerate(pairs):
            sum_into(room[row, part.where], columns[i], columns[j])
        for row, i in enumerate(free, start=len(pairs)):
            sum_into(room[row, part.where], columns[i], residual)
        sum_into(room[-2, part.where], residual, residual)
        sum_into(room[-1, part.where], target, target)
    found = dict(zip(pairs, room, strict=False))
    slope = [_times(room[len(pairs) + row], factors[i]) for row, i in enumerate(free)]
    gram = [[_times(_times(found[i, j], factors[i]), factors[j]) for j in free.tolist() if j <= i] for i in free.tolist()]
    return Sums(free=free, gram=gram, slope=slope, squares=room[-2], size=room[-1])


def _times(value: FloatArray, factor: FloatArray | None) -> FloatArray:
    return value if factor is None else value * factor


def stacked(view: View, place: FloatArray, free: IndexArray, aside: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Return weighted derivatives (B, M, f), 0 for those that stand aside, and weighted residuals (M, B)."""
    factors = _factors(view, place)
    whole_columns = np.empty((view.size, len(view.target), free.size))
    residuals = np.empty(view.target.shape)
    for part in view.parts:
        columns, residual, _ = _columns(view, part, place[:, part.where])
        for row, i in enumerate(free):
            factor = factors[i]
            whole = columns[i] if factor is None else columns[i] * factor[part.where]
            whole_columns[part.where, :, row] = np.where(aside[row, part.where], 0.0, whole).T
        residuals[:, part.where] = residual
    return whole_columns, residuals
