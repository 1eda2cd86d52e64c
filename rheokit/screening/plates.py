"""Parallel plates read by the formula of a Newtonian liquid."""

from __future__ import annotations

import numpy as np

from rheokit.base.run import Run, Step
from rheokit.geometry import ParallelPlates
from rheokit.screening.check import Check, Look, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import SWEEPS, flowing, line_through, sheared

__all__ = ["UNCORRECTED_PLATES"]

SAME = 0.005
"""Relative: a stress this near to the apparent one is the apparent one, for five digits and a radius of three."""
WINDOW = 7
BY_CHANCE = 4.0
"""Standard errors of a slope that are taken off: one stretch of many is flat by chance."""


def uncorrected_plates(run: Run, known: Known) -> Look:
    """Take how much too high the apparent stress at the rim is: `4/(3 + n)`, n being the slope of the curve in log-log.

    A slope within seven points by a straight line; the flattest stretch is the worst.
    """
    if not isinstance(known.geometry, ParallelPlates):
        if known.geometry is None:
            return Look(blind="the geometry is not known; where it is parallel plates, write it into the preamble")
        return Look(idle="only for parallel plates")
    seen = []
    for step in flowing(run, *SWEEPS):
        corrected = _corrected(step, known.geometry)
        if corrected is None:
            return Look(blind="there is no torque to tell whether the stress at the rim was corrected: export the torque")
        if corrected:
            continue
        worst = _worst(step)
        if worst is not None:
            slope, excess, margin = worst
            words = (
                f"step {step.number} ({step.kind}): the stress at the rim is the apparent one, up to {excess:.1%} too high where the "
                f"slope of the curve in log-log is {slope:.2f}; correct it with rim_flow"
            )
            seen.append(Seen(value=excess, words=words, step=step, margin=margin))
    return Look(seen=tuple(seen))


def _corrected(step: Step, plates: ParallelPlates) -> bool | None:
    """Tell whether the stress differs from the apparent one, None without a torque."""
    torque = step.columns.get("torque")
    if torque is None:
        return None
    usable = np.isfinite(torque) & np.isfinite(step.shear_stress) & (torque > 0.0)
    if not usable.any():
        return None
    return abs(float(np.median(step.shear_stress[usable] / plates.shear_stress(torque[usable]))) - 1.0) > SAME


def _worst(step: Step) -> tuple[float, float, float] | None:
    """Return the slope of the stretch where the stress is most surely too high, by how much it is, and what chance may add."""
    rate, stress = sheared(step)
    order = np.argsort(rate, kind="stable")
    x, y = np.log(rate[order]), np.log(stress[order])
    lines = [line_through(x[at : at + WINDOW], y[at : at + WINDOW]) for at in range(0, x.size - WINDOW + 1, WINDOW)]
    known = [(float(np.clip(line[0], 0.0, 1.0)), line[1]) for line in lines if line is not None]
    found = [(slope, 4.0 / (3.0 + slope) - 1.0, BY_CHANCE * error * 4.0 / (3.0 + slope) ** 2) for slope, error in known]
    return max(found, key=lambda one: one[1] - one[2]) if found else None


UNCORRECTED_PLATES = Check(
    name="uncorrected_plates",
    kinds=SWEEPS,
    number="apparent over true stress at the rim, less one: 4/(3 + n) - 1, less 4 standard errors",
    look=uncorrected_plates,
    limit=0.02,
    unit="1",
    source="our own setting: the repeatability of a good laboratory; at most 33 %, by integration over the plate",
)
