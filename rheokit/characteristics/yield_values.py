"""Yield stress by a named law: never a bare number."""

from __future__ import annotations

from dataclasses import replace

from rheokit.base.errors import RangeError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.run import Run, Step
from rheokit.characteristics.characteristic import At, AtRule, Characteristic
from rheokit.fitting import fit_flow_curve

__all__ = ["YIELD_STRESS"]

LAWS = {"herschel_bulkley": "yield_stress"}
"""Law by which a yield stress is taken, and the parameter that is its yield stress."""


def yield_stress(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the yield stress [Pa] of a step by the law that `method` names."""
    assert step is not None
    law = at["method"]
    if not isinstance(law, str) or law not in LAWS:
        raise RangeError(f"a yield stress is taken by one of {', '.join(LAWS)}, not {law!r}")
    fit = fit_flow_curve(step, law)
    found = fit.parameters[LAWS[law]]
    words = law.replace("_", "-").title()
    method = f"{words} law on the {step.kind} step of {run.name}; {found.method}"
    conditions = {**found.conditions, "method": Condition(value=law)}
    return replace(found, name="yield_stress", method=method, conditions=conditions, findings=(*found.findings, *fit.findings))


YIELD_STRESS = Characteristic(
    name="yield_stress",
    quantity="yield_stress",
    meaning="stress below which it does not flow, by the law named as its method",
    needs="step",
    at={"method": AtRule(choices=tuple(LAWS), meaning="the law by which it is taken")},
    measure=yield_stress,
)
