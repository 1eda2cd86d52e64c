"""The inertia of what turns: its share of the torque in a ramp, and the ringing after a step of the rate."""

from __future__ import annotations

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.screening.check import Check, Look, Rung, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import clock, flowing, noise_of, steadily_held
from rheokit.screening.torque import torque_of

__all__ = ["INSTRUMENT_INERTIA", "RINGING"]


def instrument_inertia(run: Run, known: Known) -> Look:
    """Take the largest part of the torque that turning the instrument itself faster or slower needs: `I dΩ/dt` over the torque."""
    steps = flowing(run, "up", "down")
    if not steps:
        return Look(idle="no ramp")
    if known.inertia is None:
        return Look(blind="the moment of inertia is not known: write 'Moment of inertia' into the preamble")
    seen = []
    for step in steps:
        time, speed, torque = clock(step), _speed(step, known), torque_of(step, known)
        if time is None or speed is None or torque is None or time.size < 3:
            continue
        with np.errstate(divide="ignore", invalid="ignore"):
            share = known.inertia * np.abs(np.gradient(speed, time) / torque)
        share[~np.isfinite(share) | (step.shear_rate <= 0.0)] = 0.0
        place = int(np.argmax(share))
        words = (
            f"step {step.number} ({step.kind}): at {number(float(step.shear_rate[place]), 3)} 1/s turning the instrument itself takes "
            f"{share[place]:.1%} of the torque; ramp more slowly"
        )
        seen.append(Seen(value=float(share[place]), words=words, step=step))
    return (
        Look(seen=tuple(seen))
        if seen
        else Look(blind="time, torque and speed of the ramp were not exported: export them, or write the geometry into the preamble")
    )


def _speed(step: Step, known: Known) -> FloatArray | None:
    if "angular_velocity" in step.columns:
        return step.columns["angular_velocity"]
    return None if known.geometry is None else known.geometry.angular_velocity(step.shear_rate)


INSTRUMENT_INERTIA = Check(
    name="instrument_inertia",
    kinds=("up", "down"),
    number="moment of inertia times angular acceleration over torque",
    look=instrument_inertia,
    limit=0.02,
    unit="1",
    source="common practice, no source: 1 to 2 % of the torque; 10 % our own setting",
    ladder=(Rung(severity="caution"), Rung(severity="invalid", times=5.0)),
)

BEGINNING = 12
"""Points after a step of the rate among which ringing is looked for."""
SWINGS = 3
"""Turns back and forth that make a course ring; thixotropy turns back once at most."""
BY_CHANCE = 6.0
"""Standard deviations of a point that a swing of scatter stays below: the least of three in a row."""


def ringing(run: Run, _: Known) -> Look:
    """Take the least of three swings in a row at the beginning of a held step, each against the one before."""
    seen = []
    for step in flowing(run, "hold", "shear", "recovery", "startup"):
        stress = step.shear_stress[np.isfinite(step.shear_stress)]
        if stress.size < BEGINNING + 5 or not steadily_held(step):
            continue
        level = abs(float(np.median(stress[-(stress.size // 2) :])))
        if not level > 0.0:
            continue
        swing = _swing(stress[:BEGINNING]) / level
        words = (
            f"step {step.number} ({step.kind}): after the rate was set the stress swings {SWINGS} times by {swing:.1%} or more; "
            "leave out the first points: they show the instrument"
        )
        seen.append(Seen(value=swing, words=words, step=step, margin=BY_CHANCE * noise_of(stress[BEGINNING:]) / level))
    return Look(seen=tuple(seen)) if seen else Look(idle=f"no step at one rate of {BEGINNING + 5} points or more")


def _swing(values: FloatArray) -> float:
    """Return the largest height that so many swings in a row, from turning point to turning point, all reach."""
    turns = np.flatnonzero(np.diff(values)[:-1] * np.diff(values)[1:] < 0.0) + 1
    heights = np.abs(np.diff(values[turns]))
    if heights.size < SWINGS:
        return 0.0
    return float(max(heights[at : at + SWINGS].min() for at in range(heights.size - SWINGS + 1)))


RINGING = Check(
    name="ringing",
    kinds=("hold", "shear", "recovery", "startup"),
    number="least of three swings in a row after a step of the rate, over the stress, less 6 standard deviations of a point",
    look=ringing,
    limit=0.05,
    unit="1",
    source="our own setting: beyond what scatter leaves, and 5 %",
)
