"""Flow that is no longer simple shear: secondary flow under a cone, vortices between cylinders."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.geometry import ConcentricCylinders, ConePlate
from rheokit.screening.check import Check, Look, Rung, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import FLOWING, flowing, sheared

__all__ = ["SECONDARY_FLOW", "TAYLOR_VORTICES"]

NO_DENSITY = "the density is not known: write 'Density' into the preamble"
EXCESS = 6e-4
"""Of the torque over that of simple shear, for each square of the Reynolds number."""


def secondary_flow(run: Run, known: Known) -> Look:
    """Take by how much secondary flow raises the torque of a cone: `6e-4 Re²`, `Re = ρ Ω (R α)²/η`."""
    if not isinstance(known.geometry, ConePlate):
        return _no_geometry(known, "a cone and plate")
    if known.density is None:
        return Look(blind=NO_DENSITY)
    angle, rim, density = known.geometry.angle, known.geometry.radius * known.geometry.angle, known.density

    def excess(rate: FloatArray, stress: FloatArray) -> FloatArray:
        return np.asarray(EXCESS * (density * rate * angle * rim**2 * rate / stress) ** 2, dtype=np.float64)

    def words(step: Step, rate: float, value: float) -> str:
        reynolds = number(float(np.sqrt(value / EXCESS)), 3)
        return (
            f"step {step.number} ({step.kind}): at {number(rate, 3)} 1/s the Reynolds number is {reynolds} and secondary flow raises the "
            f"torque by {value:.1%}; the thickening is not the sample's: use a smaller angle or lower rates"
        )

    return _largest(run, excess, words)


def taylor_vortices(run: Run, known: Known) -> Look:
    """Take the Taylor number `ρ² Ω² (Rₒ - Rᵢ)³ Rᵢ/η²` between cylinders of which the inner one turns."""
    cylinders = known.geometry
    if not isinstance(cylinders, ConcentricCylinders):
        return _no_geometry(known, "concentric cylinders")
    if known.density is None:
        return Look(blind=NO_DENSITY)
    length = (cylinders.outer_radius - cylinders.inner_radius) ** 3 * cylinders.inner_radius * known.density**2

    def taylor(rate: FloatArray, stress: FloatArray) -> FloatArray:
        return np.asarray(length * cylinders.angular_velocity(rate) ** 2 * (rate / stress) ** 2, dtype=np.float64)

    def words(step: Step, rate: float, value: float) -> str:
        return (
            f"step {step.number} ({step.kind}): at {number(rate, 3)} 1/s the Taylor number ρ² Ω² (Rₒ - Rᵢ)³ Rᵢ/η² is {number(value, 3)}; "
            "vortices raise the torque: use a narrower gap or lower rates"
        )

    return _largest(run, taylor, words)


def _no_geometry(known: Known, wanted: str) -> Look:
    if known.geometry is None:
        return Look(blind=f"the geometry is not known; where it is {wanted}, write it into the preamble")
    return Look(idle=f"only for {wanted}")


def _largest(run: Run, size: Callable[[FloatArray, FloatArray], FloatArray], words: Callable[[Step, float, float], str]) -> Look:
    """Return the largest size of each step."""
    seen = []
    for step in flowing(run, *FLOWING):
        rate, stress = sheared(step)
        if not rate.size:
            continue
        sizes = size(rate, stress)
        place = int(np.argmax(sizes))
        value = float(sizes[place])
        seen.append(Seen(value=value, words=words(step, float(rate[place]), value), step=step))
    return Look(seen=tuple(seen)) if seen else Look(idle="no sheared points")


SECONDARY_FLOW = Check(
    name="secondary_flow",
    kinds=FLOWING,
    number="6e-4 Re², Re = ρ Ω (R α)²/η",
    look=secondary_flow,
    limit=0.01,
    unit="1",
    source="from memory, no source: 1 % at Re 4; 5 % our own setting",
    ladder=(Rung(severity="caution"), Rung(severity="invalid", times=5.0)),
)

TAYLOR_VORTICES = Check(
    name="taylor_vortices",
    kinds=FLOWING,
    number="ρ² Ω² (Rₒ - Rᵢ)³ Rᵢ/η²",
    look=taylor_vortices,
    limit=1700.0,
    unit="1",
    source="from memory, no source: 1700 by this definition, in a narrow gap; 0.8 of it with care, our own setting",
    ladder=(Rung(severity="caution", times=0.8), Rung(severity="invalid")),
    lowest=1.0,
    highest=1e4,
)
