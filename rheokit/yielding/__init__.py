"""Yield stress by every accepted method, side by side; each number names its method, and none is called a bare yield stress.

One file a method: `dynamic`, `low_rate`, `tangents`, `viscosity_maximum`, `peak`, `growth`, `linear_limit`, `flow_point`,
`creep_bracket`, `vane`; together in `methods`, with the order they are expected in (`order`) and what they mean for the pen (`pen`).
"""

from __future__ import annotations

from rheokit.yielding.creep_bracket import CreepBracket, creep_bracket
from rheokit.yielding.dynamic import YIELD_LAWS, DynamicYield, dynamic_yield_stress
from rheokit.yielding.flow_point import FlowPoint, flow_point
from rheokit.yielding.growth import StaticYieldGrowth, static_yield_growth
from rheokit.yielding.linear_limit import LinearLimit, linear_limit
from rheokit.yielding.low_rate import StressAtLowRate, stress_at_low_rate
from rheokit.yielding.methods import YieldMethods, yield_methods
from rheokit.yielding.order import OrderCheck, Placed, check_order
from rheokit.yielding.peak import StressOvershoot, static_yield_stress_peak, stress_overshoot
from rheokit.yielding.pen import PenBound, first_stroke_bound, holding_bound
from rheokit.yielding.reading_off import YieldReading, interval_of, rest_before
from rheokit.yielding.tangents import TangentCrossing, static_yield_stress_tangents, tangent_crossing
from rheokit.yielding.vane import static_yield_stress_vane, vane_torque_peak
from rheokit.yielding.viscosity_maximum import ViscosityMaximum, static_yield_stress_viscosity_maximum

__all__ = [
    "YIELD_LAWS",
    "CreepBracket",
    "DynamicYield",
    "FlowPoint",
    "LinearLimit",
    "OrderCheck",
    "PenBound",
    "Placed",
    "StaticYieldGrowth",
    "StressAtLowRate",
    "StressOvershoot",
    "TangentCrossing",
    "ViscosityMaximum",
    "YieldMethods",
    "YieldReading",
    "check_order",
    "creep_bracket",
    "dynamic_yield_stress",
    "first_stroke_bound",
    "flow_point",
    "holding_bound",
    "interval_of",
    "linear_limit",
    "rest_before",
    "static_yield_growth",
    "static_yield_stress_peak",
    "static_yield_stress_tangents",
    "static_yield_stress_vane",
    "static_yield_stress_viscosity_maximum",
    "stress_at_low_rate",
    "stress_overshoot",
    "tangent_crossing",
    "vane_torque_peak",
    "yield_methods",
]
