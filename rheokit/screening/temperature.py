"""Whether the temperature was recorded and held."""

from __future__ import annotations

import numpy as np

from rheokit.base.finding import Finding
from rheokit.base.run import Run
from rheokit.screening.check import Check, Look, Seen
from rheokit.screening.known import Known
from rheokit.screening.steps import FLOWING

__all__ = ["TEMPERATURE_KNOWN", "temperature_unknown"]

ABSENT = "no temperature was recorded; 2 °C are about 15 % of the viscosity, so export the temperature column"


def temperature_known(run: Run, _: Known) -> Look:
    """Take how far the temperature moved while the run was measured."""
    held = [step.columns["temperature"] for step in run.steps if "temperature" in step.columns and step.kind != "temperature_ramp"]
    values = np.concatenate(held) if held else np.empty(0)
    values = values[np.isfinite(values)]
    if values.size == 0:
        return Look(blind=ABSENT)
    spread = float(values.max() - values.min())
    words = f"the temperature moved by {spread:.2f} K during the run; let it settle before measuring"
    return Look(seen=(Seen(value=spread, words=words),))


def temperature_unknown(run: Run) -> tuple[Finding, ...]:
    """Return a caution when no temperature was recorded: unlike the other things that are not known, this one spoils every number."""
    if temperature_known(run, Known()).blind and any(step.kind != "temperature_ramp" for step in run.steps):
        return (Finding(check="temperature_known", severity="caution", reason=ABSENT),)
    return ()


TEMPERATURE_KNOWN = Check(
    name="temperature_known",
    kinds=(*FLOWING, "rest", "amplitude_sweep", "frequency_sweep", "creep_recovery"),
    number="highest less lowest temperature of the run",
    look=temperature_known,
    limit=0.5,
    unit="K",
    source="common practice, no source: control to 0.1 K",
    highest=10.0,
)
