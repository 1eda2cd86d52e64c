"""The interval that is reported for a parameter: Student's t on the scale on which its error is even, and wider by what a bound hides.

A standard error alone misses the truth more often than stated in two cases, both found by counting (docs/fit_coverage.md). What
multiplies the curve and is hardly determined errs evenly in its logarithm, not in itself. And where another parameter ended at its bound,
the standard error holds it there, although the data would let it move inside: to one side the profile of the fit is then flatter, a
parabola up to where the other leaves its bound and a wider one beyond. `profile_interval` finds such ends by fitting again; here they come
from the derivatives at the best fit, at the price of two products of vectors.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError, printable
from rheokit.base.estimate import Interval
from rheokit.base.show import number
from rheokit.fitting.fitted import Fitted
from rheokit.fitting.slope import UNSEEN
from rheokit.law import Law

__all__ = ["parameter_interval", "plain_ends"]

# Part of a parabola's curvature that must be left once another parameter moves along; below, the end is open.
_FLAT = 1e-8


def plain_ends(law: Law, values: FloatArray, halves: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return lower and upper ends, (…, p) each, half a width from values (…, p): in the logarithm where the law says so."""
    lower, upper = values - halves, values + halves
    with np.errstate(all="ignore"):  # no value, or an error many times the value
        factor = np.exp(halves / np.abs(values))
        for index, parameter in enumerate(law.parameters):
            if parameter.interval_scale == "logarithmic":
                lower[..., index], upper[..., index] = values[..., index] / factor[..., index], values[..., index] * factor[..., index]
    return lower, upper


def parameter_interval(fitted: Fitted, name: str, level: float) -> Interval:
    """Return the reported interval of one parameter.

    Raises
    ------
    FitError
        When the parameter is unknown, or has no standard error; the message says why.
    """
    if name not in fitted.law.names:
        raise FitError(f"{fitted.law.name} has no parameter {printable(name)!r}; it has {', '.join(fitted.law.names)}")
    estimate, index = fitted.parameters[name], fitted.law.names.index(name)
    if estimate.standard_error is None:
        raise FitError(f"{name} has no interval: {estimate.reason}")
    times = fitted.quantile(level)
    ends, reasons = [], []
    for side in (-1, 1):
        half, opened = _half_width(fitted, index, side, times)
        widths = np.full(fitted.values.size, np.nan)
        widths[index] = half
        end = float(plain_ends(fitted.law, fitted.values, widths)[side > 0][index])
        bound = float((fitted.request.lower if side < 0 else fitted.request.upper)[index])
        if side * (end - bound) > 0.0:
            unit = "" if estimate.unit in {"", "1"} else f" {estimate.unit}"
            end, opened = bound, f"the {_WORDS[side]} end is the bound {number(bound)}{unit}"
        elif math.isinf(end) and not opened:
            opened = f"the {_WORDS[side]} end is open: its standard error is many times its value"
        ends.append(end)
        reasons.append(opened)
    return Interval(lower=ends[0], upper=ends[1], level=level, reason="; ".join(reason for reason in reasons if reason))


_WORDS = {-1: "lower", 1: "upper"}


class _Other(NamedTuple):
    """A parameter at its bound: its name, and its derivatives (N,) by a step to the inside, in standard deviations of the points."""

    name: str
    column: FloatArray


def _half_width(fitted: Fitted, index: int, side: int, times: float) -> tuple[float, str]:
    """Return how far an end lies from the value, to first order, and why it is open where it is."""
    half = times * math.sqrt(float(fitted.covariance[index, index]))
    others = _at_a_bound(fitted, index)
    if not others:
        return half, ""
    size = fitted.deviations * fitted.spread.scale
    residual = fitted.residuals / size
    moving = [at for at in np.flatnonzero(fitted.request.free).tolist() if fitted.law.names[at] not in {other.name for other in others}]
    jacobian = fitted.law.jacobian(fitted.x, *fitted.values)[:, moving] / size[:, None]
    own = moving.index(index)
    beside = _directions(np.delete(jacobian, own, axis=1))
    column = jacobian[:, own] - beside @ (beside.T @ jacobian[:, own])
    opened = ""
    for other in others:
        inside = other.column - beside @ (beside.T @ other.column)
        found = _reach(
            float(column @ column), -side * float(column @ inside), float(inside @ inside), -float(other.column @ residual), times
        )
        if math.isinf(found):
            opened = f"the {_WORDS[side]} end is open: {other.name.replace('_', ' ')}, at its bound, makes up for it"
        half = max(half, found)
    return half, opened


def _at_a_bound(fitted: Fitted, index: int) -> list[_Other]:
    """Return the other free parameters that ended at a bound and have an effect there."""
    values, request = fitted.values, fitted.request
    inward = np.where(values == request.lower, 1.0, np.where(values == request.upper, -1.0, 0.0))
    inward[index] = 0.0
    places = np.flatnonzero(request.free & (inward != 0.0))
    if not places.size:
        return []
    with np.errstate(all="ignore"):  # a root has an infinite slope at its bound of zero
        jacobian = fitted.law.jacobian(fitted.x, *values) / (fitted.deviations * fitted.spread.scale)[:, None]
    columns = [_Other(fitted.law.names[place], jacobian[:, place] * inward[place]) for place in places]
    return [other for other in columns if np.isfinite(other.column).all()]


def _directions(jacobian: FloatArray) -> FloatArray:
    """Return an orthonormal basis (N, k) of what columns (N, p) span, to what the fit itself counts as seen."""
    norms = np.linalg.norm(jacobian, axis=0)
    if not norms.any():
        return np.zeros((len(jacobian), 0))
    directions, sizes, _ = np.linalg.svd(jacobian[:, norms > 0.0] / norms[norms > 0.0], full_matrices=False)
    return directions[:, sizes > UNSEEN * sizes[0]]


def _reach(own: float, mixed: float, other: float, pressure: float, times: float) -> float:
    """Return at which distance d ≥ 0 the fit is worse by times².

    Half the rise is ½ own d² while the other parameter stays at its bound, against which it presses; it leaves the bound where
    mixed d exceeds the pressure, and takes ½ (mixed d - pressure)² / other away from the rise.
    """
    distance = times / math.sqrt(own)
    if not (other > 0.0 and mixed * distance > pressure):
        return distance
    left = own - mixed**2 / other
    if left <= _FLAT * own:
        return math.inf
    along, level = mixed * pressure / other, pressure**2 / other + times**2
    return (math.sqrt(along**2 + left * level) - along) / left
