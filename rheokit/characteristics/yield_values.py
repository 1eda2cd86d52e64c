"""The characteristic `yield_stress`: a dynamic yield stress by the law that is named as its method, never a bare number."""

from __future__ import annotations

from dataclasses import replace

from rheokit.base.errors import RangeError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.run import Run, Step
from rheokit.characteristics.characteristic import At, AtRule, Characteristic
from rheokit.yielding.dynamic import dynamic_yield_stress

__all__ = ["YIELD_STRESS"]

LAWS = ("herschel_bulkley",)
"""Law by which it is taken; `dynamic_yield_stress` takes more."""


def yield_stress(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the dynamic yield stress [Pa] of a step by the law that `method` names."""
    assert step is not None
    law = at["method"]
    if not isinstance(law, str) or law not in LAWS:
        raise RangeError(f"a yield stress is taken by one of {', '.join(LAWS)}, not {law!r}")
    found = dynamic_yield_stress(step, law=law).stress
    method = found.method.replace(f"the {step.kind} step", f"the {step.kind} step of {run.name}", 1)
    return replace(found, name="yield_stress", method=method, conditions={**found.conditions, "method": Condition(value=law)})


YIELD_STRESS = Characteristic(
    name="yield_stress",
    quantity="yield_stress",
    meaning="dynamic yield stress, below which it would not flow by the law named as its method",
    needs="step",
    scales="stress",
    at={"method": AtRule(choices=LAWS, meaning="the law by which it is taken")},
    measure=yield_stress,
)
