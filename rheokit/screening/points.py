"""The points of a step: how far they scatter, which are missing, which stick out."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.run import Run, StepKind
from rheokit.base.show import number
from rheokit.screening.check import Check, Look, Rung, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import SHEARED, SWEEPS, flowing, neighbour_residuals, noise_of, sheared
from rheokit.statistics.scatter import scatter_about_neighbours

__all__ = ["MISSING_VALUES", "POINT_SCATTER", "SPIKES"]


def point_scatter(run: Run, _: Known) -> Look:
    """Take the scatter of the points of a sweep about their neighbours."""
    seen = []
    for step in flowing(run, *SWEEPS):
        rate, stress = sheared(step)
        order = np.argsort(rate, kind="stable")
        scatter = scatter_about_neighbours(np.log(rate[order]), np.log(stress[order]))
        if scatter is not None:
            words = (
                f"step {step.number} ({step.kind}): the points scatter by {scatter[0]:.1%} about their neighbours; "
                "look for slip, air or a rough edge"
            )
            seen.append(Seen(value=scatter[0], words=words, step=step))
    return Look(seen=tuple(seen)) if seen else Look(idle="no sweep of at least five sheared points")


POINT_SCATTER = Check(
    name="point_scatter",
    kinds=SWEEPS,
    number="standard deviation of a stress about the line through its neighbours",
    look=point_scatter,
    limit=0.05,
    unit="1",
    source="our own setting: twice the scatter of a fair gel run",
)


def missing_values(run: Run, _: Known) -> Look:
    """Count rows of sheared steps without a rate or a stress."""
    seen = []
    for step in flowing(run):
        missing, count = int(np.sum(~np.isfinite(step.shear_rate) | ~np.isfinite(step.shear_stress))), len(step)
        words = f"step {step.number} ({step.kind}): {missing} of {count} points have no rate or no stress and are left out"
        seen.append(Seen(value=missing / count, words=words, step=step))
    return Look(seen=tuple(seen)) if seen else Look(idle="no step with a rate and a stress")


MISSING_VALUES = Check(
    name="missing_values",
    kinds=SHEARED,
    number="part of the points without a rate or a stress",
    look=missing_values,
    limit=0.2,
    unit="1",
    source="our own setting: a fifth of the points; any is a caution",
    ladder=(Rung(severity="caution", times=0.0), Rung(severity="invalid")),
)

BY_CHANCE = 6.0
"""Standard deviations of a residual that no point of a run reaches by chance: one in 500 million."""
AT_THE_START = 3
"""Points after a change of course that bend too sharply to tell a spike from."""
LOOKED: tuple[StepKind, ...] = (*SWEEPS, "hold", "shear", "recovery", "startup")


def spikes(run: Run, _: Known) -> Look:
    """Find the point that sticks out farthest from the course of its neighbours: a particle or a bubble passing through the gap."""
    seen = []
    for step in flowing(run, *LOOKED):
        stress = sheared(step)[1][AT_THE_START:]
        course = np.log(stress)
        heights = _heights(course)
        if heights.size < 8:
            continue
        place = int(np.argmax(heights))
        height = float(np.expm1(heights[place]))
        words = (
            f"step {step.number} ({step.kind}): the point of {number(float(stress[2 + place]), 4)} Pa sticks out by {height:.1%} from its "
            "neighbours; look for particles or air, and measure again"
        )
        seen.append(Seen(value=height, words=words, step=step, margin=BY_CHANCE * noise_of(course)))
    return Look(seen=tuple(seen)) if seen else Look(idle="no step of enough sheared points to see a spike")


def _heights(course: FloatArray) -> FloatArray:
    """Return how far each point, but for two at either end, sticks out: 0 where it lies between the two beside it."""
    left = np.abs(neighbour_residuals(course))
    before, after = np.diff(course)[1:-2], -np.diff(course)[2:-1]
    return np.where(before * after > 0.0, np.minimum(left, np.minimum(np.abs(before), np.abs(after))), 0.0)


SPIKES = Check(
    name="spikes",
    kinds=LOOKED,
    number="height of the point farthest from the course of its neighbours, less 6 standard deviations of chance",
    look=spikes,
    limit=0.05,
    unit="1",
    source="our own setting: beyond what scatter leaves, and 5 %",
)
