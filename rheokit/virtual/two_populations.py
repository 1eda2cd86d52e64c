"""An ink with two kinds of structure, each breaking and rebuilding at its own pace: richer than any law with one structure.

Between changes of the rate each structure parameter is an exponential, so its course needs no adaptive integration: ramps are cut into
short pieces of constant rate, fine enough for the five digits that exports print.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .ink import FloatArray, Ink
from .protocol import Protocol, Segment
from .simulation import History

PIECES = 24
"""Pieces of constant rate between two recorded points of a ramp: the midpoint rule misses by the square of a piece's length, 1e-5."""


@dataclass(frozen=True, kw_only=True)
class TwoPopulations:
    """Two inks in one: stresses add by share, each with a structure of its own.

    Parameters
    ----------
    first, second : Ink
        The elastic strain of neither is used.
    share : float
        Of the first, 0 to 1; 1 is the first ink alone.

    Raises
    ------
    ValueError
        If the share lies outside 0 to 1.
    """

    first: Ink
    second: Ink
    share: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.share <= 1.0:
            raise ValueError(f"share is {self.share}; it must lie between 0 and 1")


def simulate_populations(ink: TwoPopulations, protocol: Protocol, *, initial_structure: float = 0.8) -> History:
    """Run two populations through a protocol; `structure` of the history is their mean by share.

    Parameters
    ----------
    ink : TwoPopulations
        With a share of 1 this is a fast road for a single ink without elastic strain.
    protocol : Protocol
        What the drive does.
    initial_structure : float
        Of both when the first segment starts.
    """
    inks = [(one, share) for one, share in ((ink.first, ink.share), (ink.second, 1.0 - ink.share)) if share > 0.0]
    states = [initial_structure for _ in inks]
    blocks: list[FloatArray] = []
    clock = step_start = 0.0
    step = protocol.segments[0].step
    for segment in protocol.segments:
        if segment.step != step:
            step, step_start = segment.step, clock
        times = np.array(sorted({*segment.recorded, segment.duration}))
        courses = [_course(one, segment, times, start) for (one, _), start in zip(inks, states, strict=True)]
        shown = np.isin(times, segment.recorded)
        at = times[shown]
        rate = np.array([segment.rate_at(float(time)) for time in at])
        parts = [share * one.stress(rate, course[shown]) for (one, share), course in zip(inks, courses, strict=True)]
        mean = sum((share * course[shown] for (_, share), course in zip(inks, courses, strict=True)), np.zeros(at.size))
        change = np.array([segment.rate_change_at(float(time)) for time in at])
        stress = np.zeros(at.size) if segment.is_rest else np.sum(parts, axis=0)
        blocks.append(np.array([np.full(at.size, float(step)), clock + at, clock - step_start + at, rate, rate, change, mean, stress]))
        states = [float(course[-1]) for course in courses]
        clock += segment.duration
    names = ("step", "time", "step_time", "apparent_rate", "true_rate", "rate_change", "structure", "stress")
    return History(**dict(zip(names, np.concatenate(blocks, axis=1), strict=True)))


def _course(ink: Ink, segment: Segment, times: FloatArray, start: float) -> FloatArray:
    """Return the structure at rising times [s] from the start of a segment, (N,)."""
    count = 1 if segment.course == "constant" else PIECES
    edges = np.concatenate([[0.0], times])
    lengths = np.repeat(np.diff(edges) / count, count)
    middles = np.repeat(edges[:-1], count) + (np.tile(np.arange(count), times.size) + 0.5) * lengths
    rates = np.array([segment.rate_at(float(at)) for at in middles])
    decay = ink.build_up_rate + ink.breakdown_rate * rates**ink.breakdown_exponent
    kept = np.exp(-decay * lengths)
    settled = ink.build_up_rate / np.where(decay > 0.0, decay, 1.0)
    value, values = start, []
    for one, other in zip(kept.tolist(), settled.tolist(), strict=True):
        value = other + (value - other) * one
        values.append(value)
    return np.array(values)[count - 1 :: count]


def stretched(ink: Ink, *, pace: float) -> Ink:
    """Return an ink whose structure breaks and builds faster by a factor."""
    return replace(ink, build_up_rate=ink.build_up_rate * pace, breakdown_rate=ink.breakdown_rate * pace)


def noisy(history: History, generator: np.random.Generator, *, noise: float, factor: float) -> FloatArray:
    """Return the stresses [Pa] of a history as one load shows them: its scale, and independent relative noise."""
    draws = generator.standard_normal(history.stress.size)
    return np.asarray(history.stress * factor * (1.0 + noise * draws), dtype=np.float64)
