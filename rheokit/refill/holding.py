"""Holding at rest: an index of ink creep that ranks batches.

The seated gap is about as small as the aggregates of the ink, so a continuum figure cannot say what one pen does: this is an index,
never alone a release requirement, and it says nothing about the strength of tube, plug or tip.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import RangeError
from rheokit.base.look import HUES, INK, SOFT, TINT, dress, plain
from rheokit.base.show import Table, number, resolve_axes
from rheokit.refill.answer import Answer
from rheokit.refill.description import Refill
from rheokit.refill.extent import Extent, draw_extents
from rheokit.refill.gas import absolute_pressure, ambient_pressure
from rheokit.refill.ink import InkInPen, bounds
from rheokit.refill.path import pressure_per_stress

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["ECCENTRICITY", "SLIP_FACTOR", "HoldingIndex", "creep_bound", "gauge_pressure", "holding_index"]

ECCENTRICITY = Extent(lower=0.0, upper=1.0, quantity="flow_index")
"""How far the seated ball lies off the middle of its socket: 0 in the middle, 1 touching (our own setting: nobody knows)."""
SLIP_FACTOR = Extent(lower=0.5, upper=1.0, quantity="flow_index")
"""Share of the yield stress that the walls pass on: a smooth ball lets a gel slip before it yields (our own setting)."""
TEMPERATURES = 31
_ICE = 273.15
_YEAR = 365.25 * 86_400.0


@dataclass(frozen=True, kw_only=True, eq=False)
class HoldingIndex(Carried):
    """Pressure that the seated tip holds over the gauge pressure behind it, temperature by temperature: above 1 it holds.

    Attributes
    ----------
    temperature
        [K], (N,), from the coldest to the hottest use.
    index
        One Answer for each temperature.
    yield_stress
        [Pa] at the reference temperature that was counted on, and what it is.
    yield_name
        Which yield stress it is.
    """

    temperature: FloatArray
    index: tuple[Answer, ...]
    yield_stress: float
    yield_name: str

    @property
    def worst(self) -> tuple[float, Answer]:
        """Temperature [K] and Answer where the index has its lowest middle."""
        place = int(np.argmin([answer.middle for answer in self.index]))
        return float(self.temperature[place]), self.index[place]

    def table(self) -> Table:
        """Return the index at five temperatures as a table."""
        rows = []
        for place in np.linspace(0, self.temperature.size - 1, 5).astype(int):
            low, high = self.index[place].interval()
            holds = f"{self.index[place].share(above=1.0):.0%}"
            celsius, middle = f"{self.temperature[place] - _ICE:.3g}", number(self.index[place].middle, 3)
            rows.append((celsius, middle, f"{number(low, 3)} to {number(high, 3)}", holds))
        notes = (
            f"counted on {self.yield_name.replace('_', ' ')}, lower end {number(self.yield_stress, 3)} Pa",
            "an index of ink creep that ranks batches: never alone a release requirement, never the strength of tube, plug or tip",
        )
        columns = ("temperature [°C]", "holding index", "95 % of draws", "share of draws that hold")
        return Table(title="holding at rest", columns=columns, rows=tuple(rows), notes=notes, right=columns)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the index over temperature with its band and the line of 1 on the axes given, else on a new figure; return the axes."""
        ax = resolve_axes(ax)
        celsius = self.temperature - _ICE
        ends = np.array([answer.interval() for answer in self.index])
        ax.fill_between(celsius, ends[:, 0], ends[:, 1], color=HUES[0], alpha=TINT, linewidth=0.0)
        ax.plot(celsius, [answer.middle for answer in self.index], color=HUES[0], linewidth=1.8)
        ax.axhline(1.0, color=HUES[3], linewidth=1.2)
        ax.annotate("below 1 the gas pushes ink past the ball", (celsius[0], 1.0), xytext=(4.0, -13.0), textcoords="offset points",
                    color=HUES[3], fontsize="small")  # fmt: skip
        ax.annotate("middle of the draws", (celsius[3], self.index[3].middle), xytext=(6.0, 6.0), textcoords="offset points", color=HUES[0],
                    fontweight="bold", fontsize="small")  # fmt: skip
        ax.annotate(
            "95 % of the draws", (celsius[3], ends[3, 0]), xytext=(6.0, 8.0), textcoords="offset points", color=SOFT, fontsize="small"
        )
        ax.set_yscale("log")
        ax.yaxis.set_major_formatter(lambda value, _: plain(value))
        ax.set_xlabel("temperature T [°C]")
        ax.set_ylabel("holding index: pressure held / gas pressure")
        ax.set_title("an index that ranks batches, not a prediction", color=INK, fontsize="small", loc="left")
        dress(ax)
        return ax


