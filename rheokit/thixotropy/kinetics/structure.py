"""The structure along a history, exactly: its equation is linear in the structure, so each interval multiplies and adds.

Over an interval L becomes L exp(-K) + B. At a constant rate both are closed forms; on a ramp K is one too, and B an integral of a smooth
function, taken at four Gauss points (an error of eighth order in K). Where K is large the interval is cut first, finer towards its end,
where alone its course is remembered. Derivatives by the parameters follow the same way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray
from rheokit.thixotropy.kinetics.history import NODES, WEIGHTS, RateHistory
from rheokit.thixotropy.kinetics.laws import equilibrium_structure

__all__ = ["KINETICS", "Structure", "equilibrium_points", "refined", "structure_along"]

# An interval that forgets more than this is cut; each piece is longer than the one after it by this factor.
_FORGETS, _LONGER = 0.5, 1.5
# Beyond exp(-300) = 5e-131 nothing is remembered: more would only overflow.
_FORGOTTEN = 300.0
# Below this argument the series serves to rounding, above it the closed form, which cancels for small ones: by 1/0.03 of rounding here.
_SMALL = 0.03
_SERIES = tuple(1.0 / (math.factorial(order) * (order + 2)) for order in range(7))


@dataclass(frozen=True, kw_only=True, eq=False)
class Structure:
    """The structure at the recorded points of a history.

    Attributes
    ----------
    value
        Structure parameter, (G, N) for G sets of parameters.
    by_build_up, by_breakdown, by_exponent
        Derivatives by a, b and m, (G, N); None where not asked for.
    by_start
        Derivative by the structure at the beginning of the point's own run, (G, N); None where not asked for.
    """

    value: FloatArray
    by_build_up: FloatArray | None = None
    by_breakdown: FloatArray | None = None
    by_exponent: FloatArray | None = None
    by_start: FloatArray | None = None


KINETICS = ("by_build_up", "by_breakdown", "by_exponent")
"""Derivatives by a, b and m."""


def structure_along(
    history: RateHistory,
    build_up_rate: ArrayLike,
    breakdown_rate: ArrayLike,
    breakdown_exponent: ArrayLike,
    start: ArrayLike,
    *,
    derivatives: Sequence[str] = (),
) -> Structure:
    """Return the structure at the recorded points.

    Parameters
    ----------
    history
        Of one run, or several joined; see `refined` for stiff ones.
    build_up_rate, breakdown_rate, breakdown_exponent
        a [1/s], b [s^(m-1)] and m, numbers or (G,).
    start
        Structure at the beginning of each run, (R,) or (G, R).
    derivatives
        Which fields of the answer are wanted beside the value.
    """
    a, b, m = (np.atleast_1d(np.asarray(one, dtype=np.float64))[:, None] for one in (build_up_rate, breakdown_rate, breakdown_exponent))
    a, b, m = np.broadcast_arrays(a, b, m)
    begun = np.broadcast_to(np.asarray(start, dtype=np.float64), (len(a), history.resets.size))
    kinetic = [name for name in KINETICS if name in derivatives]
    steps = _Steps(history, a, b, m, kinetic)
    decay = np.minimum(steps.decay, _FORGOTTEN)
    value = _accumulated(history, decay, steps.gain[None], begun[None])[0]
    picked = np.maximum(history.recorded, 0)
    if not derivatives:
        return Structure(value=value[:, picked])
    before = value[:, :-1].copy()
    before[:, history.resets] = begun
    kept = before * np.exp(-decay)
    # dK/da is the duration, dK/db the integral of rate^m, dK/dm b times its derivative by m.
    losses = {"by_build_up": history.duration, "by_breakdown": steps.sheared, "by_exponent": b * steps.sheared_by_m}
    changes = [steps.gain_by[name] - kept * losses[name] for name in kinetic]
    starts = [np.zeros_like(begun)] * len(kinetic)
    if "by_start" in derivatives:
        changes.append(np.zeros_like(decay))
        starts.append(np.ones_like(begun))
    slopes = _accumulated(history, decay, np.stack(changes), np.stack(starts))[:, :, picked]
    return Structure(value=value[:, picked], **dict(zip([*kinetic, "by_start"], slopes, strict=False)))


def equilibrium_points(
    rate: FloatArray, a: FloatArray, b: FloatArray, m: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return the equilibrium structure at rates (N,) and its derivatives by a, b and m, each (G, N) for parameters (G, 1)."""
    value = equilibrium_structure(rate, a, b, m)
    power = rate**m
    lost = value * (1.0 - value)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_a = np.where(a > 0.0, lost / a, 0.0)
        by_b = -value * power / (a + b * power)
    by_m = -lost * np.log(np.where(rate > 0.0, rate, 1.0))
    return value, by_a, by_b, by_m


