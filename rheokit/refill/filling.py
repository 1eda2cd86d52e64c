"""Filling: pressure at the needle and time, as an UPPER bound; equipment is never sized from a central value.

Filling can exceed 20 bar: a jet or a burst hose injects through skin. Guards, rated hoses and qualified people; local codes come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.show import Table, number
from rheokit.models import MODELS
from rheokit.refill.answer import Answer
from rheokit.refill.description import Refill
from rheokit.refill.duct import Flowing, wall_rate_in_tube
from rheokit.refill.ink import InkInPen, bounds

__all__ = ["FIRST_STROKE", "INJURY", "PLATEAUS", "REST_BEFORE_TEST", "Filling", "filling", "needle_pressure"]

PLATEAUS = (0.0, 0.5, 1.0)
"""[Pa·s] Viscosities added at high rate to a law that has no plateau: the bench does not see them, the needle does (our own setting)."""
FIRST_STROKE = (1.2, 3.0)
"""Least and greatest factor of the first stroke after a rest (our own setting); static over dynamic yield stress lies between them."""
INJURY = 20e5
"""[Pa] From here the caution about injection stands beside the number."""
REST_BEFORE_TEST = 86_400.0, 5.0
"""Rest before a leak test: this many seconds or recovery times, whichever is longer (our own setting)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Filling(Carried):
    """Pressure at the needle.

    Attributes
    ----------
    pressure
        Law and plateau to Answer [Pa], without the first stroke.
    upper_bound
        Highest end over laws and plateaus times the first-stroke factor [Pa]: what equipment is sized for.
    first_stroke
        Factor of the first stroke.
    rest
        [s] to wait before a leak test: filling has sheared the ink fully, so holding rests on the rebuilt value.
    """

    pressure: Mapping[str, Answer]
    upper_bound: float
    first_stroke: float
    rest: float

    def table(self) -> Table:
        """Return the pressures as a table."""
        rows = []
        for name, answer in self.pressure.items():
            low, high = answer.interval()
            rows.append((name, number(answer.middle / 1e5, 3), f"{number(low / 1e5, 3)} to {number(high / 1e5, 3)}"))
        notes = [
            f"upper bound with the first stroke (factor {number(self.first_stroke, 3)}): {number(self.upper_bound / 1e5, 3)} bar; "
            "size equipment by this, never by a middle",
            f"rest {number(self.rest / 3600.0, 3)} h before a leak test: filling shears the ink fully",
        ]
        if self.upper_bound > INJURY:
            notes.append("above 20 bar a jet injects through skin: guards, rated hoses, qualified people; local codes come first")
        columns = ("law", "pressure [bar]", "95 % of draws [bar]")
        return Table(title="filling", columns=columns, rows=tuple(rows), notes=tuple(notes), right=columns[1:])

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def needle_pressure(flowing: Flowing, *, dose: ArrayLike, time: ArrayLike, radius: ArrayLike, length: ArrayLike) -> FloatArray:
    """Return the pressure [Pa] that drives a dose [m³] in a time [s] through a needle of radius and length [m]; they broadcast."""
    wide = np.asarray(radius, dtype=np.float64)
    wall = wall_rate_in_tube(flowing, np.asarray(dose) / np.asarray(time) / wide**3, 1.0)
    return np.asarray(2.0 * np.asarray(length) / wide * flowing.stress(wall))


def filling(refill: Refill, ink: InkInPen, *, recovery_time: float | None = None, seed: int = 0) -> Filling:
    """Return the pressure at the filling needle over laws and plateaus, and its upper bound with the first stroke.

    Parameters
    ----------
    refill, ink
        The refill and what is known of the ink.
    recovery_time
        [s] of the structure, for the rest before a leak test; by default the ink's own, where it is known.
    seed
        Of the draws.
    """
    draws = refill.draws(seed=seed)
    needle = {
        "dose": pi * draws["tube.radius"] ** 2 * draws["tube.ink_length"],
        "time": draws["filling.time"],
        "radius": draws["filling.needle_radius"],
        "length": draws["filling.needle_length"],
    }
    answers = {
        name: Answer(name="pressure", unit="Pa", draws=needle_pressure(flowing, **needle), meaning="at the needle, flowing",
                     method=f"{name}; beyond the bench")
        for name, flowing in _with_plateaus(ink.laws).items()
    }  # fmt: skip
    factor = _first_stroke(ink)
    highest = max(float(answer.draws.max()) for answer in answers.values())
    rest = max(REST_BEFORE_TEST[0], REST_BEFORE_TEST[1] * (recovery_time or ink.recovery_time or 0.0))
    return Filling(pressure=answers, upper_bound=highest * factor, first_stroke=factor, rest=rest)


def _with_plateaus(laws: Mapping[str, Flowing]) -> dict[str, Flowing]:
    """Return the laws, each Herschel-Bulkley or power law also with the plateaus that the bench would not have seen."""
    every: dict[str, Flowing] = {}
    for name, flowing in laws.items():
        every[name] = flowing
        if flowing.law.name in {"herschel_bulkley", "power_law"}:
            for plateau in PLATEAUS[1:]:
                values = {"yield_stress": 0.0, **flowing.values, "infinite_shear_viscosity": plateau}
                every[f"{name} + {plateau:g} Pa·s"] = Flowing(MODELS["herschel_bulkley_plateau"], values)
    return every


def _first_stroke(ink: InkInPen) -> float:
    """Return the upper end of the static over the lower end of the dynamic yield stress, inside its usual limits; else the largest."""
    if ink.static_yield_stress is None:
        return FIRST_STROKE[1]
    lowest = bounds(ink.dynamic_yield_stress)[0]
    ratio = bounds(ink.static_yield_stress)[1] / lowest if lowest > 0.0 else np.inf
    return float(np.clip(ratio, *FIRST_STROKE))
