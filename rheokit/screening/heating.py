"""Heat that the shear itself makes."""

from __future__ import annotations

import numpy as np

from rheokit.base.run import Run
from rheokit.base.show import number
from rheokit.screening.check import Check, Look, Rung, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import FLOWING, flowing, sheared

__all__ = ["VISCOUS_HEATING"]

FALL_PER_KELVIN = 0.07
"""1/K: of the viscosity near 20 °C at an activation energy of 50 kJ/mol, E/(R T²)."""
CONDUCTIVITY = 0.15
"""W/(m·K): thermal conductivity of an organic liquid, from memory; 0.1 to 0.2 is usual, and a filler raises it."""


def viscous_heating(run: Run, known: Known) -> Look:
    """Take the largest Nahme number `β τ γ̇ h²/k` of each step, at the widest gap; both walls are held at their temperature."""
    gap = known.gap
    if gap is None:
        return Look(blind="the gap is not known: write the geometry into the preamble")
    seen = []
    for step in flowing(run, *FLOWING):
        rate, stress = sheared(step)
        if not rate.size:
            continue
        place = int(np.argmax(rate * stress))
        warmth = float((rate * stress)[place]) * gap**2 / CONDUCTIVITY
        nahme = FALL_PER_KELVIN * warmth
        words = (
            f"step {step.number} ({step.kind}): at {number(float(rate[place]), 3)} 1/s the Nahme number is {number(nahme, 3)} and the "
            f"middle of the gap about {number(warmth / 8.0, 2)} K warmer than the walls (taking {CONDUCTIVITY} W/(m·K), and "
            f"{FALL_PER_KELVIN:.0%} of the viscosity for 1 K); use a narrower gap or lower rates"
        )
        seen.append(Seen(value=nahme, words=words, step=step))
    return Look(seen=tuple(seen)) if seen else Look(idle="no sheared points")


VISCOUS_HEATING = Check(
    name="viscous_heating",
    kinds=FLOWING,
    number="Nahme number β τ γ̇ h²/k",
    look=viscous_heating,
    limit=0.1,
    unit="1",
    source="common practice, no source: 0.1 for quality control, 1 at most",
    ladder=(Rung(severity="caution"), Rung(severity="invalid", times=10.0)),
    highest=10.0,
)
