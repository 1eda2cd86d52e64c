"""An ink with two kinds of structure, each breaking and rebuilding at its own pace: richer than any law with one structure.

Between changes of the rate each structure parameter is an exponential, so its course needs no adaptive integration: ramps are cut into
short pieces of constant rate, fine enough for the five digits that exports print.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp

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
    inks = [(ink.first, ink.share), (ink.second, 1.0 - ink.share)]
    inks = [(one, share) for one, share in inks if share > 0.0]
    states = [initial_structure for _ in inks]
    rows: list[tuple[float, ...]] = []
    clock = step_start = 0.0
    step = protocol.segments[0].step
    for segment in protocol.segments:
        if segment.step != step:
            step, step_start = segment.step, clock
        times, courses = _courses([one for one, _ in inks], segment, states)
        for index, at in enumerate(times):
            if at not in segment.recorded:
                continue
            rate = segment.rate_at(at)
            values = [float(course[index]) for course in courses]
            stress = sum(share * float(one.stress(rate, value)) for (one, share), value in zip(inks, values, strict=True))
            mean = sum(share * value for (_, share), value in zip(inks, values, strict=True))
            shown = 0.0 if segment.is_rest else stress
            rows.append((float(step), clock + at, clock - step_start + at, rate, rate, segment.rate_change_at(at), mean, shown))
        states = [float(course[-1]) for course in courses]
        clock += segment.duration
    names = ("step", "time", "step_time", "apparent_rate", "true_rate", "rate_change", "structure", "stress")
    return History(**dict(zip(names, np.array(rows, dtype=np.float64).T.copy(), strict=True)))


def _courses(inks: list[Ink], segment: Segment, states: list[float]) -> tuple[list[float], list[list[float]]]:
    """Return the recorded times and the end of a segment, and the structure of each ink at those times."""
    times = sorted({*segment.recorded, segment.duration})
    constant = segment.course == "constant"
    courses = []
    for ink, start in zip(inks, states, strict=True):
        values, value, before = [], start, 0.0
        for at in times:
            count = 1 if constant else PIECES
            length = (at - before) / count
            for index in range(count if length > 0.0 else 0):
                rate = segment.rate_at(before + (index + 0.5) * length)
                decay = ink.build_up_rate + ink.breakdown_rate * rate**ink.breakdown_exponent
                settled = ink.build_up_rate / decay if decay > 0.0 else value
                value = settled + (value - settled) * exp(-decay * length)
            values.append(value)
            before = at
        courses.append(values)
    return times, courses


def stretched(ink: Ink, *, pace: float) -> Ink:
    """Return an ink whose structure breaks and builds faster by a factor."""
    return replace(ink, build_up_rate=ink.build_up_rate * pace, breakdown_rate=ink.breakdown_rate * pace)


def noisy(history: History, generator: np.random.Generator, *, noise: float, factor: float) -> FloatArray:
    """Return the stresses [Pa] of a history as one load shows them: its scale, and independent relative noise."""
    draws = generator.standard_normal(history.stress.size)
    return np.asarray(history.stress * factor * (1.0 + noise * draws), dtype=np.float64)
