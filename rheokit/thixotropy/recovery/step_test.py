"""A rest-shear-recovery step test from a run."""

from __future__ import annotations

from dataclasses import replace

from rheokit.base.finding import Finding
from rheokit.base.quantities import quantity
from rheokit.base.run import Run
from rheokit.law import Law
from rheokit.thixotropy.recovery.choice import Chosen, choose
from rheokit.thixotropy.recovery.course import Course
from rheokit.thixotropy.recovery.points import Tracked, ready_test
from rheokit.thixotropy.recovery.result import StepRecovery
from rheokit.thixotropy.recovery.settled import SettledEnd, settled_end
from rheokit.thixotropy.recovery.uncertainty import Known

__all__ = ["step_recovery"]


def step_recovery(
    run: Run,
    *,
    tracked: Tracked = "viscosity",
    law: str | Law | None = None,
    weighting: str = "relative",
    step: str | int = "recovery",
) -> StepRecovery:
    """Return what a rest-shear-recovery step test says: how much of what shear took away is back, and when.

    The reference is the end of the rest step, by a line through its last third, with its scatter; what shear left is the end of the
    shear step, likewise. A law of the time since the end of the shear is fitted to the recovery step. Points at its start are left out
    where the rate or strain has not yet met its level within 2 %, or where the value lies five scatters above the points after it, as
    the inertia of an instrument leaves them; a finding counts them.

    Parameters
    ----------
    run
        With a rest, a shear and a recovery step one after the other; "rest" may be a low rate or a small oscillation.
    tracked
        `"viscosity"` (of a rotation at a low rate) or `"storage_modulus"` (of a small oscillation).
    law
        Name of one of `RECOVERY_LAWS`, any Law of the time with a parameter `plateau_value`, or None: of all, a constant among them, that
        of the fewest parameters which AICc does not tell from the best; the losers stand in the table.
    weighting
        `"relative"` (standard deviations in proportion to the fitted value) or `"absolute"`. Where a value is zero or below all points
        weigh alike, and a finding says so.
    step
        Kind or number of the recovery step.

    Returns
    -------
    StepRecovery
        Recoveries, times, table and figure; what the data do not determine is said to be so.

    Raises
    ------
    StepError
        When the run has not the steps, or they lack what is tracked.
    FitError
        When too few points are left, or no law has that name.

    References
    ----------
    Both definitions of recovery are in use; r after the common practice of step tests, no source.
    """
    test = ready_test(run, tracked, step)
    ends = settled_end(test.rest.time, test.rest.values, "rest"), settled_end(test.shear.time, test.shear.values, "shear")
    chosen = choose(test.recovery.time, test.recovery.values, law=law, weighting=weighting, unit=quantity(tracked).unit)
    known = Known(fit=chosen.fit, widening=chosen.widening, rest=_error(ends[0], chosen), shear=_error(ends[1], chosen))
    course = Course(test=test, rest_end=ends[0], shear_end=ends[1], fit=chosen.fit, known=known, misfit=chosen.misfit, rivals=chosen.rivals)
    found = test.findings + tuple(finding for end in ends if end is not None for finding in end.findings) + chosen.findings
    return StepRecovery(
        course=course,
        comparison=chosen.comparison,
        sources=tuple(run.source_of(one) for one in test.steps),
        findings=tuple(finding.at("recovery step") for finding in found + _nothing_seen(course)),
    )


def _error(end: SettledEnd | None, chosen: Chosen) -> tuple[float, float]:
    """Return the standard error of an end and its degrees of freedom.

    A few points that remember one another scatter less about their line than they do in the long run: where the recovery shows such a
    memory, its scatter counts for them too where it is larger.
    """
    if end is None:
        return 0.0, 1.0
    own = end.standard_error, end.degrees_of_freedom
    if chosen.widening == 1.0:
        return own
    deviation = chosen.fit.spread.scale * (abs(end.value) if chosen.fit.weighting.kind == "relative" else 1.0)
    return max(own, (end.leverage * deviation, float(chosen.fit.degrees_of_freedom)))


def _nothing_seen(course: Course) -> tuple[Finding, ...]:
    """Return findings where nothing was taken, nothing comes back, or the end is not seen."""
    reasons = {"no_recovery_seen": course.no_rise(), "plateau_not_seen": course.unseen_plateau()}
    if course.rest_end is not None and course.shear_end is not None:
        taken = course.no_reference()
        reasons["nothing_taken"] = taken if course.rest_end.steady and course.shear_end.steady else ""
    else:
        missing = "rest" if course.rest_end is None else "shear"
        reasons["not_measured"] = f"the {missing} step has too few values of the {course.words}: no structural recovery"
    base = Finding(check="step_test", severity="caution", reason="a step test", source="recovery step")
    return tuple(replace(base, check=check, reason=reason) for check, reason in reasons.items() if reason)
