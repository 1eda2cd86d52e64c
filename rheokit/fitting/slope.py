"""Slope: a least-squares problem linearised at one point, which parameters may move there and the steps it proposes."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray

__all__ = ["LEAST_DAMPING", "ROUNDING", "STATIONARY", "Slope"]

ROUNDING = float(np.finfo(np.float64).eps)
LEAST_DAMPING = 1e-14
"""Damping that only keeps two parameters with the same effect from dividing by zero."""
# Angle between residuals and derivatives, as a cosine, at which a point counts as stationary. The best fit moves by this part of its
# standard error per degree of freedom at most, which is far below any digit that is printed.
STATIONARY = 1e-11


class Slope:
    """The linearised problem at one point: which parameters may move, and the steps it proposes."""

    def __init__(self, point: FloatArray, residual: FloatArray, jacobian: FloatArray, lower: FloatArray, upper: FloatArray) -> None:
        self.point, self.residual, self.jacobian, self.lower, self.upper = point, residual, jacobian, lower, upper
        self.cost = float(residual @ residual)
        gradient = residual @ jacobian
        self.norms = np.sqrt(np.einsum("np,np->p", jacobian, jacobian))
        held = (self.norms == 0.0) | ((point <= lower) & (gradient >= 0.0)) | ((point >= upper) & (gradient <= 0.0))
        self.free = np.flatnonzero(~held)
        steepest = np.abs(gradient[self.free]) / self.norms[self.free]
        self.cosine = float(steepest.max()) / self.cost**0.5 if self.free.size and self.cost > 0.0 else 0.0

    def is_flat(self, size: float, stationary: float = STATIONARY) -> bool:
        """Tell whether the point is stationary: to a cosine, or to rounding in the residuals of data with sum of squares `size`."""
        return self.cosine <= stationary or self.cosine * self.cost**0.5 <= 8.0 * ROUNDING * size**0.5

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
        return step, self.cost - float(after @ after)


def _damped(jacobian: FloatArray, residual: FloatArray, norms: FloatArray, damping: float) -> FloatArray:
    """Return the step that minimises |residual + jacobian step|² + damping |norms step|², by orthogonal decomposition."""
    rows, count = len(residual), len(norms)
    stacked = np.zeros((rows + count, count + 1))
    stacked[:rows, :count] = jacobian / norms
    stacked[:rows, count] = residual
    stacked[rows:, :count] = np.eye(count) * damping**0.5
    triangle = np.asarray(np.linalg.qr(stacked, mode="r"), dtype=np.float64)
    solved = np.asarray(np.linalg.solve(triangle[:count, :count], triangle[:count, count]), dtype=np.float64)
    return -solved / norms
