"""The course of the shear rate in one run or several, cut at every recorded point: what the structure is computed along."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray

__all__ = ["ELSEWHERE", "NODES", "WEIGHTS", "RateHistory", "join", "rate_history"]

# Relative change of the rate in an interval below which it counts as constant, at its mean: the error is of second order in it.
_CONSTANT = 1e-6
# Relative change of rate or slope from one interval to the next that is a corner, where points are thinned out.
_CORNER = 0.02
# Where a ramp touches zero the rate to a power bends sharply; such an interval is cut here, so that four Gauss points serve.
_CUTS = (1.0 / 64.0, 1.0 / 8.0)
# Four Gauss-Legendre points on 0..1 and their weights: exact mathematics, sqrt(3/7 ± 2/7 sqrt(6/5)), (18 ± sqrt(30))/36.
_ROOT = np.sqrt(3.0 / 7.0 + np.array([2.0, -2.0]) / 7.0 * np.sqrt(6.0 / 5.0))
_HALF = (18.0 + np.array([-1.0, 1.0]) * np.sqrt(30.0)) / 36.0
NODES = 0.5 + 0.5 * np.array([-_ROOT[0], -_ROOT[1], _ROOT[1], _ROOT[0]])
WEIGHTS = 0.5 * np.array([_HALF[0], _HALF[1], _HALF[1], _HALF[0]])

ELSEWHERE = -1
"""Entry of `recorded` for a point that lies on no history: its structure is that of equilibrium."""


def _logarithm(rate: FloatArray) -> FloatArray:
    """Return ln(rate), 0 where the rate is 0: there it only ever multiplies a power of the rate."""
    return np.log(np.where(rate > 0.0, rate, 1.0))


@dataclass(frozen=True, kw_only=True, eq=False)
class RateHistory:
    """Intervals in which the shear rate is constant or ramps, and points recorded between them.

    Attributes
    ----------
    duration, start_rate, end_rate
        Of the intervals [s], [1/s], (I,).
    logarithmic
        Whether a ramp is straight in the logarithm of the rate, (I,).
    resets
        Intervals at which a run begins, (R,): before each the structure is that of a new load.
    recorded
        How many intervals have passed at each recorded point, (N,).
    rate, time, strain
        Shear rate [1/s], time [s] since the run began and strain since its last rest (inf before the first) of each point, (N,).
    step
        Number of its step, (N,).
    """

    duration: FloatArray
    start_rate: FloatArray
    end_rate: FloatArray
    logarithmic: NDArray[np.bool_]
    resets: NDArray[np.intp]
    recorded: NDArray[np.intp]
    rate: FloatArray
    time: FloatArray
    strain: FloatArray
    step: NDArray[np.intp]

    @cached_property
    def ramps(self) -> NDArray[np.intp]:
        """Return the intervals in which the rate changes."""
        change = np.abs(self.end_rate - self.start_rate)
        return np.flatnonzero(change > _CONSTANT * np.maximum(self.start_rate, self.end_rate))

    @cached_property
    def held(self) -> NDArray[np.intp]:
        """Return the intervals in which the rate is constant."""
        return np.setdiff1d(np.arange(self.duration.size), self.ramps)

    @cached_property
    def held_logs(self) -> tuple[FloatArray, FloatArray]:
        """Return the rates of the constant intervals and their logarithms."""
        rate = 0.5 * (self.start_rate[self.held] + self.end_rate[self.held])
        return rate, _logarithm(rate)

    @cached_property
    def ramp_rates(self) -> tuple[FloatArray, FloatArray]:
        """Return rates at start, Gauss points and end of each ramp, (J, 6), and their logarithms."""
        start, end = self.start_rate[self.ramps], self.end_rate[self.ramps]
        places = np.concatenate([[0.0], NODES, [1.0]])
        straight = start[:, None] * (1.0 - places) + end[:, None] * places
        logs = _logarithm(start)[:, None] * (1.0 - places) + _logarithm(end)[:, None] * places
        rates = np.where(self.logarithmic[self.ramps, None], np.exp(logs), straight)
        return rates, _logarithm(rates)

    @cached_property
    def slopes(self) -> FloatArray:
        """Return the change of the rate, or of its logarithm, with time in each ramp, (J,)."""
        start, end = self.start_rate[self.ramps], self.end_rate[self.ramps]
        straight = (end - start) / self.duration[self.ramps]
        return np.where(self.logarithmic[self.ramps], (_logarithm(end) - _logarithm(start)) / self.duration[self.ramps], straight)

    def rates_at(self, interval: int, places: FloatArray) -> FloatArray:
        """Return the rate [1/s] at parts (0 to 1) of one interval."""
        start, end = float(self.start_rate[interval]), float(self.end_rate[interval])
        if self.logarithmic[interval]:
            return np.asarray(start * (end / start) ** places)
        return start * (1.0 - places) + end * places

    def thinned(self, points: NDArray[np.intp]) -> RateHistory:
        """Return the history with these points alone, neighbouring intervals without a corner between them taken as one.

        What bends a little is taken as straight: enough to tell one valley from another.
        """
        slope = (self.end_rate - self.start_rate) / np.maximum(self.duration, 1e-300)
        size = np.maximum(np.abs(slope[1:]), np.abs(slope[:-1]))
        jump = np.abs(self.start_rate[1:] - self.end_rate[:-1]) > _CORNER * np.maximum(self.start_rate[1:], self.end_rate[:-1])
        corner = jump | (np.abs(np.diff(slope)) > _CORNER * size)
        first = np.zeros(self.duration.size + 1, dtype=bool)
        first[1:-1] = corner & ~self.logarithmic[1:]
        first[self.recorded[points]] = True
        for one in (0, 1):  # the empty interval that begins a run, and what follows it
            first[self.resets + one] = True
        first[-1] = False
        begin = np.flatnonzero(first)
        place = np.searchsorted(begin, self.recorded[points])
        return RateHistory(
            duration=np.add.reduceat(self.duration, begin), start_rate=self.start_rate[begin],
            end_rate=self.end_rate[np.append(begin[1:], self.duration.size) - 1], logarithmic=self.logarithmic[begin],
            resets=np.searchsorted(begin, self.resets), recorded=place, rate=self.rate[points], time=self.time[points],
            strain=self.strain[points], step=self.step[points],
        )  # fmt: skip

    def cut(self, places: dict[int, FloatArray]) -> RateHistory:
        """Return the same history with some intervals cut at parts (0 to 1, rising) of them."""
        pieces = np.ones(self.duration.size, dtype=np.intp)
        for interval, inner in places.items():
            pieces[interval] += inner.size
        begin = np.concatenate([[0], np.cumsum(pieces)])
        duration, start = np.repeat(self.duration, pieces), np.repeat(self.start_rate, pieces)
        end = np.repeat(self.end_rate, pieces)
        for interval, inner in places.items():
            edges = np.concatenate([[0.0], inner, [1.0]])
            rates = self.rates_at(interval, edges)
            where = slice(int(begin[interval]), int(begin[interval + 1]))
            duration[where], start[where], end[where] = self.duration[interval] * np.diff(edges), rates[:-1], rates[1:]
        recorded = np.where(self.recorded == ELSEWHERE, ELSEWHERE, begin[np.maximum(self.recorded, 0)])
        return RateHistory(
            duration=duration, start_rate=start, end_rate=end, logarithmic=np.repeat(self.logarithmic, pieces),
            resets=begin[self.resets], recorded=recorded, rate=self.rate, time=self.time, strain=self.strain, step=self.step,
        )  # fmt: skip


def rate_history(
    duration: FloatArray,
    start_rate: FloatArray,
    end_rate: FloatArray,
    *,
    logarithmic: NDArray[np.bool_],
    recorded: NDArray[np.intp],
    rate: FloatArray,
    step: NDArray[np.intp],
) -> RateHistory:
    """Return the history of one run from its intervals (I,) [s]; the caller keeps out those without duration."""
    # An empty interval stands first, so that the end of one run and the beginning of the next are not the same place once joined.
    duration, recorded = np.concatenate([[0.0], duration]), recorded + 1
    start_rate, end_rate = np.concatenate([[1.0], start_rate]), np.concatenate([[1.0], end_rate])
    logarithmic = np.concatenate([[False], logarithmic])
    time = np.concatenate([[0.0], np.cumsum(duration)])[recorded]
    strains = _strain(duration, start_rate, end_rate, logarithmic)
    whole = RateHistory(
        duration=duration, start_rate=start_rate, end_rate=end_rate, logarithmic=logarithmic, resets=np.zeros(1, dtype=np.intp),
        recorded=recorded, rate=rate, time=time, strain=strains[recorded], step=step,
    )  # fmt: skip
    places = {}
    for interval in np.flatnonzero(~logarithmic & ((start_rate == 0.0) != (end_rate == 0.0))).tolist():
        cuts = np.array(_CUTS)
        places[interval] = cuts if start_rate[interval] == 0.0 else 1.0 - cuts[::-1]
    return whole.cut(places) if places else whole


def _strain(duration: FloatArray, start: FloatArray, end: FloatArray, logarithmic: NDArray[np.bool_]) -> FloatArray:
    """Return the strain since the last rest at every edge, (I + 1,); inf before the first rest."""
    mean = 0.5 * (start + end)
    curved = logarithmic & (np.abs(end - start) > _CONSTANT * mean)
    mean[curved] = (end[curved] - start[curved]) / np.log(end[curved] / start[curved])
    total = np.concatenate([[0.0], np.cumsum(mean * duration)])
    rests = np.flatnonzero((start == 0.0) & (end == 0.0))
    if not rests.size:
        return np.full(total.size, np.inf)
    # At every edge: the last rest that has ended by then.
    last = np.searchsorted(rests + 1, np.arange(total.size), side="right") - 1
    return np.where(last < 0, np.inf, total - total[rests[np.maximum(last, 0)] + 1])


def join(histories: Sequence[RateHistory]) -> RateHistory:
    """Return several runs as one history, each with a reset before its first interval."""
    offsets = np.concatenate([[0], np.cumsum([one.duration.size for one in histories])]).tolist()
    joined = {
        name: np.concatenate([getattr(one, name) for one in histories])
        for name in ("duration", "start_rate", "end_rate", "logarithmic", "rate", "time", "strain", "step")
    }
    return RateHistory(
        resets=np.concatenate([one.resets + offset for one, offset in zip(histories, offsets, strict=False)]),
        recorded=np.concatenate([one.recorded + offset for one, offset in zip(histories, offsets, strict=False)]),
        **joined,
    )
