"""What the data determine: standard errors from the Jacobian at the best point, and reasons where there are none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.show import number
from rheokit.fitting.engine import Solution
from rheokit.fitting.identify import SEEN, combination, plateaus
from rheokit.fitting.request import Request
from rheokit.fitting.slope import ROUNDING, UNSEEN
from rheokit.law import Law

__all__ = ["Spread", "spread_of"]

# Relative size of residuals that are rounding: some of powers and logarithms, and what the descent leaves.
_PERFECT = 64.0 * ROUNDING
# Share of a parameter in an unseen direction above which it is not determined.
_SHARE = 1e-4


@dataclass(frozen=True, kw_only=True, eq=False)
class Spread(Carried):
    """The uncertainty of a fit.

    Attributes
    ----------
    covariance
        (p, p): 0 for what the caller fixed, NaN where the data determine nothing (at a bound, without effect, one for another).
    seen
        (p, p): the same with 0 instead of NaN and only the directions that the data see, for bands.
    unseen
        (p, k): directions in which the parameters can move without the fitted points noticing.
    undetermined, no_error
        Parameter name to the reason why the data do not determine it, or why it has no standard error although they do.
    scale
        Factor that turns the deviations into standard deviations; NaN where nothing is left to judge it by.
    """

    covariance: FloatArray
    seen: FloatArray
    unseen: FloatArray
    undetermined: dict[str, str]
    no_error: dict[str, str]
    scale: float

    def __post_init__(self) -> None:
        for values in (self.covariance, self.seen, self.unseen):
            values.setflags(write=False)


def spread_of(request: Request, solution: Solution, *, scale_known: bool) -> Spread:
    """Return the uncertainty at the solution, by QR and singular values of the column-scaled Jacobian, never the normal equations."""
    names = np.array(request.law.names)
    free = np.flatnonzero(request.free)
    undetermined = _at_a_bound(request, solution)
    norms = np.sqrt(np.einsum("np,np->p", solution.jacobian, solution.jacobian))
    for name, norm in zip(names[free], norms, strict=True):
        if norm == 0.0 and name not in undetermined:
            undetermined[str(name)] = "it has no effect on the fitted curve"
    moving = np.array([name not in undetermined for name in names[free]], dtype=bool)
    used = free[moving]
    root, hidden = _decompose(solution.jacobian[:, moving], norms[moving])
    unseen = np.zeros((len(names), hidden.shape[1]))
    unseen[used] = hidden
    for name, shares in zip(names[used], np.abs(hidden * norms[moving, None]), strict=True):
        if (shares > _SHARE).any():
            undetermined[str(name)] = _together(request.law, solution.point, used, str(name), hidden=hidden, norms=norms[moving])
    scale, no_error = _scale(request, solution, known=scale_known)
    if not np.isfinite(scale):
        reason = next(iter(no_error.values()))
        undetermined, no_error = {**{str(name): reason for name in names[free]}, **undetermined}, {}
    if not solution.converged:
        undetermined = {str(name): "the fit did not converge" for name in names[free]}
    seen = np.zeros((len(names), len(names)))
    seen[np.ix_(used, used)] = (root * scale) @ (root * scale).T
    covariance = seen.copy()
    for name, reach in plateaus(request.law, request.x, solution.point, np.sqrt(np.diag(seen))).items():
        if reach.least < SEEN and request.free[request.law.names.index(name)]:
            undetermined.setdefault(name, reach.sentence)
    for name in undetermined:
        index = request.law.names.index(name)
        covariance[index, :] = covariance[:, index] = np.nan
    return Spread(covariance=covariance, seen=seen, unseen=unseen, undetermined=undetermined, no_error=no_error, scale=scale)


def _at_a_bound(request: Request, solution: Solution) -> dict[str, str]:
    """Name the free parameters that ended at a bound."""
    found = {}
    for index in np.flatnonzero(request.free):
        parameter, value = request.law.parameters[index], solution.point[index]
        for side, bound in (("lower", request.lower[index]), ("upper", request.upper[index])):
            if value == bound:
                unit = "" if parameter.unit in {"", "1"} else f" {parameter.unit}"
                found[parameter.name] = f"at its {side} bound {number(float(bound))}{unit}"
    return found


def _decompose(jacobian: FloatArray, norms: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a root of the inverse of JᵀJ over the directions seen, (f, f - k), and the directions not seen, (f, k)."""
    if not norms.size:
        return np.zeros((0, 0)), np.zeros((0, 0))
    triangle = np.linalg.qr(jacobian / norms, mode="r")
    _, sizes, rows = np.linalg.svd(triangle)
    sizes = np.concatenate([sizes, np.zeros(len(rows) - len(sizes))])
    seen = sizes > UNSEEN * sizes[0]
    return (rows[seen].T / sizes[seen]) / norms[:, None], rows[~seen].T / norms[:, None]


def _together(law: Law, point: FloatArray, used: NDArray[np.intp], name: str, *, hidden: FloatArray, norms: FloatArray) -> str:
    """Say with which others a parameter is mixed up and, where it is one, what of the two is determined."""
    names, shares = [law.names[index] for index in used], np.abs(hidden * norms[:, None])
    own = names.index(name)
    mine = shares[own] > _SHARE
    others = [other for other, row in zip(names, shares[:, mine], strict=True) if (row > _SHARE).any() and other != name]
    if not others:
        return "it has no effect on the fitted curve"
    said = f"the data do not tell it from {' and '.join(others).replace('_', ' ')}"
    if len(others) > 1 or mine.sum() > 1:
        return said
    pair = int(used[own]), law.names.index(others[0])
    direction = hidden[:, mine][:, 0]
    weight = -float(direction[own] / direction[names.index(others[0])])
    return f"{said}; what they determine is {combination(law, point, pair, weight)}"


def _scale(request: Request, solution: Solution, *, known: bool) -> tuple[float, dict[str, str]]:
    """Return the scale of the deviations, and per free parameter why it leaves no standard error."""
    if known:
        return 1.0, {}
    names = [name for name, free in zip(request.law.names, request.free, strict=True) if free]
    freedom = request.y.size - len(names)
    if freedom < 1:
        return np.nan, dict.fromkeys(names, "as many free parameters as points, so no scatter is left to judge by")
    cost = float(solution.residual @ solution.residual)
    weighted = request.y / solution.deviations
    if cost <= _PERFECT**2 * float(weighted @ weighted):
        return 0.0, dict.fromkeys(names, "the points lie on the curve to rounding, so there is no scatter to take an error from")
    return (cost / freedom) ** 0.5, {}
