"""The feasible window of the yield stress: enough to hold, little enough to feed, from the coldest to the hottest use."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.look import HUES, INK, TINT, dress, plain
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number, resolve_axes
from rheokit.refill.description import Refill
from rheokit.refill.feeding import SHARES_LEFT, feeding_yield, moved_per_stress
from rheokit.refill.holding import gauge_pressure, held_per_stress, temperatures_of_use
from rheokit.refill.ink import InkInPen, Scores, bounds

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["YieldWindow", "yield_window"]

_ICE = 273.15
_ENDS = (0.025, 0.5, 0.975)


@dataclass(frozen=True, kw_only=True, eq=False)
class YieldWindow(Carried):
    """Yield stresses [Pa] over temperature; of each the 2.5 %, 50 % and 97.5 % of the draws, (3, N).

    Attributes
    ----------
    temperature
        [K], (N,), from the coldest to the hottest use.
    to_hold
        Least that the seated tip needs to hold the full refill.
    to_feed
        Most that the gas still moves, at the worst of all shares of ink left.
    ink
        Of this ink, lower end for holding and upper end for feeding, (2, N), each on its own unfavourable side of the decay.
    known_temperatures
        Lowest and highest temperature [K] of the runs; beyond them the ink is an extrapolation.
    """

    temperature: FloatArray
    to_hold: FloatArray
    to_feed: FloatArray
    ink: FloatArray
    known_temperatures: tuple[float, float]

    def table(self) -> Table:
        """Return the window at five temperatures as a table."""
        rows = []
        for place in np.linspace(0, self.temperature.size - 1, 5).astype(int):
            cells = [f"{number(held[0, place], 3)} to {number(held[-1, place], 3)}" for held in (self.to_hold, self.to_feed, self.ink)]
            rows.append((f"{self.temperature[place] - _ICE:.3g}", *cells))
        columns = ("temperature [°C]", "least to hold [Pa]", "most to feed [Pa]", "this ink [Pa]")
        notes = ("limits: 95 % of the draws; the ink: lower end for holding to upper end for feeding",)
        return Table(title="feasible window of the yield stress", columns=columns, rows=tuple(rows), notes=notes, right=columns)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw both limits and the ink between them on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        celsius = self.temperature - _ICE
        limits = ((self.to_feed, HUES[1], "above: the gas does not feed", 2, 6.0), (self.to_hold, HUES[3], "below: not held", 0, -14.0))
        for held, colour, words, end, offset in limits:
            ax.fill_between(celsius, held[0], held[2], color=colour, alpha=TINT, linewidth=0.0)
            ax.plot(celsius, held[1], color=colour, linewidth=1.8)
            ax.annotate(words, (celsius[0], held[end][8]), xytext=(0.0, offset), textcoords="offset points", color=colour,
                        fontweight="bold", fontsize="small")  # fmt: skip
        ax.fill_between(celsius, self.ink[0], self.ink[1], color=HUES[0], alpha=2.0 * TINT, linewidth=0.0)
        ax.annotate("this ink", (celsius[1], np.sqrt(self.ink[0][1] * self.ink[1][1])), color=INK, fontsize="small", fontweight="bold")
        ax.set_yscale("log")
        ax.yaxis.set_major_formatter(lambda value, _: plain(value))
        ax.set_xlabel("temperature T [°C]")
        ax.set_ylabel(quantity("yield_stress").label)
        dress(ax)
        return ax


def yield_window(refill: Refill, ink: InkInPen, *, seed: int = 0) -> YieldWindow:
    """Return the feasible window of the yield stress over temperature, with this ink in it.

    Raises
    ------
    RangeError
        When the upper end of the ink's yield stress is open.
    """
    draws, scores = refill.draws(seed=seed), Scores.drawn(seed=seed + 1)
    held, (column, tip) = held_per_stress(refill, draws), moved_per_stress(refill, draws)
    lowest, highest = bounds(ink.holding_yield_stress)[0], feeding_yield(ink)[0]
    kelvins = temperatures_of_use(refill, ink)
    hold, feed, own = np.empty((3, kelvins.size)), np.empty((3, kelvins.size)), np.empty((2, kelvins.size))
    for place, kelvin in enumerate(kelvins):
        hold[:, place] = np.quantile(np.maximum(gauge_pressure(draws, kelvin), 0.0) / held, _ENDS)
        pressures = [np.maximum(gauge_pressure(draws, kelvin, left), 0.0) / (left * column + tip) for left in SHARES_LEFT]
        feed[:, place] = np.quantile(np.min(pressures, axis=0), _ENDS)
        factor = np.quantile(ink.yield_factor(kelvin, scores), (_ENDS[0], _ENDS[2]))
        own[:, place] = lowest * factor[0], highest * factor[1]
    return YieldWindow(temperature=kelvins, to_hold=hold, to_feed=feed, ink=own, known_temperatures=ink.known_temperatures)
