"""From a batch to Estimates. Each characteristic is listed once, here; the specification takes its words from this list."""

from collections.abc import Mapping
from types import MappingProxyType

from rheokit.base.settled import settled_points
from rheokit.characteristics.characteristic import SCALINGS, At, AtRule, Characteristic, Scaling
from rheokit.characteristics.entered_values import ENTERED
from rheokit.characteristics.flow_values import SHEAR_THINNING_INDEX, STRESS_AT_RATE, VISCOSITY_AT_RATE
from rheokit.characteristics.hold_values import HOLD_RELATIVE_DROP, WELTMANN_COEFFICIENT
from rheokit.characteristics.loads import ESTIMATED, Measured, combine_measured, measure
from rheokit.characteristics.local_index import local_flow_index
from rheokit.characteristics.recovery_values import RECOVERY_VALUES
from rheokit.characteristics.structure_values import BREAKDOWN_RATE, BUILD_UP_RATE
from rheokit.characteristics.thixotropy_values import LOOP_AREA
from rheokit.characteristics.yield_values import YIELD_STRESS
from rheokit.characteristics.yielding_values import YIELDING

__all__ = [
    "CHARACTERISTICS",
    "ESTIMATED",
    "SCALINGS",
    "At",
    "AtRule",
    "Characteristic",
    "Measured",
    "Scaling",
    "combine_measured",
    "local_flow_index",
    "measure",
    "settled_points",
]

CHARACTERISTICS: Mapping[str, Characteristic] = MappingProxyType(
    {
        entry.name: entry
        for entry in (
            VISCOSITY_AT_RATE,
            STRESS_AT_RATE,
            SHEAR_THINNING_INDEX,
            LOOP_AREA,
            HOLD_RELATIVE_DROP,
            WELTMANN_COEFFICIENT,
            BUILD_UP_RATE,
            BREAKDOWN_RATE,
            YIELD_STRESS,
            *YIELDING,
            *RECOVERY_VALUES,
            *ENTERED,
        )
    }
)
