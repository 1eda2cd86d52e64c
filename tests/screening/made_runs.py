"""Runs made by hand for the checks of a measurement: exact numbers, no noise."""

from __future__ import annotations

import numpy as np

from rheokit.base.estimate import Source
from rheokit.base.run import Run, Step

CONE = {"Geometry": "cone-plate", "Cone radius": "12.5 mm", "Cone angle": "2 °"}
PLATES = {"Geometry": "parallel plates", "Plate radius": "12.5 mm", "Gap": "1 mm"}
CYLINDERS = {"Geometry": "concentric cylinders", "Bob radius": "10 mm", "Cup radius": "11 mm", "Bob length": "30 mm", "End factor": "1.10"}


def step(number, kind, rates, stresses, **columns):
    """Return a step with a point each second."""
    rates = np.broadcast_to(np.asarray(rates, dtype=float), np.shape(stresses))
    count = len(stresses)
    held = {"time": np.arange(count, dtype=float), "shear_rate": rates, "shear_stress": np.asarray(stresses, dtype=float)}
    held["temperature"] = np.full(count, 296.15)
    return Step(number=number, kind=kind, controlled="rate", columns={**held, **columns}, rows=(10 * number, 10 * number + 9))


def run(*steps, name="r.csv", findings=(), **metadata):
    """Return a run of some steps."""
    return Run(name=name, steps=steps, metadata=metadata, findings=findings, source=Source(sha256="0" * 64, run=name))


def with_preamble(metadata, *steps, name="r.csv"):
    """Return a run with a preamble."""
    return Run(name=name, steps=steps, metadata=metadata, findings=(), source=Source(sha256="0" * 64, run=name))


def found(findings, check):
    """Return the findings of one check."""
    return [finding for finding in findings if finding.check == check]