def gauge_pressure(draws: Mapping[str, FloatArray], temperature: ArrayLike, ink_left: ArrayLike = 1.0) -> FloatArray:
    """Return the gauge pressure of the gas [Pa] for every draw, (S,) or what temperature [K] and share left broadcast to."""
    volume = pi * draws["tube.radius"] ** 2 * draws["tube.ink_length"]
    altitude = draws.get("use.altitude", np.zeros_like(volume))
    inside = absolute_pressure(
        temperature, ink_left, filled_pressure=draws["gas.pressure"], filled_temperature=draws["gas.temperature"],
        gas_volume=draws["gas.volume"], ink_volume=volume, expansion=draws["ink.expansion"],
    )  # fmt: skip
    return np.asarray(inside - ambient_pressure(altitude))


def holding_index(refill: Refill, ink: InkInPen, *, seed: int = 0, ink_left: float = 1.0) -> HoldingIndex:
    """Return the holding index from the coldest to the hottest use.

    The yield stress is the LOWER end of the smaller of dynamic yield stress and creep bracket, carried over temperature by its decay; the
    refill is full unless `ink_left` says otherwise; full is where the pressure is highest. Gaps, lengths, eccentricity and slip go
    through as ranges.

    Raises
    ------
    RangeError
        When the lower end of the yield stress is zero: the data do not say that it holds anything.
    """
    chosen = ink.holding_yield_stress
    counted = bounds(chosen)[0]
    if not counted > 0.0:
        raise RangeError(f"the lower end of {chosen.name} is zero: the data do not show that the ink holds anything; measure lower rates")
    draws = refill.draws(seed=seed)
    loose = draw_extents({"eccentricity": ECCENTRICITY, "slip": SLIP_FACTOR}, seed=seed + 1, draws=draws["tube.radius"].size)
    held = pressure_per_stress(refill.seal, "seal", draws, widened=1.0 + loose["eccentricity"]) * loose["slip"] * counted
    kelvins = np.linspace(refill["use.coldest"].lower, refill["use.hottest"].upper, TEMPERATURES)
    answers = []
    for kelvin in kelvins:
        gauge = gauge_pressure(draws, kelvin, ink_left)
        with np.errstate(divide="ignore"):
            index = np.where(gauge > 0.0, held * ink.yield_factor(kelvin) / np.maximum(gauge, 1e-300), np.inf)
        answers.append(Answer(name="holding_index", unit="1", draws=index, meaning="above 1 the tip holds",
                              method="Σ 2 L/h of the seated gap times the lower end of the yield stress, over gauge pressure"))  # fmt: skip
    return HoldingIndex(temperature=read_only(kelvins, "temperature"), index=tuple(answers), yield_stress=counted, yield_name=chosen.name)


def creep_bound(refill: Refill, creep_viscosity: float, *, temperature: float, seed: int = 0) -> Answer:
    """Return a BOUND on the ink that creeps out in a year [kg], by a creep viscosity [Pa·s] measured over hours; never a prediction.

    Each seal slot leaks `w h³ p/(12 η L)`; in series the smallest counts. From hours to years is four to five decades.

    Raises
    ------
    RangeError
        When the viscosity is not positive, or the seal has no slot.
    """
    if not creep_viscosity > 0.0:
        raise RangeError(f"the creep viscosity is {creep_viscosity:.4g} Pa·s; a bound needs one above zero")
    draws = refill.draws(seed=seed)
    pressure = np.maximum(gauge_pressure(draws, temperature), 0.0)
    leaks = [
        draws[f"seal.{index}.width"] * draws[f"seal.{index}.gap"] ** 3 * pressure / (12.0 * creep_viscosity * draws[f"seal.{index}.length"])
        for index, segment in enumerate(refill.seal)
        if segment.kind == "slot"
    ]
    if not leaks:
        raise RangeError("the seal has no slot; a creep bound is for the gap beside the ball")
    mass = np.min(leaks, axis=0) * _YEAR * draws["ink.density"]
    return Answer(name="mass", unit="kg", draws=mass, meaning="upper bound of the ink that creeps out in a year",
                  method="slot leak by the creep viscosity of hours held for a year: a bound over 4 to 5 decades of time")  # fmt: skip
