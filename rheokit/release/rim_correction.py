"""Parallel plates: the stress that an export gives is apparent, and is corrected before any number is released from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal, NamedTuple

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import GeometryError
from rheokit.base.finding import Finding, Severity
from rheokit.base.run import Batch, Run, Step
from rheokit.base.settled import settled_points
from rheokit.geometry import ParallelPlates, geometry_named, single_point_factor
from rheokit.geometry.slopes import slope_weights
from rheokit.release.instrument import Instrument
from rheokit.release.instrument_findings import geometry_of_run
from rheokit.release.method import Correction, Method
from rheokit.release.specification import Specification

__all__ = ["Corrected", "corrected_at_the_rim"]

SWEEPS = ("up", "down", "steady")
"""Kinds of step with a flow curve, from whose slope the stress at the rim is corrected."""
YIELDS = ("startup", "stress_ramp", "amplitude_sweep", "creep")
"""Kinds of step from which a stress is read, and which have no such slope."""
SAME_STRESS = 0.005
"""Relative: an export's stress and the apparent one of its torque, both rounded to three digits or more, agree this well."""


class Corrected(NamedTuple):
    """A batch with the true stress at the rim where it was measured between plates, and what was done, run by run."""

    batch: Batch
    findings: Mapping[str, tuple[Finding, ...]]
    single_point: frozenset[str]
    """Runs that were corrected by the single-point rule, which adds an uncertainty of its own."""


def corrected_at_the_rim(batch: Batch, specification: Specification) -> Corrected:
    """Return the batch with each run between parallel plates corrected as the method says: by the local slope where it says nothing.

    True stress at the rim: apparent stress times (3 + n)/4 with n the slope d ln M/d ln rate, exact for any flow law; by the single-point
    rule rate and stress are both the same fraction of the apparent ones. Where an export holds the torque, its stress is held against
    it: a stress that is not the apparent one is corrected already and left alone.

    References
    ----------
    `rheokit.geometry.rim`: Steffe, Rheological Methods in Food Process Engineering, 2nd ed. (1996), p. 229; the single-point rule.
    """
    found: dict[str, tuple[Finding, ...]] = {}
    by_single_point = set()
    runs: dict[str, tuple[Run, ...]] = {}
    for test, loads in batch.runs.items():
        method = specification.methods.get(test)
        kept = []
        for run in loads:
            if not _between_plates(run, method, specification.instrument):
                kept.append(run)
                continue
            rule: Correction = (method.correction if method else None) or "local"
            corrected, findings = _corrected(run, rule, specification.instrument)
            kept.append(corrected)
            found[run.name] = tuple(finding.at(run.name) for finding in findings)
            if rule == "single point" and corrected is not run:
                by_single_point.add(run.name)
        runs[test] = tuple(kept)
    return Corrected(replace(batch, runs=runs) if found else batch, found, frozenset(by_single_point))


def _between_plates(run: Run, method: Method | None, instrument: Instrument | None) -> bool:
    """Tell whether a run was measured between parallel plates.

    By what its stress was derived with (a layout or batch file may say it), its preamble, else the instrument file, else the method.
    """
    if _derived_between_plates(run):
        return True
    try:
        named = geometry_named(run.metadata)
        if named is None and instrument is not None:
            named = instrument.geometry.name
        if named is None and method is not None and method.geometry is not None:
            named = geometry_named({"Geometry": method.geometry})
    except GeometryError:  # a geometry that we do not know is not these plates
        return False
    return named == ParallelPlates.name


def _derived_between_plates(run: Run) -> bool:
    """Tell whether reading derived the stress from the torque as the apparent one at the rim."""
    return any(
        finding.check == "derived_column" and ParallelPlates.source in finding.reason and "shear stress" in finding.reason
        for finding in run.findings
    )


def _corrected(run: Run, rule: Correction, instrument: Instrument | None) -> tuple[Run, tuple[Finding, ...]]:
    state = _state(run, instrument)
    if state == "corrected":
        said = "the stress is not the apparent one of the torque: the export corrects it, and it is taken as it stands"
        return run, (_finding("info", said),)
    if rule == "none":
        said = (
            "the stress at the rim of parallel plates is apparent and not corrected, as the method asks: of an ink with a yield stress "
            "it is up to 33 % too high; write correction = 'local' in the method"
        )
        return run, (_finding("caution", said),)
    steps, changes = [], []
    for step in run.steps:
        corrected, factors = _step(step, rule)
        steps.append(corrected)
        changes.append(factors)
    every = np.concatenate(changes) if changes else np.empty(0)
    if not every.size:
        said = "no step has a flow curve from whose slope the stress at the rim of parallel plates could be corrected: it is apparent, "
        return run, (_finding("caution", f"{said}up to 33 % too high"),)
    findings = [_said(rule, every, state)]
    if left := [f"{step.number} ({step.kind})" for step in run.steps if step.kind in YIELDS]:
        said = f"step {', '.join(left)} has no flow curve to correct it by: its stress stays apparent, up to 33 % too high at a yield"
        findings.append(_finding("caution", said))
    return replace(run, steps=tuple(steps)), tuple(findings)


