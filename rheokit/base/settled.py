"""The points of a step that count as a flow curve."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FlowCurve
from rheokit.base.run import Step

__all__ = ["settled_points"]

SAME_RATE = 0.02
"""Relative; rows in a row of a staircase whose rates differ by less were taken at one set rate."""


def settled_points(step: Step) -> FlowCurve:
    """Return the usable points of a step: rate and stress positive and finite; of a stair, the last row at each rate.

    Only the last row of a stair has had the whole time to settle. On a ramp every row is a point of its own.
    """
    rate, stress = step.shear_rate, step.shear_stress
    usable = np.isfinite(rate) & np.isfinite(stress) & (rate > 0.0) & (stress > 0.0)
    rate, stress = rate[usable], stress[usable]
    if step.kind == "steady" and rate.size > 1:
        last = np.append(np.abs(np.diff(rate)) > SAME_RATE * rate[:-1], True)
        rate, stress = rate[last], stress[last]
    return FlowCurve(rate, stress, name=step.kind)
