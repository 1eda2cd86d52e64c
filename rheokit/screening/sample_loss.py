"""Sample lost or changed while it was measured: the repeated conditioning as a reference point, and the down leg beside it."""

from __future__ import annotations

import numpy as np

from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.screening.check import Check, Look, Rung, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import SAME_RATE, clock, flowing, last_third, sheared

__all__ = ["EDGE_FRACTURE", "REFERENCE_POINT", "repeated_shears"]

NO_REFERENCE = "no shear at one rate is repeated, so a lost sample looks like thixotropy: repeat the conditioning at the end"


def repeated_shears(run: Run) -> list[tuple[Step, Step]]:
    """Return the pairs of a shear and a later one at the same rate."""
    shears = [(step, last_third(step.shear_rate)) for step in flowing(run, "shear") if np.isfinite(step.shear_stress).any()]
    pairs = []
    for index, (later, rate) in enumerate(shears):
        earlier = next((step for step, other in shears[:index] if np.isclose(other, rate, rtol=SAME_RATE)), None)
        if earlier is not None:
            pairs.append((earlier, later))
    return pairs


def _change(earlier: Step, later: Step) -> float:
    return last_third(later.shear_stress) / last_third(earlier.shear_stress) - 1.0


def _unsettled(earlier: Step, later: Step, change: float) -> float:
    """Return how much of a change of the stress a conditioning explains that had not levelled off, relative."""
    explaining = (_remaining(earlier),) if change < 0.0 else (_remaining(later), -_remaining(earlier))
    return max(0.0, *explaining)


PACES = np.geomspace(0.1, 1.0, 11)
"""Time constants of a conditioning that are tried, over its length: a longer one is not told from a straight line."""


def _remaining(step: Step) -> float:
    """Return how far the stress of a conditioning still was above its level in the last third, relative, by an exponential through it."""
    usable = np.isfinite(step.shear_stress)
    stress = step.shear_stress[usable]
    read = clock(step)
    time = np.arange(stress.size, dtype=np.float64) if read is None else (read - read[0])[usable]
    if stress.size < FEWEST or not time[-1] > 0.0 or not float(np.mean(stress)) > 0.0:
        return 0.0
    courses = np.exp(-time / (PACES[:, None] * time[-1]))
    away = courses - courses.mean(axis=1, keepdims=True)
    heights = away @ stress / np.sum(away**2, axis=1)
    left = np.sum((stress - stress.mean() - heights[:, None] * away) ** 2, axis=1)
    best = int(np.argmin(left))
    return float(heights[best] * courses[best, -(stress.size // 3) :].mean() / np.mean(stress))


FEWEST = 6
"""Points of a conditioning that show whether it levelled off."""


def reference_point(run: Run, _: Known) -> Look:
    """Hold the end of a repeated conditioning against the end of the first one at the same rate.

    Thixotropy has been sheared out of both, so a lasting fall is lost sample (edge fracture, ejected ink) and a lasting rise is drying. A
    conditioning that had not levelled off explains a part of the change, which is taken off.
    """
    seen = []
    for earlier, later in repeated_shears(run):
        change = _change(earlier, later)
        cause = "lower: sample was lost, for example by edge fracture" if change < 0 else "higher: the sample dried"
        words = (
            f"steps {earlier.number} and {later.number} shear at the same {number(last_third(later.shear_rate), 3)} 1/s, but the stress of "
            f"the later is {abs(change):.1%} {cause}; load fresh sample and measure again"
        )
        seen.append(Seen(value=change, words=words, step=later, margin=_unsettled(earlier, later, change)))
    return Look(seen=tuple(seen)) if seen else Look(blind=NO_REFERENCE)


REFERENCE_POINT = Check(
    name="reference_point",
    kinds=("shear",),
    number="change of the stress where the conditioning is repeated, less what one that had not levelled off explains",
    look=reference_point,
    limit=0.05,
    unit="1",
    source="common practice, no source: 5 % at a repeated point",
    ladder=(Rung(severity="invalid"),),
)


def edge_fracture(run: Run, _: Known) -> Look:
    """Take the smaller of two falls: from the up to the down leg at the same rates, and at the repeated conditioning.

    Either alone is no edge fracture: an up leg above the down leg is thixotropy, and so is a stress that falls on the up leg of a
    rested gel.
    """
    legs = {step.kind: step for step in flowing(run, "up", "down")}
    pairs = repeated_shears(run)
    if len(legs) < 2:
        return Look(idle="no up and down leg")
    if not pairs:
        return Look(blind=NO_REFERENCE)
    on_the_leg = _fall_of_down(legs["up"], legs["down"])
    if on_the_leg is None:
        return Look(idle="up and down leg share no rates in the upper half of the down leg")
    earlier, later = pairs[-1]
    reference = -_change(earlier, later)
    margin = _unsettled(earlier, later, -reference)
    words = (
        f"the stress of the down leg is {on_the_leg:.1%} below the up leg in the upper half of its rates, and the conditioning repeated in "
        f"step {later.number} is still {reference:.1%} low: the edge of the sample broke; load fresh sample and measure at lower rates"
    )
    return Look(seen=(Seen(value=max(min(on_the_leg, reference), 0.0), words=words, step=legs["down"], margin=margin),))


def _fall_of_down(up: Step, down: Step) -> float | None:
    """Return the mean relative fall from the up to the down leg in the upper half of the down leg's rates."""
    (up_rate, up_stress), (down_rate, down_stress) = sheared(up), sheared(down)
    if up_rate.size < 2 or down_rate.size < 2:
        return None
    order = np.argsort(up_rate, kind="stable")
    upper = (down_rate >= 0.5 * down_rate.max()) & (down_rate >= up_rate.min()) & (down_rate <= up_rate.max())
    if not upper.any():
        return None
    expected = np.interp(down_rate[upper], up_rate[order], up_stress[order])
    return float(1.0 - np.mean(down_stress[upper] / expected))


EDGE_FRACTURE = Check(
    name="edge_fracture",
    kinds=("up", "down", "shear"),
    number="smaller of the falls from up to down leg and at the repeated conditioning, less what one that had not levelled off explains",
    look=edge_fracture,
    limit=0.05,
    unit="1",
    source="common practice, no source: 5 % at a repeated point",
    ladder=(Rung(severity="invalid"),),
)
