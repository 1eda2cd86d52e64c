"""Particles beside the gap that they pass."""

from __future__ import annotations

from rheokit.base.run import Run
from rheokit.base.show import number
from rheokit.geometry import ConePlate
from rheokit.screening.check import Check, Look, Rung, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import FLOWING

__all__ = ["PARTICLE_GAP"]


def particle_gap(_: Run, known: Known) -> Look:
    """Take the gap over the size of the largest particle."""
    if known.largest_particle is None:
        return Look(blind="the largest particle is not known: write 'Largest particle' into the preamble")
    if isinstance(known.geometry, ConePlate):
        return Look(blind="under the cut tip of a cone the gap is narrower than anything known here: hold it to ten particles by hand")
    if known.gap is None:
        return Look(blind="the gap is not known: write the geometry into the preamble")
    ratio = known.gap / known.largest_particle
    words = (
        f"the gap of {number(known.gap * 1e3, 3)} mm is {number(ratio, 3)} times the largest particle of "
        f"{number(known.largest_particle * 1e6, 3)} µm; particles jam: use a wider gap"
    )
    return Look(seen=(Seen(value=ratio, words=words),))


PARTICLE_GAP = Check(
    name="particle_gap",
    kinds=FLOWING,
    number="gap over the largest particle",
    look=particle_gap,
    limit=10.0,
    unit="1",
    source="common practice, no source: ten times; three times our own setting",
    ladder=(Rung(severity="caution"), Rung(severity="invalid", times=0.3)),
    falling=True,
    lowest=1.0,
    highest=100.0,
)
