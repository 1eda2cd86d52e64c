"""Holding at rest: an index of ink creep that ranks batches.

The seated gap is about as small as the aggregates of the ink, so a continuum figure cannot say what one pen does: this is an index,
never alone a release requirement, and it says nothing about the strength of tube, plug or tip.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
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
from rheokit.refill.gas import absolute_pressure, ambient_pressure
from rheokit.refill.ink import InkInPen, Scores, bounds
from rheokit.refill.path import pressure_per_stress

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "HoldingIndex",
    "creep_bound",
    "creep_viscosity_needed",
    "gauge_pressure",
    "held_per_stress",
    "holding_index",
    "temperatures_of_use",
    "worst_pressure",
]

TEMPERATURES = 31
_PRESSING = (
    "gas.pressure", "gas.temperature", "gas.volume", "gas.water_activity",
    "tube.radius", "tube.ink_length", "ink.expansion", "use.altitude",
)  # fmt: skip
_SHARES = np.linspace(1.0, 0.02, 50)
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
    worst_ink_left
        Share of the ink at which the index is lowest at the worst temperature, looked for from full to nearly empty.
    known_temperatures
        Lowest and highest temperature [K] of the runs; beyond them the index is an extrapolation.
    """

    temperature: FloatArray
    index: tuple[Answer, ...]
    yield_stress: float
    yield_name: str
    worst_ink_left: float
    known_temperatures: tuple[float, float]

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
            f"lowest with {self.worst_ink_left:.0%} of the ink left",
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
        middles = np.array([answer.middle for answer in self.index])
        known = (self.temperature >= self.known_temperatures[0] - 1e-6) & (self.temperature <= self.known_temperatures[1] + 1e-6)
        ax.plot(celsius, middles, color=HUES[0], linewidth=1.8, linestyle="--")
        ax.plot(celsius[known], middles[known], color=HUES[0], linewidth=2.2, marker="o", markerfacecolor="white", markevery=[0, -1])
        ax.axhline(1.0, color=HUES[3], linewidth=1.2)
        ax.annotate("below 1 the gas pushes ink past the ball", (celsius[0], 1.0), xytext=(2.0, -13.0), textcoords="offset points",
                    color=HUES[3], fontsize="small")  # fmt: skip
        ax.text(0.98, 0.97, "line: middle of the draws, dashed beyond the runs\nband: 95 % of the draws", transform=ax.transAxes,
                color=SOFT, fontsize="small", horizontalalignment="right", verticalalignment="top")  # fmt: skip
        ax.set_yscale("log")
        ax.yaxis.set_major_formatter(lambda value, _: plain(value))
        ax.set_xlabel("temperature T [°C]")
        ax.set_ylabel("holding index: pressure held / gas pressure")
        ax.set_title("an index that ranks batches, not a prediction", color=INK, fontsize="small", loc="left")
        dress(ax)
        return ax


def temperatures_of_use(refill: Refill, ink: InkInPen) -> FloatArray:
    """Return temperatures [K] from the coldest to the hottest use, (N,), that of the measurement among them where it lies inside."""
    low, high = refill["use.coldest"].lower, refill["use.hottest"].upper
    even = np.linspace(low, high, TEMPERATURES)
    return np.unique(np.append(even, ink.reference_temperature)) if low < ink.reference_temperature < high else even


def gauge_pressure(draws: Mapping[str, FloatArray], temperature: ArrayLike, ink_left: ArrayLike = 1.0) -> FloatArray:
    """Return the gauge pressure of the gas [Pa] for every draw, (S,) or what temperature [K] and share left broadcast to."""
    volume = pi * draws["tube.radius"] ** 2 * draws["tube.ink_length"]
    inside = absolute_pressure(
        temperature, ink_left, filled_pressure=draws["gas.pressure"], filled_temperature=draws["gas.temperature"],
        gas_volume=draws["gas.volume"], ink_volume=volume, expansion=draws["ink.expansion"], water_activity=draws["gas.water_activity"],
    )  # fmt: skip
    return np.asarray(inside - ambient_pressure(draws["use.altitude"]))


def worst_pressure(refill: Refill) -> float:
    """Return the highest gauge pressure [Pa] of the full refill at its hottest, of all corners of the ranges: for margins, no draw."""
    # Rising or falling in each dimension alone, so that the highest lies in a corner.
    ranged = [key for key in _PRESSING if not refill[key].is_exact]
    corners = np.array(list(product(*((refill[key].lower, refill[key].upper) for key in ranged)))).reshape(2 ** len(ranged), len(ranged))
    ends = {key: np.full(2 ** len(ranged), refill[key].lower) for key in _PRESSING}
    ends |= {key: corners[:, column] for column, key in enumerate(ranged)}
    return float(gauge_pressure(ends, refill["use.hottest"].upper).max())


