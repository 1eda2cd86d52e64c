"""What the rules about one step hand on: its form, what it runs at, and what they say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rheokit.base.finding import Finding, Severity
from rheokit.base.run import Controlled, StepKind

__all__ = ["CONSTANT_SPREAD", "Form", "Shape", "not_told", "told"]

CONSTANT_SPREAD = 0.05
"""Spread over level of a constant rate: drives hold a rate to about 1 %, and the slowest ramp of the trade (a decade) spreads over far
more."""

Form = Literal["rest", "constant", "up", "down", "steady", "oscillation", "stress_up", "stress_down", "stress_hold", "other"]


@dataclass(frozen=True, kw_only=True)
class Shape:
    """What one step is by itself.

    Attributes
    ----------
    form
        How its programme runs.
    kind
        None where the neighbours settle it.
    controlled
        What was held to the programme.
    rate, stress, strain, temperature
        Level of a constant step or last value of a sweep [1/s, Pa, 1, K]; strain is the amplitude of an oscillation.
    reach
        Last change of a sweep, which its programme may still go beyond its last row [1/s].
    points
        Rows it was told from; 0 where that does not matter.
    gaps
        Whether cells of what may have been set are missing.
    unloaded
        Whether it carries next to no stress.
    stress_quieter
        Whether rate and stress both hold and the stress clearly scatters less.
    findings
        What was seen, and what is not sure.
    """

    form: Form
    kind: StepKind | None = None
    controlled: Controlled = "rate"
    rate: float = 0.0
    stress: float = 0.0
    strain: float = 0.0
    temperature: float = 0.0
    reach: float = 0.0
    points: int = 0
    gaps: bool = False
    unloaded: bool = False
    stress_quieter: bool = False
    findings: tuple[Finding, ...] = ()


def told(reason: str, severity: Severity = "info") -> tuple[Finding, ...]:
    """Return one finding about the kind of a step."""
    return (Finding(check="step_kind", severity=severity, reason=reason),)


def not_told(why: str) -> Shape:
    """Return the shape of a step whose kind cannot be told, and say why."""
    reason = f"{why}, so the kind of step cannot be told; it is called shear, and no result that needs a kind should use it"
    return Shape(form="other", kind="shear", findings=told(reason, "caution"))
