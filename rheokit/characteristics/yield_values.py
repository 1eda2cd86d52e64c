"""Yield stress by a named law: never a bare number."""

from __future__ import annotations

from dataclasses import replace

from rheokit.base.curve import FlowCurve
from rheokit.base.errors import RangeError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.run import Run, Step
from rheokit.base.settled import settled_points
from rheokit.base.show import number
from rheokit.characteristics.characteristic import At, AtRule, Characteristic
from rheokit.fitting import fit_flow_curve

__all__ = ["YIELD_STRESS"]

LAWS = {"herschel_bulkley": "yield_stress"}
"""Law by which a yield stress is taken, and the parameter that is its yield stress."""

LEAST_SPAN, LEAST_SHARE = 10.0, 0.5
"""Our own settings: a decade of rate, and half of the lowest stress measured; beyond them the law decides and not the points."""


def yield_stress(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the yield stress [Pa] of a step by the law that `method` names."""
    assert step is not None
    law = at["method"]
    if not isinstance(law, str) or law not in LAWS:
        raise RangeError(f"a yield stress is taken by one of {', '.join(LAWS)}, not {law!r}")
    curve = settled_points(step)
    fit = fit_flow_curve(curve, law)
    found = fit.parameters[LAWS[law]]
    far = _too_far(curve, found.value) if found.determined else ""
    if far:
        found = replace(found, determined=False, reason=far)
    words = law.replace("_", "-").title()
    method = f"{words} law on the {step.kind} step of {run.name}; {found.method}"
    conditions = {**found.conditions, "method": Condition(value=law)}
    return replace(found, name="yield_stress", method=method, conditions=conditions, findings=(*found.findings, *fit.findings))


def _too_far(curve: FlowCurve, yield_stress: float) -> str:
    """Say why a yield stress lies too far below the points to be read from them, or nothing."""
    lowest, highest = float(curve.shear_rate.min()), float(curve.shear_rate.max())
    if highest < LEAST_SPAN * lowest:
        return f"the points span {number(lowest, 3)} to {number(highest, 3)} 1/s, less than a decade; measure lower rates"
    share = yield_stress / float(curve.shear_stress.min())
    if share < LEAST_SHARE:
        return f"it is only {share:.0%} of the lowest stress measured: an extrapolation; measure lower rates"
    return ""


YIELD_STRESS = Characteristic(
    name="yield_stress",
    quantity="yield_stress",
    meaning="stress below which it does not flow, by the law named as its method",
    needs="step",
    at={"method": AtRule(choices=tuple(LAWS), meaning="the law by which it is taken")},
    measure=yield_stress,
)
