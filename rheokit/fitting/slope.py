"""Slope: a least-squares problem linearised at one point, which parameters may move there and the steps it proposes."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from rheokit.base.curve import FloatArray

__all__ = ["LEAST_DAMPING", "ROUNDING", "STATIONARY", "UNSEEN", "Slope", "Values"]

ROUNDING = float(np.finfo(np.float64).eps)
UNSEEN = 1e-7
"""Relative size of a singular value of the derivatives, scaled to unit columns, below which the data do not see a direction.

A scatter of one in a thousand would leave an error there of ten thousand times the value.
"""
LEAST_DAMPING = UNSEEN**2
"""Damping that only keeps two parameters with the same effect from dividing by zero."""
STATIONARY = 1e-11
"""Offset at which a point counts as stationary.

The best fit is then no farther away than this part of a standard error times the root of the degrees of freedom, in any direction:
far below any digit that is printed. Source: the relative offset of Bates & Watts, Technometrics 23 (1981) 179 (from memory).
"""

Values = tuple[FloatArray, FloatArray, float]
"""Weighted residuals (N,), their derivatives (N, p) and what is minimised."""


class Slope:
    """The linearised problem at one point: which parameters may move, and the steps it proposes.

    `cost` is what is minimised and `squares` the sum of squares of the weighted residuals; they are one and the same unless the
    weights follow the fit.
    """

    def __init__(self, point: FloatArray, values: Values, lower: FloatArray, upper: FloatArray) -> None:
        self.point, self.lower, self.upper = point, lower, upper
        self.residual, self.jacobian, self.cost = residual, jacobian, _ = values
        self.squares = float(residual @ residual)
        gradient = residual @ jacobian
        self.norms = np.sqrt(np.einsum("np,np->p", jacobian, jacobian))
        held = (self.norms == 0.0) | ((point <= lower) & (gradient >= 0.0)) | ((point >= upper) & (gradient <= 0.0))
        self.free = np.flatnonzero(~held)
        steepest = np.abs(gradient[self.free]) / self.norms[self.free]
        self.cosine = float(steepest.max()) / self.squares**0.5 if self.free.size and self.squares > 0.0 else 0.0

    @cached_property
    def offset(self) -> float:
        """Cosine of the angle between the residuals and the plane of the derivatives, 0 at a stationary point.

        Directions that the data do not see are left out: there is nothing to arrive at.
        """
        if not self.free.size or self.squares == 0.0:
            return 0.0
        directions, sizes, _ = np.linalg.svd(self.jacobian[:, self.free] / self.norms[self.free], full_matrices=False)
        along = self.residual @ directions[:, sizes > UNSEEN * sizes[0]]
        return float(np.sqrt(along @ along / self.squares))

    def is_flat(self, size: float, stationary: float = STATIONARY) -> bool:
        """Tell whether the point is stationary: to an offset, or to rounding in the residuals of data with sum of squares `size`."""
        enough = max(stationary, 8.0 * ROUNDING * (size / self.squares) ** 0.5) if self.squares > 0.0 else 1.0
        # The steepest single derivative lies in the plane, so its cosine settles most points without a decomposition.
        return self.cosine <= enough and self.offset <= enough

    def step(self, damping: float) -> tuple[FloatArray, float]:
        """Return the damped step inside the box and the fall of the sum of squares that it promises.

        Parameters that would leave the box are put at their bound and the others are solved for again.
        """
        step = np.zeros(self.point.size)
        free, left = self.free, self.residual
        while free.size:
            move = _damped(self.jacobian[:, free], left, self.norms[free], damping)
            target = self.point[free] + move
            out = (target < self.lower[free]) | (target > self.upper[free])
            if not out.any():
                step[free] = move
                break
            bound = free[out]
            step[bound] = np.clip(target[out], self.lower[bound], self.upper[bound]) - self.point[bound]
            left = left + self.jacobian[:, bound] @ step[bound]
            free = free[~out]
        after = self.residual + self.jacobian @ step
        return step, self.squares - float(after @ after)


def _damped(jacobian: FloatArray, residual: FloatArray, norms: FloatArray, damping: float) -> FloatArray:
    """Return the step that minimises |residual + jacobian step|² + damping |norms step|², by orthogonal decomposition."""
    rows, count = len(residual), len(norms)
    stacked = np.zeros((rows + count, count + 1))
    stacked[:rows, :count] = jacobian / norms
    stacked[:rows, count] = residual
    stacked.reshape(-1)[rows * (count + 1) :: count + 2] = damping**0.5
    triangle = np.asarray(np.linalg.qr(stacked, mode="r"), dtype=np.float64)
    solved = np.asarray(np.linalg.solve(triangle[:count, :count], triangle[:count, count]), dtype=np.float64)
    return -solved / norms
