"""Yield values by the method that each name says: dynamic by a law, static by start-up or stress ramp, and of an amplitude sweep."""

from __future__ import annotations

from rheokit.base.errors import RangeError
from rheokit.base.estimate import Estimate
from rheokit.base.run import Run, Step
from rheokit.characteristics.characteristic import At, AtRule, Characteristic
from rheokit.yielding import (
    YIELD_LAWS,
    dynamic_yield_stress,
    flow_point,
    linear_limit,
    rest_before,
    static_yield_stress_peak,
    static_yield_stress_tangents,
    static_yield_stress_viscosity_maximum,
    stress_at_low_rate,
)

__all__ = ["YIELDING"]

RAMP_METHODS = ("tangents", "viscosity_maximum")


def dynamic_by_law(run: Run, step: Step | None, at: At) -> Estimate:  # noqa: ARG001 - what every measure takes
    """Return the dynamic yield stress [Pa] by the law named."""
    assert step is not None
    return dynamic_yield_stress(step, law=str(at["law"])).stress


def low_rate_stress(run: Run, step: Step | None, at: At) -> Estimate:  # noqa: ARG001 - what every measure takes
    """Return the stress [Pa] at the low rate named."""
    assert step is not None
    rate = at["shear_rate"]
    if not isinstance(rate, float) or not rate > 0.0:
        raise RangeError(f"a shear rate is one positive number, not {rate!r}")
    return stress_at_low_rate(step, shear_rate=rate).stress


def start_up_peak(run: Run, step: Step | None, at: At) -> Estimate:  # noqa: ARG001 - what every measure takes
    """Return the static yield stress [Pa] of the stress overshoot, after the rest before it."""
    assert step is not None
    return static_yield_stress_peak(step, rest=rest_before(run, step)).stress


def ramp_stress(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the static yield stress [Pa] of a stress ramp, by the method named."""
    assert step is not None
    rest = rest_before(run, step)
    if at["method"] == "tangents":
        return static_yield_stress_tangents(step, rest=rest).stress
    if at["method"] == "viscosity_maximum":
        return static_yield_stress_viscosity_maximum(step, rest=rest).stress
    raise RangeError(f"a stress ramp is read by one of {', '.join(RAMP_METHODS)}, not {at['method']!r}")


def sweep_flow_point(run: Run, step: Step | None, at: At) -> Estimate:  # noqa: ARG001 - what every measure takes
    """Return the stress [Pa] at the flow point of an amplitude sweep."""
    assert step is not None
    return flow_point(step, rest=rest_before(run, step)).stress


def sweep_linear_limit(run: Run, step: Step | None, at: At) -> Estimate:
    """Return the stress [Pa] at the limit of the linear range of an amplitude sweep."""
    assert step is not None
    tolerance = at["tolerance"]
    if not isinstance(tolerance, float):
        raise RangeError(f"a tolerance is one number, not {tolerance!r}")
    return linear_limit(step, tolerance=tolerance, rest=rest_before(run, step)).stress


YIELDING = (
    Characteristic(
        name="dynamic_yield_stress",
        quantity="dynamic_yield_stress",
        meaning="stress at which a named law says that the flow of the broken ink would cease",
        needs="step",
        scales="stress",
        at={"law": AtRule(choices=tuple(YIELD_LAWS), meaning="the law by which it is taken")},
        measure=dynamic_by_law,
    ),
    Characteristic(
        name="stress_at_low_rate",
        quantity="stress_at_low_rate",
        meaning="stress at a stated low rate, read between the points",
        needs="step",
        scales="stress at a rate",
        at={"shear_rate": AtRule(quantity="shear_rate", meaning="rate at which it is read")},
        measure=low_rate_stress,
    ),
    Characteristic(
        name="static_yield_stress_peak",
        quantity="static_yield_stress",
        meaning="static yield stress: peak of the stress overshoot at start-up, after the rest before it",
        needs="step",
        scales="stress",
        measure=start_up_peak,
    ),
    Characteristic(
        name="static_yield_stress_ramp",
        quantity="static_yield_stress",
        meaning="static yield stress of a stress ramp, by the method named",
        needs="step",
        scales="stress",
        at={"method": AtRule(choices=RAMP_METHODS, meaning="how the ramp is read")},
        measure=ramp_stress,
    ),
    Characteristic(
        name="flow_point_stress",
        quantity="flow_point_stress",
        meaning="stress at which the storage and the loss modulus of an amplitude sweep cross",
        needs="step",
        scales="stress",
        measure=sweep_flow_point,
    ),
    Characteristic(
        name="linear_limit_stress",
        quantity="linear_limit_stress",
        meaning="stress at which the storage modulus of an amplitude sweep has lost a stated part of its plateau",
        needs="step",
        scales="stress",
        at={"tolerance": AtRule(quantity="linear_range_tolerance", meaning="part of the plateau that is lost, such as 5 %")},
        measure=sweep_linear_limit,
    ),
)
