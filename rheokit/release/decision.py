"""The decision: one outcome per requirement, and a disposition for the batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.characteristics import Measured
from rheokit.release.specification import DecisionRule, Requirement
from rheokit.statistics.conformity import conformity_probability
from rheokit.statistics.student import student_quantile

__all__ = ["Decision", "Disposition", "Outcome", "decide", "dispose"]

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
    if probability is None:
        return "inconclusive", f"no uncertainty is known: {estimate.reason}"
    outcome, reason = _by_rule(requirement, estimate, probability, rule)
    if "fit" in estimate.components:
        # The scatter inside a load is all that is known: neither a pass nor a fail can rest on it.
        return "inconclusive", f"{reason}, but the repeatability of loads is not known; give it in the specification"
    return outcome, reason


def _by_rule(requirement: Requirement, estimate: Estimate, probability: float, rule: DecisionRule) -> tuple[Outcome, str]:
    if rule.kind == "probability":
        said = f"probability of conformity {shown_probability(probability)}"
        if probability >= rule.conforming:
            return "conforming", said
        # Limits closer together than the error make the probability small for a value between them: that is ignorance, not a fault.
        if probability <= 1.0 - rule.conforming and _is_outside(requirement, estimate.value):
            return "not conforming", f"{said}: {_side(requirement, estimate.value)}"
        return "inconclusive", f"{said}: neither sure enough to pass nor to fail; measure more loads"
    width = 0.0
    if rule.kind == "guard":
        assert estimate.standard_error is not None
        assert estimate.degrees_of_freedom is not None
        width = rule.factor * student_quantile(0.975, estimate.degrees_of_freedom) * estimate.standard_error
    inside = min(estimate.value - requirement.lower_value, requirement.upper_value - estimate.value)
    if inside >= width:
        return "conforming", f"inside the limits by {number(inside, 3)}" + (f" (guard band {number(width, 3)})" if width else "")
    if inside < -width or (width == 0.0 and inside < 0.0):
        return "not conforming", _side(requirement, estimate.value)
    return "inconclusive", f"within the guard band of {number(width, 3)} at a limit; measure more loads"


def _is_outside(requirement: Requirement, value: float) -> bool:
    return not requirement.lower_value <= value <= requirement.upper_value


def _side(requirement: Requirement, value: float) -> str:
    return "above the upper limit" if value > requirement.upper_value else "below the lower limit"


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
