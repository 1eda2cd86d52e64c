"""The vane: static yield stress from the highest torque as a vane begins to turn in a gel that was not disturbed by loading."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.estimate import Estimate
from rheokit.geometry import Vane
from rheokit.yielding.peak import StressOvershoot, stress_overshoot
from rheokit.yielding.reading_off import stated

__all__ = ["static_yield_stress_vane", "vane_torque_peak"]

_NAME = "static_yield_stress_vane"
_SOURCE = "M = (π d³/2)(h/d + 1/3) τ"


def static_yield_stress_vane(torque: float, vane: Vane, *, rest: float | None = None) -> Estimate:
    """Return the static yield stress of a single highest torque.

    Parameters
    ----------
    torque
        Highest torque [N·m].
    vane
        Its dimensions.
    rest
        How long the sample rested before [s].

    Raises
    ------
    FitError
        When the torque is not positive.

    References
    ----------
    Steffe, Rheological Methods in Food Process Engineering, 2nd ed. 1996, p. 246.
    """
    if not torque > 0.0:
        raise FitError(f"the highest torque of a vane is positive, not {torque!r} N·m")
    return Estimate(
        name=_NAME, value=vane.shear_stress(torque), unit="Pa", standard_error=None, reason="one torque shows no scatter",
        method=f"highest torque of a vane, {_SOURCE}", conditions=stated("vane, highest torque", rest=rest),
    )  # fmt: skip


def vane_torque_peak(time: FloatArray, torque: FloatArray, vane: Vane, *, rest: float | None = None) -> StressOvershoot:
    """Return the static yield stress of a torque [N·m] over time [s] since the vane began to turn, (N,), by the peak of its overshoot.

    Raises
    ------
    FitError
        When there are too few points.
    """
    return stress_overshoot(
        time, vane.shear_stress(np.asarray(torque, dtype=np.float64)), rest=rest, name=_NAME, what=("vane, torque peak", f"; {_SOURCE}")
    )
