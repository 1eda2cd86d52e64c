"""Torque near the least that the instrument measures, and stresses that are not positive."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.screening.check import Check, Look, Rung, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import FLOWING, flowing

__all__ = ["STRESS_SIGN", "TORQUE_FLOOR", "torque_of"]

SHARE = 0.2
"""Part of the points of a step that may be lost before the step is."""


def torque_of(step: Step, known: Known) -> FloatArray | None:
    """Return the torque of a step [N·m]: its own column, or from the stress by the geometry, None where neither is there."""
    if "torque" in step.columns:
        return step.columns["torque"]
    return None if known.geometry is None else known.geometry.torque(step.shear_stress)


def torque_floor(run: Run, known: Known) -> Look:
    """Hold the torque against the least that the instrument measures: the lowest of a step, and what a fifth of its points stays below."""
    if known.least_torque is None:
        return Look(blind="the least torque of the instrument is not known: write 'Minimum torque' into the preamble")
    seen: list[Seen] = []
    for step in flowing(run, *FLOWING):
        torque = torque_of(step, known)
        if torque is None:
            return Look(blind="there is no torque, and no geometry to take it from: export the torque")
        counted = np.isfinite(torque) & (step.shear_rate > 0.0)
        if not counted.any():
            continue
        ratio, rate = np.abs(torque[counted]) / known.least_torque, step.shear_rate[counted]
        lowest = int(np.argmin(ratio))
        fifth = float(np.sort(ratio)[int(SHARE * ratio.size)])
        seen += _of_step(step, known.least_torque, (float(ratio[lowest]), float(rate[lowest])), fifth)
    return Look(seen=tuple(seen))


def _of_step(step: Step, least: float, lowest: tuple[float, float], fifth: float) -> list[Seen]:
    begin = f"step {step.number} ({step.kind}): "
    alone = (
        f"{begin}at {number(lowest[1], 3)} 1/s the torque is {number(lowest[0], 3)} times the least of the instrument, "
        f"{number(least, 3)} N·m; leave out points below 3 times, or use a larger measuring body"
    )
    many = (
        f"{begin}a fifth of the points or more have a torque of at most {number(fifth, 3)} times the least of the instrument, "
        f"{number(least, 3)} N·m; use a larger measuring body"
    )
    return [Seen(value=fifth, words=many, step=step), Seen(value=lowest[0], words=alone, step=step, most="caution")]


TORQUE_FLOOR = Check(
    name="torque_floor",
    kinds=FLOWING,
    number="torque over the least torque of the instrument",
    look=torque_floor,
    limit=10.0,
    unit="1",
    source="common practice, no source: 10 times, 3 to 10 times with care; a fifth of the points our own setting",
    ladder=(Rung(severity="caution"), Rung(severity="invalid", times=0.3)),
    falling=True,
    lowest=1.0,
    highest=1e3,
)


def stress_sign(run: Run, _: Known) -> Look:
    """Count points of sheared steps whose stress is not positive: the torque is lost in the instrument's floor."""
    seen = []
    for step in flowing(run, *FLOWING):
        turning = step.shear_rate > 0.0
        lost, count = int(np.sum(turning & (step.shear_stress <= 0.0))), int(turning.sum())
        if count:
            words = (
                f"step {step.number} ({step.kind}): {lost} of {count} sheared points have no positive stress; the torque is below "
                "what the instrument resolves: use a larger measuring body or leave out the low rates"
            )
            seen.append(Seen(value=lost / count, words=words, step=step))
    return Look(seen=tuple(seen))


STRESS_SIGN = Check(
    name="stress_sign",
    kinds=FLOWING,
    number="part of the sheared points without a positive stress",
    look=stress_sign,
    limit=0.2,
    unit="1",
    source="our own setting: a fifth of the points; any is a caution",
    ladder=(Rung(severity="caution", times=0.0), Rung(severity="invalid")),
)
