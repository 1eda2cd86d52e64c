"""Characteristics of the rest-shear-recovery step test."""

from __future__ import annotations

from dataclasses import replace

from rheokit.base.errors import RangeError
from rheokit.base.estimate import Estimate
from rheokit.base.run import Run, Step
from rheokit.characteristics.characteristic import At, AtRule, Characteristic
from rheokit.thixotropy.recovery import StepRecovery, step_recovery
from rheokit.thixotropy.recovery.points import TRACKED

__all__ = ["RECOVERY_VALUES"]


def _recovery(run: Run, step: Step | None, at: At) -> StepRecovery:
    assert step is not None
    tracked = next((name for name in TRACKED if name == at["tracked"]), None)
    if tracked is None:
        raise RangeError(f"a recovery is that of one of {', '.join(TRACKED)}, not {at['tracked']!r}")
    return step_recovery(run, tracked=tracked, step=step.number)


def _amount(at: At, name: str) -> float:
    value = at[name]
    if not isinstance(value, float):
        raise RangeError(f"{name} is one number, not {value!r}")
    return value


def recovery_at_time(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the structural recovery a time after the shear."""
    found = _recovery(run, step, at)
    return _with_findings(found.fraction_at(_amount(at, "time")), found)


def retained_ratio_at_time(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the tracked quantity a time after the shear over that at rest."""
    found = _recovery(run, step, at)
    return _with_findings(found.retained_ratio_at(_amount(at, "time")), found)


def recovery_half_time(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the time [s] until the structural recovery is one half."""
    found = _recovery(run, step, at)
    return _with_findings(found.half_time, found)


def recovery_half_way_time(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the time [s] until half of the way from start to plateau is done."""
    found = _recovery(run, step, at)
    return _with_findings(found.half_way_time, found)


def time_to_recovery(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the time [s] until the structural recovery is the one stated."""
    found = _recovery(run, step, at)
    return _with_findings(found.time_to(_amount(at, "recovery")), found)


def _with_findings(estimate: Estimate, found: StepRecovery) -> Estimate:
    """Return the estimate with its findings placed at its run."""
    source = found.sources[-1].run
    return replace(estimate, findings=tuple(replace(finding, source=f"{source}, {finding.source}") for finding in estimate.findings))


_TRACKED = {"tracked": AtRule(choices=TRACKED, meaning="what is followed while the structure rebuilds")}
_TIME = {"time": AtRule(quantity="time", meaning="time after the end of the shear"), **_TRACKED}
_RECOVERY = {"recovery": AtRule(quantity="structural_recovery", meaning="the recovery that is waited for"), **_TRACKED}

RECOVERY_VALUES = (
    Characteristic(
        name="recovery_at_time",
        quantity="structural_recovery",
        meaning="rebuilt part of what shear took away, a stated time after it",
        needs="step",
        scales="fraction",
        at=_TIME,
        measure=recovery_at_time,
    ),
    Characteristic(
        name="retained_ratio_at_time",
        quantity="retained_ratio",
        meaning="what is tracked a stated time after shear, over the same at rest",
        needs="step",
        scales="fraction",
        at=_TIME,
        measure=retained_ratio_at_time,
    ),
    Characteristic(
        name="recovery_half_time",
        quantity="recovery_half_time",
        meaning="time after shear until half of what it took is back",
        needs="step",
        scales="time",
        at=_TRACKED,
        measure=recovery_half_time,
    ),
    Characteristic(
        name="recovery_half_way_time",
        quantity="recovery_half_way_time",
        meaning="time after shear until half of the way to the plateau is done, whatever the rest was",
        needs="step",
        scales="time",
        at=_TRACKED,
        measure=recovery_half_way_time,
    ),
    Characteristic(
        name="time_to_recovery",
        quantity="time_to_recovery",
        meaning="time after shear until a stated part of what it took is back",
        needs="step",
        scales="time",
        at=_RECOVERY,
        measure=time_to_recovery,
    ),
)
