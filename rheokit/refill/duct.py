"""Flow of any law through a round tube and a flat slot.

Everything is written with the shear rate at the wall, never with a wall stress less a yield stress: that difference of two nearly equal
numbers loses its digits just where a gel begins to creep. With g the rate at the wall and s the stress over that at the wall::

    tube   Q = (π R³/3)  ∫ (1 - s³) d rate    from 0 to g
    slot   Q = (W h²/4)  ∫ (1 - s²) d rate    from 0 to g
    speed in the middle of a tube  u = R ∫ (1 - s) d rate

which is the usual integral over the radius by parts, and needs the stress as a function of the rate only.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import pi
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray
from rheokit.base.errors import RangeError
from rheokit.law import Law
from rheokit.models import MODELS

__all__ = ["Flowing", "middle_velocity", "slot_flow", "tube_flow", "wall_rate_at_stress", "wall_rate_in_slot", "wall_rate_in_tube"]

# Nodes of the rule on 0 to 1; rate = wall rate · v⁸ turns the powers rate^n of thinning laws into smooth functions of v.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(80)
_STRETCH = 8
_V = 0.5 * (_NODES + 1.0)
_SHARE = _V**_STRETCH
_STEP = 0.5 * _WEIGHTS * _STRETCH * _V ** (_STRETCH - 1)

# [1/s] Rates between which a wall rate is looked for: from a millimetre of creep in ten million years to far beyond any jet.
_SLOWEST, _FASTEST = 1e-24, 1e12
_HALVINGS = 60


@dataclass(frozen=True, eq=False)
class Flowing:
    """A flow law with the values of its parameters: how this ink flows.

    Parameters
    ----------
    law
        A Law of shear stress [Pa] over shear rate [1/s], or its name.
    values
        Parameter name to value [SI].

    Raises
    ------
    RangeError
        When a parameter is missing, unknown or not a number from zero up.
    """

    law: Law
    values: Mapping[str, float]

    def __post_init__(self) -> None:
        if isinstance(self.law, str):
            object.__setattr__(self, "law", MODELS[self.law])
        wanted, given = set(self.law.names), set(self.values)
        if wanted != given:
            raise RangeError(f"the law {self.law.name} takes {', '.join(self.law.names)}, not {', '.join(sorted(given)) or 'nothing'}")
        for name, value in self.values.items():
            if not (np.isfinite(value) and value >= 0.0):
                raise RangeError(f"the {name.replace('_', ' ')} is {value!r}; it must be zero or more")

    def stress(self, shear_rate: ArrayLike) -> FloatArray:
        """Return the shear stress [Pa] at a shear rate [1/s], of its shape; at rate zero the yield stress."""
        rate = np.asarray(shear_rate, dtype=np.float64)
        return np.asarray(self.law.value(rate, *(self.values[name] for name in self.law.names)), dtype=np.float64)

    def viscosity(self, shear_rate: ArrayLike) -> FloatArray:
        """Return the apparent viscosity [Pa·s] at a shear rate [1/s] above zero, of its shape."""
        return self.stress(shear_rate) / np.asarray(shear_rate, dtype=np.float64)

    @property
    def yield_stress(self) -> float:
        """Stress at rate zero [Pa], by this law."""
        return float(self.stress(0.0))

    def fall(self, wall_rate: FloatArray) -> FloatArray:
        """Return the stress at the wall less that at the shares of its rate, over the stress at the wall; (..., M)."""
        wall = self.stress(wall_rate)[..., None]
        exact = _FALLS.get(self.law.name)
        if exact is not None:
            return np.asarray(exact(wall_rate[..., None], _SHARE, **self.values) / wall)
        return (wall - self.stress(wall_rate[..., None] * _SHARE)) / wall


def _fall_of_powers(
    rate: FloatArray,
    share: FloatArray,
    *,
    consistency: float = 0.0,
    flow_index: float = 1.0,
    yield_stress: float = 0.0,  # noqa: ARG001 - it cancels: that is the point
    infinite_shear_viscosity: float = 0.0,
) -> FloatArray:
    return consistency * rate**flow_index * -np.expm1(flow_index * np.log(share)) + infinite_shear_viscosity * rate * (1.0 - share)


def _fall_of_bingham(rate: FloatArray, share: FloatArray, *, plastic_viscosity: float, yield_stress: float) -> FloatArray:  # noqa: ARG001
    return np.asarray(plastic_viscosity * rate * (1.0 - share))


def _fall_of_casson(rate: FloatArray, share: FloatArray, *, casson_yield_stress: float, casson_viscosity: float) -> FloatArray:
    root = np.sqrt(casson_viscosity * rate)
    return np.asarray(root * (1.0 - np.sqrt(share)) * (2.0 * np.sqrt(casson_yield_stress) + root * (1.0 + np.sqrt(share))))


_FALLS: Mapping[str, Callable[..., FloatArray]] = MappingProxyType(
    {
        "bingham": _fall_of_bingham,
        "casson": _fall_of_casson,
        "herschel_bulkley": _fall_of_powers,
        "herschel_bulkley_plateau": _fall_of_powers,
        "power_law": _fall_of_powers,
        "sisko": _fall_of_powers,
    }
)
"""Laws with a yield stress or a power: the fall of the stress from the wall inwards without a difference of equal numbers."""


def tube_flow(flowing: Flowing, wall_rate: ArrayLike, radius: float) -> FloatArray:
    """Return the volume flow [m³/s] through a round tube of a radius [m] at rates at the wall [1/s], of their shape."""
    rate = np.asarray(wall_rate, dtype=np.float64)
    fall = flowing.fall(rate)
    # 1 - s³ = f (3 - 3 f + f²) with s = 1 - f.
    inside = (fall * (3.0 - 3.0 * fall + fall**2)) @ _STEP
    return np.asarray(pi * radius**3 / 3.0 * rate * inside)


def slot_flow(flowing: Flowing, wall_rate: ArrayLike, width: float, height: float) -> FloatArray:
    """Return the volume flow [m³/s] through a flat slot of a width and a height [m] at rates at the wall [1/s], of their shape."""
    rate = np.asarray(wall_rate, dtype=np.float64)
    fall = flowing.fall(rate)
    inside = (fall * (2.0 - fall)) @ _STEP
    return np.asarray(width * height**2 / 4.0 * rate * inside)


def middle_velocity(flowing: Flowing, wall_rate: ArrayLike, radius: float) -> FloatArray:
    """Return the speed [m/s] in the middle of a tube of a radius [m] at rates at the wall [1/s], of their shape."""
    rate = np.asarray(wall_rate, dtype=np.float64)
    return np.asarray(radius * rate * (flowing.fall(rate) @ _STEP))


def wall_rate_in_tube(flowing: Flowing, volume_flow: ArrayLike, radius: float) -> FloatArray:
    """Return the rate at the wall [1/s] at which a tube of a radius [m] carries a volume flow [m³/s]; of its shape, 0 where none flows."""
    return _solved(lambda rate: tube_flow(flowing, rate, radius), volume_flow)


def wall_rate_in_slot(flowing: Flowing, volume_flow: ArrayLike, width: float, height: float) -> FloatArray:
    """Return the rate at the wall [1/s] at which a slot of a width and height [m] carries a volume flow [m³/s]; of its shape."""
    return _solved(lambda rate: slot_flow(flowing, rate, width, height), volume_flow)


def wall_rate_at_stress(flowing: Flowing, stress: ArrayLike) -> FloatArray:
    """Return the rate [1/s] at which the ink bears a stress [Pa]; of its shape, 0 at and below the yield stress."""
    asked = np.asarray(stress, dtype=np.float64)
    return np.where(asked <= flowing.yield_stress, 0.0, _solved(flowing.stress, np.maximum(asked, flowing.yield_stress)))


def _solved(function: Callable[[FloatArray], FloatArray], asked: ArrayLike) -> FloatArray:
    """Return the rate at which a rising function takes the values asked, by halving and then the secant in logarithms."""
    wanted = np.asarray(asked, dtype=np.float64)
    if not np.all(np.isfinite(wanted) & (wanted >= 0.0)):
        raise RangeError(f"a flow or stress is zero or more, not {wanted.min():.4g}")
    low, high = np.full(wanted.shape, np.log(_SLOWEST)), np.full(wanted.shape, np.log(_FASTEST))
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        above = function(np.exp(middle)) > wanted
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    found = np.exp(0.5 * (low + high))
    return np.where(found <= _SLOWEST * 1.01, 0.0, found)
