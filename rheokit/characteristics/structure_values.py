"""Characteristics of the structure: how fast it comes back at rest, and how fast it breaks at a stated rate, from the whole loop test.

From one loop they are known several times less well than from loop and step test together (`fit_structure`), so their errors are wide.
"""

from __future__ import annotations

from dataclasses import replace

from rheokit.base.errors import RangeError
from rheokit.base.estimate import Estimate
from rheokit.base.run import Run, Step
from rheokit.characteristics.characteristic import At, AtRule, Characteristic
from rheokit.thixotropy.kinetics.fit import fit_structure
from rheokit.thixotropy.kinetics.structure_fit import StructureFit

__all__ = ["BREAKDOWN_RATE", "BUILD_UP_RATE"]


def _fit(run: Run) -> StructureFit:
    return fit_structure(loop=run)


def build_up_rate(run: Run, _step: Step | None, _at: At) -> Estimate:
    """Return the rate [1/s] at which lost structure comes back at rest."""
    fit = _fit(run)
    found = fit.parameters["build_up_rate"]
    return replace(found, findings=(*found.findings, *fit.findings))


def breakdown_rate(run: Run, _step: Step | None, at: At) -> Estimate:
    """Return the rate [1/s] at which structure breaks at a stated shear rate."""
    rate = at["shear_rate"]
    if not isinstance(rate, float) or not rate > 0.0:
        raise RangeError(f"a shear rate is one positive number, not {rate!r}")
    fit = _fit(run)
    found = fit.breakdown_rate(rate)
    return replace(found, findings=(*found.findings, *fit.findings))


BUILD_UP_RATE = Characteristic(
    name="build_up_rate",
    quantity="build_up_rate",
    meaning="rate at which lost structure comes back at rest, by a structure law fitted to the whole loop test",
    needs="loop",
    scales="time",
    measure=build_up_rate,
)
BREAKDOWN_RATE = Characteristic(
    name="breakdown_rate",
    quantity="breakdown_rate",
    meaning="rate at which structure breaks at a stated shear rate, by a structure law fitted to the whole loop test",
    needs="loop",
    scales="time",
    at={"shear_rate": AtRule(quantity="shear_rate", meaning="shear rate at which it breaks")},
    measure=breakdown_rate,
)
