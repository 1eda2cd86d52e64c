"""Drying: a stress that keeps rising at one shear rate, faster than any logarithm of time."""

from __future__ import annotations

import math

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.run import Run, StepKind
from rheokit.base.show import number
from rheokit.screening.check import Check, Look, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import clock, flowing, noise_of, steadily_held

__all__ = ["DRYING"]

HELD: tuple[StepKind, ...] = ("hold", "shear", "recovery")
WINDOWS = ((0.15, 0.30), (0.375, 0.525), (0.80, 1.00))
"""Parts of a step whose mean stresses are compared; each lies about twice as late as the one before."""
FEWEST = 3
"""Points in each of them."""
BY_CHANCE = 4.0
"""Standard errors that are taken off the rise. Our own setting."""


def drying(run: Run, _: Known) -> Look:
    """Take the rise in proportion to the time that is left when a rise by its logarithm is taken off, at every step at one rate.

    What rebuilds slows down at least as a logarithm of time does; what dries does not. The smaller of two rises counts: that from the
    middle to the end of a step, and what it is above the logarithm through what came before, each made up to the whole step.
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
    return Look(seen=tuple(seen)) if seen else Look(idle=f"no hold, shear or recovery with times and {FEWEST} points in each part")


def _rise(time: FloatArray, stress: FloatArray) -> tuple[float, float] | None:
    """Return the relative rise over a step by what does not slow down, and its standard error; the smaller of the two ways."""
    usable = np.isfinite(stress)
    inside = [usable & (time >= first * time[-1]) & (time <= last * time[-1]) for first, last in WINDOWS]
    if min(int(one.sum()) for one in inside) < FEWEST:
        return None
    at, logarithm, level = (np.array([float(np.mean(values[one])) for one in inside]) for values in (time, np.log(time), stress))
    if not level[1] > 0.0:
        return None
    spread = (noise_of(stress[usable]) / level[1]) ** 2 / np.array([one.sum() for one in inside])
    early, late = (level[1] - level[0]) / level[1], (level[2] - level[1]) / level[1]
    share = (logarithm[2] - logarithm[1]) / (logarithm[1] - logarithm[0]) if early > 0.0 else 0.0
    ways = []
    for taken in (0.0, share):
        length = (at[2] - at[1] - taken * (at[1] - at[0])) / time[-1]
        error = math.sqrt(spread[2] + (1.0 + taken) ** 2 * spread[1] + taken**2 * spread[0])
        ways.append((float((late - taken * early) / length), float(error / length)))
    return min(ways, key=lambda way: way[0] - BY_CHANCE * way[1])


DRYING = Check(
    name="drying",
    kinds=HELD,
    number="relative rise over a step by what does not slow down as a logarithm of time, less 4 standard errors",
    look=drying,
    limit=0.05,
    unit="1",
    source="common practice, no source: 5 % at a repeated point",
)
