"""Programmes: what the drive does, piece by piece, and when a point is recorded."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.run import StepKind
from rheokit.base.show import Table, number
from rheokit.thixotropy.kinetics.history import RateHistory, rate_history

__all__ = ["Piece", "Programme", "loop_programme", "startup_programme", "step_test_programme"]

Course = Literal["constant", "linear", "logarithmic"]


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One stretch of a programme, a step of its own.

    Attributes
    ----------
    kind
        What step it is; a `rest` releases the stress.
    duration
        [s].
    start, end
        Shear rate [1/s], or shear stress [Pa] in a programme of stress, at both ends.
    course
        How it goes from one to the other.
    points
        Times [s] from the beginning of the piece at which a point is recorded, rising.

    Raises
    ------
    FitError
        When a duration, rate, course or time makes no sense.
    """

    kind: StepKind
    duration: float
    start: float
    end: float
    course: Course = "constant"
    points: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", tuple(float(point) for point in self.points))
        if not (0.0 < self.duration < math.inf and 0.0 <= self.start < math.inf and 0.0 <= self.end < math.inf):
            raise FitError(
                f"a {self.kind} piece of {self.duration!r} s from {self.start!r} to {self.end!r}: give a duration and no negatives"
            )
        if self.course == "constant" and self.start != self.end:
            raise FitError(
                f"a constant {self.kind} piece goes from {number(self.start)} to {number(self.end)}; name it linear or logarithmic"
            )
        if self.course == "logarithmic" and 0.0 in {self.start, self.end}:
            raise FitError(f"a logarithmic {self.kind} piece begins or ends at zero; no logarithm does")
        rises = all(one < other for one, other in zip(self.points[:-1], self.points[1:], strict=True))
        if self.points and not (rises and self.points[0] >= 0.0 and self.points[-1] <= self.duration * (1.0 + 1e-12)):
            raise FitError(f"the points of a {self.kind} piece do not rise from 0 to its duration, {number(self.duration)} s")

    def at(self, times: FloatArray) -> FloatArray:
        """Return rate or stress at times [s] from the beginning of the piece, (N,)."""
        passed = np.clip(times / self.duration, 0.0, 1.0)
        if self.course == "logarithmic":
            return np.asarray(self.start * (self.end / self.start) ** passed)
        return np.asarray(self.start * (1.0 - passed) + self.end * passed)


@dataclass(frozen=True, kw_only=True)
class Programme(Carried):
    """Pieces run one after the other on one load, controlled by shear rate or by shear stress."""

    pieces: tuple[Piece, ...]
    controlled: Literal["rate", "stress"] = "rate"
    name: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "pieces", tuple(self.pieces))
        if not any(piece.points for piece in self.pieces):
            raise FitError("a programme without a recorded point; give its pieces points")

    def history(self) -> RateHistory:
        """Return the course of the rate, cut at the recorded points.

        Raises
        ------
        FitError
            When the programme controls the stress: its rates follow from an ink.
        """
        if self.controlled != "rate":
            raise FitError("a programme of stress has no rates of its own; simulate it with an ink")
        durations, rates, logs, recorded, at, steps = [], [], [], [], [], []
        passed = 0
        for step, piece in enumerate(self.pieces, 1):
            inner = np.unique(np.concatenate([[0.0], np.minimum(piece.points, piece.duration), [piece.duration]]))
            values = piece.at(inner)
            durations.append(np.diff(inner))
            rates.append(np.stack([values[:-1], values[1:]]))
            logs.append(np.full(inner.size - 1, piece.course == "logarithmic"))
            recorded.append(passed + np.searchsorted(inner, np.minimum(piece.points, piece.duration)))
            at.append(piece.at(np.array(piece.points)))
            steps.append(np.full(len(piece.points), step))
            passed += inner.size - 1
        start, end = np.concatenate(rates, axis=1)
        return rate_history(
            np.concatenate(durations), start, end, logarithmic=np.concatenate(logs),
            recorded=np.concatenate(recorded).astype(np.intp), rate=np.concatenate(at), step=np.concatenate(steps).astype(np.intp),
        )  # fmt: skip

    def table(self) -> Table:
        """Return the pieces as a table."""
        unit = "1/s" if self.controlled == "rate" else "Pa"
        rows = tuple(
            (str(step), piece.kind, number(piece.duration), number(piece.start), number(piece.end), piece.course, str(len(piece.points)))
            for step, piece in enumerate(self.pieces, 1)
        )
        columns = ("step", "kind", "duration [s]", f"start [{unit}]", f"end [{unit}]", "course", "points")
        return Table(title=self.name or "programme", columns=columns, rows=rows, right=(*columns[2:5], "points"))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _evenly(duration: float, count: int) -> FloatArray:
    """Return the ends of so many equal intervals."""
    return duration * np.arange(1, count + 1) / count