class _Steps:
    """What each interval does: K, B and, where asked for, the integrals of rate^m and the derivatives of B; each (G, I)."""

    def __init__(self, history: RateHistory, a: FloatArray, b: FloatArray, m: FloatArray, wanted: Sequence[str]) -> None:
        shape = len(a), history.duration.size
        self.decay, self.gain, self.sheared, self.sheared_by_m = (np.empty(shape) for _ in range(4))
        self.gain_by = {name: np.empty(shape) for name in wanted}
        if history.held.size:
            self._held(history, a, b, m)
        if history.ramps.size:
            self._ramps(history, a[:, :, None], b[:, :, None], m[:, :, None])

    def _held(self, history: RateHistory, a: FloatArray, b: FloatArray, m: FloatArray) -> None:
        at, h = history.held, history.duration[history.held]
        rate, log = history.held_logs
        power = np.where(rate > 0.0, np.exp(m * log), 0.0)
        x = (a + b * power) * h
        whole = _faded(x)
        self.decay[:, at], self.gain[:, at], self.sheared[:, at] = x, a * h * whole, power * h
        if self.gain_by:
            square = a * h**2 * _moment(x, whole)
            self.sheared_by_m[:, at] = power * log * h
            parts = {"by_build_up": h * whole - square, "by_breakdown": -square * power, "by_exponent": -square * power * log * b}
            for name, values in self.gain_by.items():
                values[:, at] = parts[name]

    def _ramps(self, history: RateHistory, a: FloatArray, b: FloatArray, m: FloatArray) -> None:
        at, h = history.ramps, history.duration[history.ramps]
        rate, log = history.ramp_rates
        # The integral of rate^m by time is rate^p / (p slope): p = m + 1 on a straight ramp, m on a logarithmic one.
        exponent = m + np.where(history.logarithmic[at], 0.0, 1.0)[:, None]
        primitive = np.where(rate > 0.0, np.exp(exponent * log), 0.0) / (exponent * history.slopes[:, None])
        tail = primitive[:, :, -1:] - primitive[:, :, :-1]
        left = (1.0 - NODES) * h[:, None]
        memory = WEIGHTS * h[:, None] * np.exp(-(a * left + b * tail[:, :, 1:]))
        whole = memory.sum(axis=2)
        flat, breaking = a[:, :, 0], b[:, :, 0]
        self.decay[:, at] = flat * h + breaking * tail[:, :, 0]
        self.gain[:, at], self.sheared[:, at] = flat * whole, tail[:, :, 0]
        if "by_build_up" in self.gain_by:
            self.gain_by["by_build_up"][:, at] = whole - flat * (memory * left).sum(axis=2)
        if "by_breakdown" in self.gain_by:
            self.gain_by["by_breakdown"][:, at] = -flat * (memory * tail[:, :, 1:]).sum(axis=2)
        if "by_exponent" in self.gain_by:
            slanted = primitive * (log - 1.0 / exponent)
            tail_by_m = slanted[:, :, -1:] - slanted[:, :, :-1]
            self.sheared_by_m[:, at] = tail_by_m[:, :, 0]
            self.gain_by["by_exponent"][:, at] = -flat * breaking * (memory * tail_by_m[:, :, 1:]).sum(axis=2)


def _faded(x: FloatArray) -> FloatArray:
    """Return the integral of exp(-x v) over v from 0 to 1."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(x == 0.0, 1.0, -np.expm1(-x) / x)


def _moment(x: FloatArray, whole: FloatArray) -> FloatArray:
    """Return the integral of v exp(-x v) over v from 0 to 1: by series where x is small and the closed form would cancel."""
    with np.errstate(invalid="ignore", divide="ignore"):
        closed = (whole - np.exp(-x)) / x
    z = -np.minimum(x, _SMALL)
    series = np.full_like(z, _SERIES[-1])
    for factor in _SERIES[-2::-1]:
        series = series * z + factor
    return np.where(x < _SMALL, series, closed)


def _accumulated(history: RateHistory, decay: FloatArray, gain: FloatArray, begun: FloatArray) -> FloatArray:
    """Return what multiplying by exp(-decay), (G, I), and adding a gain (C, G, I) makes of starts (C, G, R), at every edge (C, G, I + 1).

    The sum of gains grown by what is forgotten later has positive weights, so it loses no digits; it is begun anew before it overflows.
    """
    value = np.empty((*gain.shape[:2], gain.shape[2] + 1))
    value[:, :, 0] = begun[:, :, 0]
    ends = np.append(history.resets[1:], decay.shape[1])
    for run, (first, last) in enumerate(zip(history.resets.tolist(), ends.tolist(), strict=True)):
        before = begun[:, :, run, None]
        total = np.cumsum(decay[:, first:last], axis=1)
        edges = [first, last]
        if total[:, -1].max() > _FORGOTTEN:
            block = np.floor(np.cumsum(decay[:, first:last].max(axis=0)) / _FORGOTTEN)
            edges = [first, *(first + 1 + np.flatnonzero(np.diff(block))).tolist(), last]
        for one, other in pairwise(edges):
            grown = np.exp(total if len(edges) == 2 else np.cumsum(decay[:, one:other], axis=1))
            value[:, :, one + 1 : other + 1] = (before + np.cumsum(gain[:, :, one:other] * grown, axis=2)) / grown
            before = value[:, :, other, None]
    return value


def refined(
    history: RateHistory, build_up_rate: float, breakdown_rate: float, breakdown_exponent: float, forgets: float = _FORGETS
) -> RateHistory:
    """Return the history with those ramps cut that forget too much for four Gauss points; the same one where there are none."""
    at = history.ramps
    if not at.size:
        return history
    highest = np.maximum(history.start_rate[at], history.end_rate[at])
    forgotten = (build_up_rate + breakdown_rate * highest**breakdown_exponent) * history.duration[at]
    places = {}
    for interval, much in zip(at.tolist(), forgotten.tolist(), strict=True):
        if much > forgets:
            count = int(np.ceil(np.log(max(much / forgets, 1.0)) / np.log(_LONGER))) + 1
            sizes = _LONGER ** np.arange(count)
            left = np.cumsum(sizes)[:-1] / sizes.sum()
            places[interval] = 1.0 - left[::-1]
    return history.cut(places) if places else history
