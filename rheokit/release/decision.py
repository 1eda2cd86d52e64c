"""The decision: one outcome per requirement, and a disposition for the batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.characteristics import ESTIMATED, Measured
from rheokit.release.rounding import ABSOLUTE
from rheokit.release.specification import DecisionRule, Requirement
from rheokit.statistics.conformity import conformity_probability
from rheokit.statistics.student import student_quantile

__all__ = ["Decision", "Disposition", "Outcome", "by_rule", "decide", "dispose", "rounding_finding"]

Outcome = Literal["conforming", "not conforming", "inconclusive", "no measurement"]
Disposition = Literal["release", "hold", "reject"]


@dataclass(frozen=True, kw_only=True)
class Decision:
    """What was decided on one requirement, and why.

    `estimate` is None only where nothing could be measured; `probability` is that of conformity, None where no error is known.
    """

    requirement: Requirement
    outcome: Outcome
    reason: str
    estimate: Estimate | None
    probability: float | None
    loads: tuple[Measured, ...]
    findings: tuple[Finding, ...]


def decide(
    requirement: Requirement,
    estimate: Estimate | None,
    *,
    rule: DecisionRule,
    loads: Sequence[Measured] = (),
    findings: Sequence[Finding] = (),
    missing: str = "",
) -> Decision:
    """Return the outcome of one requirement.

    Parameters
    ----------
    requirement, rule
        Limits [SI], and how knowledge becomes an outcome.
    estimate
        Of the batch [SI], or None.
    loads
        What came of each load.
    findings
        All that bears on the numbers; an invalid one makes the outcome "no measurement".
    missing
        Why a number is missing, where one is.
    """
    seen = (*findings, *(estimate.findings if estimate else ()))
    invalid = next((finding for finding in seen if finding.severity == "invalid"), None)
    probability = _probability(requirement, estimate)
    if missing or estimate is None or invalid or not estimate.determined:
        reason = str(invalid) if invalid else missing or (estimate.reason if estimate else "nothing was measured")
        outcome: Outcome = "no measurement"
        probability = None
    else:
        outcome, reason = _outcome(requirement, estimate, probability, rule)
        changed = rounding_finding(requirement, estimate.value)
        if changed is not None:
            seen, reason = (*seen, changed), f"{reason}; {changed}"
    return Decision(
        requirement=requirement,
        outcome=outcome,
        reason=reason,
        estimate=estimate,
        probability=probability,
        loads=tuple(loads),
        findings=seen,
    )


def _probability(requirement: Requirement, estimate: Estimate | None) -> float | None:
    if estimate is None or estimate.standard_error is None or estimate.degrees_of_freedom is None:
        return None
    return conformity_probability(
        estimate.value,
        estimate.standard_error,
        estimate.degrees_of_freedom,
        lower=requirement.lower_value,
        upper=requirement.upper_value,
    )


def _outcome(requirement: Requirement, estimate: Estimate, probability: float | None, rule: DecisionRule) -> tuple[Outcome, str]:
    """Return outcome and reason by the rule; with no repeatability known a pass is at most inconclusive."""
    if probability is None or estimate.standard_error is None or estimate.degrees_of_freedom is None:
        return "inconclusive", f"no uncertainty is known: {estimate.reason}"
    outcome, reason = by_rule(requirement, estimate.value, estimate.standard_error, estimate.degrees_of_freedom, rule)
    if "fit" in estimate.components or any(finding.check == ESTIMATED for finding in estimate.findings):
        # The scatter inside these few loads or between them is all that is known: neither a pass nor a fail can rest on it.
        return "inconclusive", f"{reason}, but the repeatability of loads is not known; give it in the specification"
    return outcome, reason


def by_rule(requirement: Requirement, value: float, error: float, freedom: float, rule: DecisionRule) -> tuple[Outcome, str]:
    """Return what a rule makes of a value with its standard error and degrees of freedom, and why.

    The side of a limit on which a value lies is told by the requirement's rounding; the probability and the guard band are of the
    unrounded value, so that rounding never makes a pass by them.
    """
    side = requirement.side(value)
    if rule.kind == "simple":
        inside = min(value - requirement.lower_value, requirement.upper_value - value)
        return ("not conforming", side) if side else ("conforming", f"inside the limits by {number(max(inside, 0.0), 3)}")
    if rule.kind == "guard":
        return _by_guard(requirement, value, rule.factor * student_quantile(0.975, freedom) * error, side)
    probability = conformity_probability(value, error, freedom, lower=requirement.lower_value, upper=requirement.upper_value)
    said = f"probability of conformity {shown_probability(probability)}"
    if probability >= rule.conforming:
        return "conforming", said
    # Limits closer together than the error make the probability small for a value between them: that is ignorance, not a fault.
    if probability <= 1.0 - rule.conforming and side:
        return "not conforming", f"{said}: {side}"
    return "inconclusive", f"{said}: neither sure enough to pass nor to fail; measure more loads"


def _by_guard(requirement: Requirement, value: float, width: float, side: str) -> tuple[Outcome, str]:
    inside = min(value - requirement.lower_value, requirement.upper_value - value)
    if inside >= width:
        return "conforming", f"inside the limits by {number(inside, 3)} (guard band {number(width, 3)})"
    if inside < -width:
        return ("not conforming", side) if side else ("inconclusive", "outside by more than the guard band, but inside once rounded")
    return "inconclusive", f"within the guard band of {number(width, 3)} at a limit; measure more loads"


def rounding_finding(requirement: Requirement, value: float) -> Finding | None:
    """Return a caution where a value lies on the one side of a limit before rounding and on the other after it."""
    plain, rounded = requirement.side(value, ABSOLUTE), requirement.side(value)
    if plain == rounded:
        return None
    limit = requirement.upper if "upper" in plain + rounded else requirement.lower
    assert limit is not None  # a value lies beside a limit that is there
    before, after = ABSOLUTE.compared(value, limit), requirement.rounding.compared(value, limit)
    reason = (
        f"unrounded, {number(float(before), 6)} lies {plain or 'inside the limits'}; rounded, {after:f} {limit.unit.symbol} lies "
        f"{rounded or 'inside the limits'} ({requirement.rounding})"
    )
    return Finding(check="rounding", severity="caution", reason=reason, source=requirement.id)


def shown_probability(probability: float) -> str:
    """Return a probability with no more nines than anybody can vouch for."""
    if probability > 0.999:
        return "> 0.999"
    return "< 0.001" if probability < 0.001 else f"{probability:.3f}"


def dispose(decisions: Sequence[Decision]) -> tuple[Disposition, str]:
    """Return the disposition and its reason: any valid non-conformity rejects, else anything undecided holds, else release.

    Raises
    ------
    ValueError
        Without decisions: nothing measured is never a pass.
    """
    if not decisions:
        raise ValueError("a batch without requirements is not decided")
    by_outcome: dict[str, list[str]] = {}
    for decision in decisions:
        by_outcome.setdefault(decision.outcome, []).append(decision.requirement.id)
    if failed := by_outcome.get("not conforming"):
        return "reject", f"not conforming: {', '.join(failed)}"
    undecided = [f"{outcome}: {', '.join(by_outcome[outcome])}" for outcome in ("no measurement", "inconclusive") if outcome in by_outcome]
    if undecided:
        return "hold", "; ".join(undecided)
    count = len(decisions)
    return "release", f"all {count} requirements conforming" if count > 1 else "the only requirement is conforming"
