"""Where the search of every curve begins: the best node of a coarse grid, moved to the peak between nodes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import DTypeLike

from rheokit.base.curve import FloatArray
from rheokit.fitting.many_algebra import Factored, bounded, form, nonnegative_reduction, sum_into
from rheokit.fitting.many_view import IndexArray, Part, View
from rheokit.fitting.request import BoolArray

__all__ = ["start_of"]

# Rounding of the peak [parts of one]: what comes before may differ by rounding between machines, what comes after may not.
_ROUNDED = 2.0**20
# Nodes to either side of the best one that tell where between nodes the peak lies.
_SIDE = 2
# A start needs few digits, and short numbers take half the time; where they overflow, the others are taken.
_SHORT = np.float32
# Multiplications in a product of matrices below which the usual libraries stay on one thread.
_LONE = 250_000

Gains = Callable[[Part, DTypeLike], FloatArray]


def start_of(view: View) -> FloatArray:
    """Return coordinates (s, B)."""
    axes = [axis if axis.size and index in view.searched else axis[:1] for index, axis in enumerate(view.kernel.axes(view))]
    count = len(axes)
    if not view.searched:
        return view.theta_lower.copy()
    mesh = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, count)
    held = [index for index in range(count) if index not in view.searched]
    mesh[:, held] = view.theta_lower[held, 0]
    mesh = np.clip(mesh, view.theta_lower[:, 0], view.theta_upper[:, 0])
    gains_of = _shared(view, mesh) if view.shared else _own(view, mesh)
    tables = [_Axis.of(axis) for axis in axes]
    best = np.empty(view.size, dtype=np.intp)
    around = np.empty((count, 2 * _SIDE + 1, view.size))
    for part in view.parts:
        gains = gains_of(part, _SHORT)
        if not np.isfinite(gains.sum()):
            gains = gains_of(part, np.float64)
            gains = np.where(np.isfinite(gains), gains, -np.inf)
        found = gains.argmax(axis=0)
        best[part.where] = found
        _neighbours(gains, found, tables, around[:, :, part.where])
    theta = mesh[best].T.copy()
    stride = len(mesh)
    for index, table in enumerate(tables):
        stride //= table.size
        if table.size > 1:
            theta[index] += table.to_peak(around[index], (best // stride) % table.size)
    return np.clip(theta, view.theta_lower, view.theta_upper)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Axis:
    """One axis of the grid: number of nodes, spacing, and at which nodes one neighbour, and two, stand regularly to either side."""

    size: int
    spacing: float
    one: BoolArray
    two: BoolArray

    @classmethod
    def of(cls, nodes: FloatArray) -> _Axis:
        spacing = float(nodes[1] - nodes[0]) if nodes.size > 1 else 0.0
        steps = np.pad(np.abs(np.diff(nodes) - spacing) < 1e-6 * spacing, 1)
        one = steps[:-1] & steps[1:]
        beyond = np.pad(one, 1)
        return cls(size=nodes.size, spacing=spacing, one=one, two=one & beyond[:-2] & beyond[2:])

    def to_peak(self, gains: FloatArray, position: IndexArray) -> FloatArray:
        """Return how far from its node the peak between five gains (5, B) lies, along the axis.

        Where the outer ones are missing the parabola through the inner three serves, and where these are missing the node itself.
        """
        far_below, below, here, above, far_above = gains
        slope, bend = 0.5 * (above - below), above - 2.0 * here + below
        vertex = slope / np.where(bend < 0.0, -bend, np.inf)
        first = (far_below - 8.0 * below + 8.0 * above - far_above) / 12.0
        second = (16.0 * (below + above) - far_below - far_above - 30.0 * here) / 12.0
        third, fourth = 0.5 * (far_above - far_below) + below - above, far_below + far_above - 4.0 * (below + above) + 6.0 * here
        peak = vertex
        for _ in range(2):
            steep = second + peak * (third + 0.5 * peak * fourth)
            peak = peak - (first + peak * (second + peak * (0.5 * third + peak * fourth / 6.0))) / steep
        usable = self.two[position] & (np.abs(peak - vertex) < 0.5)
        found = np.where(usable, peak, np.where(self.one[position] & (np.abs(vertex) <= 1.0), vertex, 0.0))
        return np.asarray(np.round(found * _ROUNDED) * (self.spacing / _ROUNDED))


def _neighbours(gains: FloatArray, best: IndexArray, tables: list[_Axis], room: FloatArray) -> None:
    """Write the gains at the best node and two to either side of it along each axis; beyond the grid, some other number."""
    curves, stride = best.size, 1
    flat = best * curves + np.arange(curves)
    for index in reversed(range(len(tables))):
        for place in range(-_SIDE, _SIDE + 1):
            room[index, _SIDE + place] = gains.take(flat + place * stride * curves, mode="clip")
        stride *= tables[index].size


def _shared(view: View, mesh: FloatArray) -> Gains:
    """Return how the sum of squares falls at each node (G, b), on rates that all curves share: products become those of matrices."""
    basis = view.kernel.basis(view.x[:, 0], mesh)
    # All products with the same weights in one go.
    squared = [pair for pair in view.pairs if pair[1] >= 0]
    crossed = [pair for pair in view.pairs if pair[1] < 0]
    by_squares = np.concatenate([basis[:, :, i] * basis[:, :, j] for i, j in squared])
    by_stress = np.concatenate([basis[:, :, i] for i, _ in crossed])

    def gains(part: Part, kind: DTypeLike) -> FloatArray:
        weight, target = np.asarray(part.weight, dtype=kind), np.asarray(part.target, dtype=kind)
        found = _product(np.asarray(by_squares, dtype=kind), weight * weight), _product(np.asarray(by_stress, dtype=kind), weight * target)
        sums = {
            pair: rows
            for pairs, products in zip((squared, crossed), found, strict=True)
            for pair, rows in zip(pairs, products.reshape(len(pairs), len(mesh), -1), strict=True)
        }
        return _gains(view, part, sums)

    return gains


def _own(view: View, mesh: FloatArray) -> Gains:
    """Return how the sum of squares falls at each node (G, b), node by node."""

    def gains(part: Part, kind: DTypeLike) -> FloatArray:  # noqa: ARG001 - powers built up by multiplication want all their digits
        sums = {pair: np.empty((len(mesh), part.target.shape[1])) for pair in view.pairs}
        for node, columns in enumerate(view.kernel.nodes(part, mesh)):
            for (i, j), room in sums.items():
                sum_into(room[node], columns[i], part.target if j < 0 else columns[j])
        return _gains(view, part, sums)

    return gains


def _product(rows: FloatArray, columns: FloatArray) -> FloatArray:
    """Return a product of matrices in parts too small to be worth a second thread, which would wait for the first."""
    part = max(_LONE // max(rows.size, 1), 16)
    found = np.empty((len(rows), columns.shape[1]), dtype=rows.dtype)
    for begin in range(0, columns.shape[1], part):
        np.matmul(rows, columns[:, begin : begin + part], out=found[:, begin : begin + part])
    return found


def _gains(view: View, part: Part, sums: dict[tuple[int, int], FloatArray]) -> FloatArray:
    """Return by how much the best coefficients in their box lower the sum of squares, (G, B), from products (G, B)."""
    kind = next(iter(sums.values())).dtype
    known = {pair: value[part.where].astype(kind) for pair, value in view.constant_products.items()} | sums
    count = len(view.lower)
    gram = [[known[max(i, j), min(i, j)] for j in range(count)] for i in range(count)]
    right = [known[i, -1] for i in range(count)]
    if view.plain and count < 3:
        return nonnegative_reduction(gram, right)
    shape = next(iter(sums.values())).shape
    flat = [[np.broadcast_to(entry, shape).ravel() for entry in row] for row in gram]
    flat_right = [np.broadcast_to(entry, shape).ravel() for entry in right]
    ends = [[np.broadcast_to(end[part.where], shape).ravel() for end in side] for side in (view.lower, view.upper)]
    return -form(flat, flat_right, bounded(Factored(flat), flat, flat_right, *ends)).reshape(shape)
