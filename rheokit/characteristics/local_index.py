"""The local flow index: the slope of stress over rate in log-log around a rate."""

from __future__ import annotations

import numpy as np

from rheokit.base.errors import RangeError
from rheokit.base.run import Step
from rheokit.base.settled import settled_points
from rheokit.geometry.slopes import slope_at

__all__ = ["local_flow_index"]


def local_flow_index(step: Step, rate: float) -> float:
    """Return the slope [1] of ln stress over ln rate around a rate [1/s], of the least-squares parabola through the points near it.

    Those within a factor of two count, and always the nearest three.

    Raises
    ------
    RangeError
        When the step has fewer than three usable points.
    GeometryError
        When they all lie at one rate.
    """
    curve = settled_points(step)
    if curve.shear_rate.size < 3:
        raise RangeError(f"step {step.number} ({step.kind}) has fewer than three points with a positive rate and stress: no flow index")
    return slope_at(np.log(curve.shear_rate), np.log(curve.shear_stress), float(np.log(rate)))
