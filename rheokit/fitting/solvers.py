"""The solvers of scipy.optimize for laws that the engine's own descent does not settle; the one place where they are imported.

They only have to come near: what they find is finished by the engine.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.fitting.request import Request
from rheokit.fitting.weighting import Weighting

__all__ = ["solver_ends"]

_SOLVERS = {"lm": "Levenberg-Marquardt", "trf": "a trust region", "simplex": "a simplex and Levenberg-Marquardt"}
# Residuals where a trial step has no numbers: large enough that no solver takes the step, small enough to be squared.
_REFUSED = 1e100
_STEPS = 2000


def solver_ends(request: Request, weighting: Weighting, name: str, start: FloatArray) -> Iterator[tuple[str, FloatArray]]:
    """Yield where each solver leads from a start (p,): what it is called, and all parameters there, (p,)."""
    problem = _Problem(request, weighting, start)
    for solver, words in _SOLVERS.items():
        with np.errstate(all="ignore"):
            end = problem.run(solver)
        if end is not None:
            yield f"{name} by {words}", end


class _Problem:
    """Least squares under the deviations that the data suggest, in units of the start, as the solvers take it."""

    def __init__(self, request: Request, weighting: Weighting, start: FloatArray) -> None:
        self.request = request
        self.deviations = weighting.first(request.x, request.y)
        free = request.free
        self.unit = np.where(start[free] != 0.0, np.abs(start[free]), 1.0)
        self.start = start[free] / self.unit
        self.lower, self.upper = request.lower[free] / self.unit, request.upper[free] / self.unit

    def whole(self, moved: FloatArray) -> FloatArray:
        """Return all parameters (p,) from the free ones in units of the start, at the bound where those lie outside."""
        point = self.request.fixed.copy()
        point[self.request.free] = moved * self.unit
        return np.clip(point, self.request.lower, self.request.upper)

    def residual(self, moved: FloatArray) -> FloatArray:
        """Return weighted residuals (N,), refused ones where there are none."""
        left = (self.request.law.value(self.request.x, *self.whole(moved)) - self.request.y) / self.deviations
        return np.where(np.isfinite(left), np.clip(left, -_REFUSED, _REFUSED), _REFUSED)

    def jacobian(self, moved: FloatArray) -> FloatArray:
        """Return the derivatives of the residuals, (N, f)."""
        slopes = self.request.law.jacobian(self.request.x, *self.whole(moved))[:, self.request.free]
        return np.clip(np.nan_to_num(slopes * self.unit / self.deviations[:, None]), -_REFUSED, _REFUSED)

    def cost(self, moved: FloatArray) -> float:
        """Return the sum of squares."""
        left = self.residual(moved)
        return float(left @ left)

    def run(self, solver: str) -> FloatArray | None:
        """Return where a solver ends, (p,), or None where it cannot begin."""
        from scipy import optimize  # noqa: PLC0415 - heavy, and only wanted where the engine's own descent does not settle it

        begin = self.start
        if solver == "simplex":
            begin = optimize.minimize(self.cost, begin, method="Nelder-Mead", options={"maxiter": 400 * begin.size, "adaptive": True}).x
        elif solver == "trf":  # begins inside the bounds, never on one
            width = np.where(np.isfinite(self.upper - self.lower), self.upper - self.lower, 1.0)
            begin = np.clip(begin, self.lower + 1e-6 * width, self.upper - 1e-6 * width)
        bounds = (self.lower, self.upper) if solver == "trf" else (-np.inf, np.inf)
        method: Literal["trf", "lm"] = "trf" if solver == "trf" else "lm"
        try:
            found = optimize.least_squares(
                self.residual, begin, self.jacobian, bounds=bounds, method=method, x_scale="jac",
                xtol=1e-12, ftol=1e-14, gtol=1e-14, max_nfev=_STEPS,
            )  # fmt: skip
        except (ValueError, np.linalg.LinAlgError):  # no numbers to begin with, or none to go on with
            return None
        end = self.whole(found.x)
        return end if np.isfinite(end).all() else None
