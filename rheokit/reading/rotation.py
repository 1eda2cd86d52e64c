"""The direction of rotation: a step turned the other way is read with its signs changed, and that is said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding

__all__ = ["turned_forward"]

_SIGNED = ("shear_rate", "shear_stress", "torque", "angular_velocity", "shear_strain")

LEAST_PART = 1e-5
"""Of the run's top rate: what is slower rests, and has no direction."""

Columns = dict[str, FloatArray]


def turned_forward(parts: Sequence[Mapping[str, FloatArray]]) -> tuple[list[Columns], dict[int, Finding], tuple[Finding, ...]]:
    """Return the steps with positive rates where the rotation was reversed.

    Parameters
    ----------
    parts
        Columns of each step, quantity name to values [SI].

    Returns
    -------
    parts, by_step, of_run
        The steps; a finding for each step, by its index, that alone was turned; and what holds for the whole run.
    """
    signs = [_sign(part, _top(parts)) for part in parts]
    turning = [sign for sign in signs if sign]
    if -1 not in turning:
        return [dict(part) for part in parts], {}, ()
    if all(sign == -1 for sign in turning):
        reason = "the rotation is reversed: rate, stress, torque, speed and strain are read with the opposite sign"
        return [_turned(part) for part in parts], {}, (Finding(check="rotation", severity="info", reason=reason),)
    reason = (
        "this step turns the other way than others of the run; its rate, stress, torque, speed and strain are read with the opposite sign"
    )
    said = {index: Finding(check="rotation", severity="caution", reason=reason) for index, sign in enumerate(signs) if sign == -1}
    return [_turned(part) if index in said else dict(part) for index, part in enumerate(parts)], said, ()


def _top(parts: Sequence[Mapping[str, FloatArray]]) -> float:
    return max((float(np.fmax.reduce(np.abs(part["shear_rate"]), initial=0.0)) for part in parts if "shear_rate" in part), default=0.0)


def _sign(part: Mapping[str, FloatArray], top: float) -> int:
    """Return -1 for a step that turns backwards in rate and, where it was exported, in stress; 1 forwards; 0 for neither.

    Recoil is a negative rate without stress, and no reversed rotation.
    """
    rate = part.get("shear_rate", np.empty(0))
    stress = part.get("shear_stress", -np.ones_like(rate) if rate.size else rate)
    moving = np.abs(rate) > LEAST_PART * top
    if not moving.any():
        return 0
    backwards = np.count_nonzero(rate[moving] < 0.0) / np.count_nonzero(moving)
    if backwards < 0.5:
        return 1
    pushed = stress[moving][np.isfinite(stress[moving])]
    return -1 if backwards > 0.9 and pushed.size and np.count_nonzero(pushed < 0.0) > 0.9 * pushed.size else 0


def _turned(part: Mapping[str, FloatArray]) -> Columns:
    # Adding nothing turns minus zero into zero.
    return {name: -values + 0.0 if name in _SIGNED else values for name, values in part.items()}
