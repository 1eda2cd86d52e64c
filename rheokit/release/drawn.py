"""What the figures of a record draw beside the measured points: the fitted law with its band, and the residuals."""

from __future__ import annotations

from typing import Any

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.run import Batch, Run, Step
from rheokit.characteristics import settled_points
from rheokit.fitting import fit_flow_curve
from rheokit.release.record import estimate_document

__all__ = ["fits_of"]

LAW = "herschel_bulkley"
GRID = 41
"""Points at which a fitted line and its band are drawn."""


def fits_of(batch: Batch) -> list[dict[str, Any]]:
    """Return the fit of each load's flow curve: its steady steps, or where there are none the down leg of its loop."""
    found = []
    for test, loads in sorted(batch.runs.items()):
        for run in loads:
            place = batch.places.get(run.name)
            step = next((step for kind in ("steady", "down") for step in run.steps if step.kind == kind), None)
            if step is not None and (place is None or place.role == "batch"):
                found.append({"test": test, "run": run.name, "step": step.number, "kind": step.kind, **_fit(run, step)})
    return found


def _fit(run: Run, step: Step) -> dict[str, Any]:
    curve = settled_points(step)
    try:
        fit = fit_flow_curve(curve, LAW)
        grid = np.geomspace(curve.shear_rate.min(), curve.shear_rate.max(), GRID)
        band = fit.band(grid, 0.95)
    except FitError as error:
        return {"law": LAW, "reason": f"no {LAW.replace('_', '-')} line for {run.name}: {error}", "parameters": []}
    return {
        "law": LAW,
        "reason": "",
        "parameters": [estimate_document(estimate) for estimate in fit.parameters.values()],
        "shear_rate": curve.shear_rate.tolist(),
        "relative_residual": _finite(curve.shear_stress / fit.stress(curve.shear_rate) - 1.0),
        "grid": grid.tolist(),
        "fitted": _finite(fit.stress(grid)),
        "lower": _finite(band.lower),
        "upper": _finite(band.upper),
    }


def _finite(values: FloatArray) -> list[float | None]:
    return [value if np.isfinite(value) else None for value in np.asarray(values, dtype=float).tolist()]
