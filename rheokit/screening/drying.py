"""Drying: a stress that keeps rising at one shear rate, faster than any logarithm of time."""

from __future__ import annotations

import math

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.run import Run, StepKind
from rheokit.base.show import number
from rheokit.screening.check import Check, Look, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import clock, flowing, line_through, steadily_held

__all__ = ["DRYING"]

HELD: tuple[StepKind, ...] = ("hold", "shear", "recovery")
FEWEST = 5
"""Points in a third of a step."""
BY_CHANCE = 4.0
"""Standard errors that are taken off the rise: correlated points know theirs badly. Our own setting."""
LOGARITHM = math.log(3.0 / 2.0) / math.log(2.0)
"""What a course by the logarithm of time rises in the last third of a step, over what it rises in the middle third."""


def drying(run: Run, _: Known) -> Look:
    """Take the rise that goes on in proportion to the time, from the last third of every step at one rate and what came before.

    What rebuilds slows down at least as a logarithm of time does: in the last third it rises by 0.585 of the middle third at most. What
    dries rises by as much. The smaller of two rises counts: that of the last third, and what it is above the logarithm, each made up to
    what a course in proportion to the time would show in the whole step.
    """
    seen = []
    for step in flowing(run, *HELD):
        read = clock(step)
        if read is None or not steadily_held(step):
            continue
        # Counted from one interval before the first point: not every export says when the step began.
        rise = _rise(read - read[0] + (read[1] - read[0]), step.shear_stress)
        if rise is None:
            continue
        words = (
            f"step {step.number} ({step.kind}): at a held rate the stress rises by {rise[0]:.1%} in {number(float(np.ptp(read)), 3)} s and "
            "does not slow down as a structure does that rebuilds; it may dry: cover the edge, and measure the reference point again"
        )
        seen.append(Seen(value=max(rise[0], 0.0), words=words, step=step, margin=BY_CHANCE * rise[1]))
    return Look(seen=tuple(seen)) if seen else Look(idle=f"no hold, shear or recovery with times and {3 * FEWEST} points")


def _rise(time: FloatArray, stress: FloatArray) -> tuple[float, float] | None:
    """Return the relative rise over a step by what does not slow down, and its standard error; the smaller of the two ways."""
    middle, last = (_third(time, stress, third) for third in (1, 2))
    if middle is None or last is None:
        return None
    share = 1.0 - LOGARITHM
    before = LOGARITHM * max(middle[0], 0.0)
    ways = ((last[0], last[1]), ((last[0] - before) / share, math.hypot(last[1], LOGARITHM * middle[1]) / share))
    rise, error = min(ways, key=lambda way: way[0] - BY_CHANCE * way[1])
    return float(3.0 * rise), float(3.0 * error)


def _third(time: FloatArray, stress: FloatArray, third: int) -> tuple[float, float] | None:
    """Return the relative rise by the line through a third of a step, and its standard error."""
    length = time[-1] / 3.0
    inside = np.isfinite(stress) & (time >= third * length * (1.0 - 1e-9)) & (time <= (third + 1) * length * (1.0 + 1e-9))
    line = line_through(time[inside], stress[inside]) if inside.sum() >= FEWEST else None
    level = abs(float(np.mean(stress[inside]))) if line is not None else 0.0
    return None if line is None or not level > 0.0 else (line[0] * length / level, line[1] * length / level)


DRYING = Check(
    name="drying",
    kinds=HELD,
    number="relative rise over a step by what does not slow down as a logarithm of time, less 4 standard errors",
    look=drying,
    limit=0.05,
    unit="1",
    source="common practice, no source: 5 % at a repeated point",
)