def held_per_stress(refill: Refill, draws: Mapping[str, FloatArray]) -> FloatArray:
    """Return the pressure that the seated tip holds for each pascal of yield stress, (S,), with eccentricity and slip."""
    widened = 1.0 + draws["holding.eccentricity"]
    return np.asarray(pressure_per_stress(refill.seal, "seal", draws, widened=widened) * draws["holding.slip_factor"])


def holding_index(refill: Refill, ink: InkInPen, *, seed: int = 0, ink_left: float = 1.0) -> HoldingIndex:
    """Return the holding index from the coldest to the hottest use.

    The yield stress is the LOWER end of the smaller of dynamic yield stress and creep bracket, carried over temperature by its decay,
    whose uncertainty goes through draw by draw; the refill is full unless `ink_left` says otherwise. Gaps, lengths, eccentricity and slip
    go through as ranges.

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
    scores = Scores.drawn(seed=seed + 1)
    held = held_per_stress(refill, draws) * counted
    kelvins = temperatures_of_use(refill, ink)
    answers = []
    for kelvin in kelvins:
        index = _index(held * ink.yield_factor(kelvin, scores), gauge_pressure(draws, kelvin, ink_left))
        answers.append(Answer(name="holding_index", unit="1", draws=index, meaning="above 1 the tip holds",
                              method="Σ 2 L/h of the seated gap times the lower end of the yield stress, over gauge pressure"))  # fmt: skip
    worst = float(kelvins[int(np.argmin([answer.middle for answer in answers]))])
    left = [float(np.median(_index(held, gauge_pressure(draws, worst, share)))) for share in _SHARES]
    return HoldingIndex(
        temperature=read_only(kelvins, "temperature"), index=tuple(answers), yield_stress=counted, yield_name=chosen.name,
        worst_ink_left=float(_SHARES[int(np.argmin(left))]), known_temperatures=ink.known_temperatures,
    )  # fmt: skip


def _index(held: FloatArray, gauge: FloatArray) -> FloatArray:
    """Return pressure held over gauge pressure; infinite where nothing presses."""
    with np.errstate(over="ignore"):
        return np.where(gauge > 0.0, held / np.maximum(gauge, 1e-300), np.inf)


def creep_bound(refill: Refill, creep_viscosity: float, *, temperature: float, seed: int = 0) -> Answer:
    """Return a BOUND on the ink that creeps out in a year [kg], by a creep viscosity [Pa·s] measured over hours; never a prediction.

    Each seal slot leaks `w h³ p/(12 η L) (1 + 1.5 e²)` with the eccentricity e; in series the smallest counts. From hours to years is
    four to five decades.

    Raises
    ------
    RangeError
        When the viscosity is not positive, or the seal has no slot.

    References
    ----------
    Thin eccentric annulus, factor 1 + 1.5 e²: White, Viscous Fluid Flow, 2nd ed. (1991) (from memory; exact for h much below the radius,
    where it is the mean of (1 + e cos φ)³).
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
    eccentric = 1.0 + 1.5 * draws["holding.eccentricity"] ** 2
    mass = np.min(leaks, axis=0) * eccentric * _YEAR * draws["ink.density"]
    return Answer(name="mass", unit="kg", draws=mass, meaning="upper bound of the ink that creeps out in a year",
                  method="slot leak by the creep viscosity of hours held for a year: a bound over 4 to 5 decades of time")  # fmt: skip


def creep_viscosity_needed(refill: Refill, mass_per_year: float, *, temperature: float, seed: int = 0) -> Answer:
    """Return the creep viscosity [Pa·s] above which the bound of `creep_bound` stays below a mass a year [kg] at a temperature [K].

    Raises
    ------
    RangeError
        When the mass is not positive, or the seal has no slot.
    """
    if not mass_per_year > 0.0:
        raise RangeError(f"the mass a year is {mass_per_year:.4g} kg; name one above zero")
    # The bound falls as one over the viscosity.
    draws = creep_bound(refill, 1.0, temperature=temperature, seed=seed).draws / mass_per_year
    return Answer(name="viscosity", unit="Pa·s", draws=draws, meaning="creep viscosity that is needed", method="slot leak over a year")
