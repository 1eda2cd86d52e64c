"""Whether the points of steady steps were waited for: the torque has levelled off, and the sample was strained enough."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.screening.check import Check, Look, Rung, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import clock, flowing, held_stretches, line_through

__all__ = ["NOT_STEADY", "STRAIN_REACHED"]

BY_CHANCE = 4.0
"""Standard errors that are taken off the drift of a point; a steady step has twenty points, each of which may be wrong by chance."""
FEWEST = 5


def not_steady(run: Run, _: Known) -> Look:
    """Take the drift of the stress over the last third of every point of a steady step, where the course of a point was exported."""
    seen = []
    steps = flowing(run, "steady")
    if not steps:
        return Look(idle="no steady step")
    for step in steps:
        time = clock(step)
        if time is None:
            continue
        for stretch in held_stretches(step):
            drift = _drift(time[stretch], step.shear_stress[stretch])
            if drift is None:
                continue
            words = (
                f"step {step.number} ({step.kind}): at {number(float(step.shear_rate[stretch][-1]), 3)} 1/s the stress still changes by "
                f"{drift[0]:.1%} in the last third of the point; wait longer at each rate"
            )
            seen.append(Seen(value=drift[0], words=words, step=step, margin=BY_CHANCE * drift[1]))
    return (
        Look(seen=_worst_first(seen))
        if seen
        else Look(
            blind=f"the course of the stress inside a steady point was not exported: export {3 * FEWEST} points or more for each rate"
        )
    )


def _drift(time: FloatArray, stress: FloatArray) -> tuple[float, float] | None:
    """Return the relative change by the line through the last third, and its standard error."""
    last = time >= time[-1] - (time[-1] - time[0]) / 3.0 - 1e-9 * abs(time[-1])
    last &= np.isfinite(stress)
    if last.sum() < FEWEST:
        return None
    level = abs(float(np.mean(stress[last])))
    line = line_through(time[last], stress[last])
    if line is None or not level > 0.0:
        return None
    span = float(np.ptp(time[last]))
    return line[0] * span / level, line[1] * span / level


def _worst_first(seen: list[Seen]) -> tuple[Seen, ...]:
    """Order numbers by how sure and large they are, so that of two points of one severity the worse speaks for the step."""
    return tuple(sorted(seen, key=lambda one: one.margin - abs(one.value)))


NOT_STEADY = Check(
    name="not_steady",
    kinds=("steady",),
    number="relative change of the stress over the last third of a point, less 4 standard errors",
    look=not_steady,
    limit=0.02,
    unit="1",
    source="common practice, no source: up to 2 % good, above 5 % not used",
    ladder=(Rung(severity="caution"), Rung(severity="invalid", times=2.5)),
)


def strain_reached(run: Run, _: Known) -> Look:
    """Take the smallest strain that a point of a steady step was given: its rate times the time since the point before it."""
    seen = []
    steps = flowing(run, "steady")
    if not steps:
        return Look(idle="no steady step")
    for step in steps:
        time = clock(step)
        strains = [] if time is None else _strains(step, time)
        if not strains:
            continue
        strain, rate = min(strains)
        words = (
            f"step {step.number} ({step.kind}): the point at {number(rate, 3)} 1/s was given {number(strain, 3)} strain units before it "
            "was recorded, too few for the flow to settle; wait longer at low rates"
        )
        seen.append(Seen(value=strain, words=words, step=step))
    return Look(seen=tuple(seen)) if seen else Look(blind="the times of steady points were not exported: export the time")


def _strains(step: Step, time: FloatArray) -> list[tuple[float, float]]:
    """Return the strain and rate of each point but the first, whose beginning is not recorded."""
    ends = np.array([stretch.stop - 1 for stretch in held_stretches(step)])
    rates, waited = step.shear_rate[ends][1:], np.diff(time[ends])
    return [(float(rate * wait), float(rate)) for rate, wait in zip(rates, waited, strict=True) if np.isfinite(rate) and rate > 0.0]


STRAIN_REACHED = Check(
    name="strain_reached",
    kinds=("steady",),
    number="shear rate times the time a point was waited for",
    look=strain_reached,
    limit=1.0,
    unit="1",
    source="from memory, no source: at least 1 to 5 strain units",
    falling=True,
    lowest=1e-3,
    highest=1e3,
)
