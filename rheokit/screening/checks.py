"""The checks of one run, each with its limit and where the limit comes from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding, Severity
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.statistics.scatter import scatter_about_neighbours

__all__ = ["CHECKS", "Check", "screen"]


@dataclass(frozen=True, kw_only=True)
class Check:
    """One check: its name, the function from a run to findings, its limit, unit, and the source of the limit."""

    name: str
    look: Callable[[Run, float], tuple[Finding, ...]]
    limit: float
    unit: str
    source: str


def _flowing(run: Run) -> list[Step]:
    """Return the steps with both a rate and a stress in which the sample is sheared."""
    return [step for step in run.steps if step.kind != "rest" and {"shear_rate", "shear_stress"} <= set(step.columns) and len(step)]


def _last_third(values: FloatArray) -> float:
    return float(np.nanmedian(values[-max(1, values.size // 3) :]))


def _seen(check: str, severity: Severity, step: Step, ratio: float, limit: float, reason: str) -> Finding:  # noqa: PLR0917 - one finding's parts
    return Finding(check=check, severity=severity, value=ratio, limit=limit, unit="1", rows=step.rows, reason=reason)


def reference_point(run: Run, limit: float) -> tuple[Finding, ...]:
    """Hold the end of a repeated conditioning against the end of the first one at the same rate.

    Thixotropy has been sheared out of both, so a lasting fall is lost sample (edge fracture, ejected ink) and a lasting rise is drying.
    """
    shears = [step for step in _flowing(run) if step.kind == "shear"]
    found: list[Finding] = []
    for index, later in enumerate(shears):
        rate = _last_third(later.shear_rate)
        earlier = next((step for step in shears[:index] if np.isclose(_last_third(step.shear_rate), rate, rtol=0.02)), None)
        if earlier is None:
            continue
        change = _last_third(later.shear_stress) / _last_third(earlier.shear_stress) - 1.0
        if abs(change) <= limit:
            continue
        cause = "lower: sample was lost, for example by edge fracture" if change < 0 else "higher: the sample dried"
        reason = (
            f"steps {earlier.number} and {later.number} shear at the same {number(rate, 3)} 1/s, but the stress of the later "
            f"is {abs(change):.1%} {cause}; load fresh sample and measure again"
        )
        found.append(_seen("reference_point", "invalid", later, change, limit, reason))
    return tuple(found)


def stress_sign(run: Run, limit: float) -> tuple[Finding, ...]:
    """Count points of sheared steps whose stress is not positive: the torque is lost in the instrument's floor."""
    found = []
    for step in _flowing(run):
        sheared = step.shear_rate > 0.0
        lost, count = int(np.sum(sheared & (step.shear_stress <= 0.0))), int(sheared.sum())
        if lost:
            reason = (
                f"step {step.number} ({step.kind}): {lost} of {count} sheared points have no positive stress; the torque is below "
                "what the instrument resolves: use a larger measuring body or leave out the low rates"
            )
            found.append(_seen("stress_sign", "invalid" if lost > limit * count else "caution", step, lost / count, limit, reason))
    return tuple(found)


def point_scatter(run: Run, limit: float) -> tuple[Finding, ...]:
    """Hold the scatter of the points of a sweep about their neighbours against a limit."""
    found = []
    for step in _flowing(run):
        if step.kind not in {"up", "down", "steady"}:
            continue
        usable = np.isfinite(step.shear_rate) & np.isfinite(step.shear_stress) & (step.shear_rate > 0.0) & (step.shear_stress > 0.0)
        order = np.argsort(step.shear_rate[usable], kind="stable")
        scatter = scatter_about_neighbours(np.log(step.shear_rate[usable][order]), np.log(step.shear_stress[usable][order]))
        if scatter is not None and scatter[0] > limit:
            reason = (
                f"step {step.number} ({step.kind}): the points scatter by {scatter[0]:.1%} about their neighbours; "
                "look for slip, air or a rough edge"
            )
            found.append(_seen("point_scatter", "caution", step, scatter[0], limit, reason))
    return tuple(found)


def missing_values(run: Run, limit: float) -> tuple[Finding, ...]:
    """Count rows of sheared steps without a rate or a stress."""
    found = []
    for step in _flowing(run):
        missing, count = int(np.sum(~np.isfinite(step.shear_rate) | ~np.isfinite(step.shear_stress))), len(step)
        if missing:
            reason = f"step {step.number} ({step.kind}): {missing} of {count} points have no rate or no stress and are left out"
            severity: Severity = "invalid" if missing > limit * count else "caution"
            found.append(_seen("missing_values", severity, step, missing / count, limit, reason))
    return tuple(found)


def temperature_known(run: Run, limit: float) -> tuple[Finding, ...]:
    """Say when the temperature was not recorded, or moved by more than the limit while the sample was sheared."""
    temperatures = [step.columns["temperature"] for step in run.steps if "temperature" in step.columns and step.kind != "temperature_ramp"]
    values = np.concatenate(temperatures) if temperatures else np.empty(0)
    values = values[np.isfinite(values)]
    if values.size == 0:
        reason = "no temperature was recorded; 2 °C are about 15 % of the viscosity, so export the temperature column"
        return (Finding(check="temperature_known", severity="caution", reason=reason),)
    spread = float(values.max() - values.min())
    if spread <= limit:
        return ()
    reason = f"the temperature moved by {spread:.2f} K during the run; let it settle before measuring"
    return (Finding(check="temperature_known", severity="caution", value=spread, limit=limit, unit="K", reason=reason),)


CHECKS: tuple[Check, ...] = (
    Check(name="reference_point", look=reference_point, limit=0.05, unit="1", source="common practice, no source: 5 % at a repeated point"),
    Check(name="stress_sign", look=stress_sign, limit=0.2, unit="1", source="our own setting: a fifth of the points"),
    Check(name="missing_values", look=missing_values, limit=0.2, unit="1", source="our own setting: a fifth of the points"),
    Check(name="point_scatter", look=point_scatter, limit=0.05, unit="1", source="our own setting: twice the scatter of a fair gel run"),
    Check(name="temperature_known", look=temperature_known, limit=0.5, unit="K", source="common practice, no source: control to 0.1 K"),
)


def screen(run: Run) -> tuple[Finding, ...]:
    """Return what every check sees in a run, together with what was seen while reading it."""
    seen = [finding.at(run.name) for finding in run.findings]
    seen += [finding.at(f"{run.name}, step {step.number}") for step in run.steps for finding in step.findings]
    for check in CHECKS:
        seen += [finding.at(run.name) for finding in check.look(run, check.limit)]
    return tuple(seen)