def loop_programme(
    *,
    top_rate: float = 100.0,
    ramp_duration: float = 120.0,
    hold: float = 30.0,
    pre_shear: float = 60.0,
    rest: float = 300.0,
    points: int = 60,
) -> Programme:
    """Return a loop: pre-shear at the top rate [1/s], rest, up, hold, down, durations [s]; `points` on each leg, even in time.

    The up leg is recorded at the end of each interval and the down leg at its start, so that both have the top rate and neither has
    a rate of zero.
    """
    up = _evenly(ramp_duration, points)
    pieces = [
        Piece(kind="shear", duration=pre_shear, start=top_rate, end=top_rate),
        Piece(kind="rest", duration=rest, start=0.0, end=0.0),
        Piece(kind="up", duration=ramp_duration, start=0.0, end=top_rate, course="linear", points=tuple(up)),
    ]
    if hold > 0.0:
        pieces.append(Piece(kind="hold", duration=hold, start=top_rate, end=top_rate, points=tuple(_evenly(hold, 10)[:-1])))
    down = tuple(up - ramp_duration / points)
    pieces.append(Piece(kind="down", duration=ramp_duration, start=top_rate, end=0.0, course="linear", points=down))
    return Programme(pieces=tuple(pieces), name=f"loop to {number(top_rate)} 1/s in {number(ramp_duration)} s")


def step_test_programme(
    *,
    shear_rate: float = 100.0,
    low_rate: float = 0.5,
    before: float = 120.0,
    shear: float = 60.0,
    after: float = 300.0,
    rest: float = 0.0,
    points: Sequence[int] = (40, 20, 100),
) -> Programme:
    """Return a rest-shear-recovery step test: low rate, high rate, low rate [1/s], durations [s], after a rest if there is one."""
    durations, rates, kinds = (before, shear, after), (low_rate, shear_rate, low_rate), ("rest", "shear", "recovery")
    pieces = [Piece(kind="rest", duration=rest, start=0.0, end=0.0)] if rest > 0.0 else []
    for kind, duration, rate, count in zip(kinds, durations, rates, points, strict=True):
        word: StepKind = "rest" if kind == "rest" else "shear" if kind == "shear" else "recovery"
        pieces.append(Piece(kind=word, duration=duration, start=rate, end=rate, points=tuple(_evenly(duration, count))))
    return Programme(pieces=tuple(pieces), name=f"step test at {number(shear_rate)} 1/s")


def startup_programme(
    *, shear_rate: float = 0.1, rest: float = 300.0, duration: float = 120.0, pre_shear_rate: float = 100.0, pre_shear: float = 60.0,
    points: int = 120,
) -> Programme:  # fmt: skip
    """Return a start-up at a rate [1/s] after pre-shear and a rest, durations [s]."""
    pieces = (
        Piece(kind="shear", duration=pre_shear, start=pre_shear_rate, end=pre_shear_rate),
        Piece(kind="rest", duration=rest, start=0.0, end=0.0),
        Piece(kind="startup", duration=duration, start=shear_rate, end=shear_rate, points=tuple(_evenly(duration, points))),
    )
    return Programme(pieces=pieces, name=f"start-up at {number(shear_rate)} 1/s after {number(rest)} s")