def _finding(severity: Severity, reason: str) -> Finding:
    return Finding(check="rim_correction", severity=severity, reason=reason)


def _said(rule: Correction, factors: FloatArray, state: Literal["apparent", "not known"]) -> Finding:
    lowest, highest = 100.0 * (float(factors.min()) - 1.0), 100.0 * (float(factors.max()) - 1.0)
    by = f"{lowest:+.1f}" if round(lowest, 1) == round(highest, 1) else f"{lowest:+.1f} to {highest:+.1f}"
    what = "rate and stress were changed" if rule == "single point" else "the stress was changed"
    said = f"parallel plates, corrected by the {rule} {'rule' if rule == 'single point' else 'slope'}: {what} by {by} %"
    if state == "apparent":
        return _finding("info", f"{said}; before, it was the apparent one of the torque")
    remedy = "export the torque to show it, or write correction = 'none' in the method where the export corrects it already"
    return _finding("caution", f"{said}; the export's stress was taken for the apparent one at the rim: {remedy}")


def _state(run: Run, instrument: Instrument | None) -> Literal["apparent", "corrected", "not known"]:
    """Hold the stress of an export against the apparent one of its torque, where the radius is known and both are there."""
    if _derived_between_plates(run):
        return "apparent"
    plates = geometry_of_run(run) or (instrument.geometry if instrument else None)
    if not isinstance(plates, ParallelPlates):
        return "not known"
    ratios = []
    for step in run.steps:
        if step.kind in SWEEPS and {"torque", "shear_stress"} <= set(step.columns):
            apparent = plates.shear_stress(step.columns["torque"])
            usable = np.isfinite(apparent) & np.isfinite(step.shear_stress) & (apparent > 0.0) & (step.shear_stress > 0.0)
            ratios.append(step.shear_stress[usable] / apparent[usable])
    every = np.concatenate(ratios) if ratios else np.empty(0)
    if not every.size:
        return "not known"
    return "apparent" if abs(float(np.median(every)) - 1.0) <= SAME_STRESS else "corrected"


def _step(step: Step, rule: Correction) -> tuple[Step, FloatArray]:
    """Return a step with the true stress, and the factors by which it was changed; of none where it has no flow curve."""
    untouched = step, np.empty(0)
    if step.kind not in SWEEPS or not {"shear_rate", "shear_stress"} <= set(step.columns):
        return untouched
    rate, stress = step.shear_rate, step.shear_stress
    usable = np.isfinite(rate) & np.isfinite(stress) & (rate > 0.0) & (stress > 0.0)
    if not usable.any():
        return untouched
    if rule == "single point":
        factor = single_point_factor()[0]
        return _changed(step, rate * factor, stress * factor), np.array([factor])
    try:
        factors = np.ones(rate.size)
        factors[usable] = (3.0 + _slopes(step, np.log(rate[usable]), rule)) / 4.0
    except GeometryError:  # too few points: what is read from them is refused where it is read
        return untouched
    return _changed(step, rate, stress * factors), factors[usable]


def _slopes(step: Step, at: FloatArray, rule: Correction) -> FloatArray:
    """Return d ln M/d ln rate at logarithms of rates: of the points that count, one for each stair, and between them by its rate."""
    curve = settled_points(step)
    logs = np.log(curve.shear_rate)
    slopes = slope_weights(logs, "global" if rule == "global" else "smoothed") @ np.log(curve.shear_stress)
    order = np.argsort(logs, kind="stable")
    # A gel's stress does not fall as the rate rises: a negative slope is scatter, or the sample leaving the gap.
    return np.asarray(np.interp(at, logs[order], np.maximum(slopes[order], 0.0)))


def _changed(step: Step, rate: FloatArray, stress: FloatArray) -> Step:
    columns = {**step.columns, "shear_rate": rate, "shear_stress": stress}
    if "viscosity" in columns:
        with np.errstate(divide="ignore", invalid="ignore"):
            columns["viscosity"] = np.where(rate > 0.0, stress / rate, step.columns["viscosity"])
    return replace(step, columns=columns)
