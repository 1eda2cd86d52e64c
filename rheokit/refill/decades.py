"""The viscosity over the seven decades of shear rate that one refill spans: measured on the bench, extrapolated to the ball."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log10
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.look import HUES, INK, SOFT, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number, resolve_axes
from rheokit.refill.description import Refill
from rheokit.refill.ink import InkInPen

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["DESIGN_BAND", "OUTER_BAND", "ViscosityOverDecades", "viscosity_over_decades"]

DESIGN_BAND, OUTER_BAND = (1e4, 5e4), (3e3, 3e5)
"""[1/s] Rates under the ball that a pen is designed for, and that may occur (our own setting: speed over gap)."""
_DECADES = (1e-2, 1e5)
_GRID = 71
_BOTH_SIDES = 1.96


@dataclass(frozen=True, kw_only=True, eq=False)
class ViscosityOverDecades(Carried):
    """Viscosity [Pa·s] by every law, at the reference temperature.

    Attributes
    ----------
    shear_rate
        [1/s], (N,)
    laws
        Name to viscosity and the ends of 95 % by the law's own error, (3, N): middle, lower, upper.
    points
        Rates [1/s] and viscosities [Pa·s] measured, (2, M); None where they are not known.
    bench_range, ball_range
        Rates [1/s] measured, and under the ball of this pen.
    temperature
        [K]
    """

    shear_rate: FloatArray
    laws: Mapping[str, FloatArray]
    points: FloatArray | None
    bench_range: tuple[float, float]
    ball_range: tuple[float, float]
    temperature: float

    @property
    def decades_beyond(self) -> float:
        """Decades between the highest rate measured and the middle of those under the ball."""
        return log10(np.sqrt(self.ball_range[0] * self.ball_range[1]) / self.bench_range[1])

    def table(self) -> Table:
        """Return the viscosity by every law at rates a decade apart."""
        places = range(0, self.shear_rate.size, 10)
        rows = tuple((number(self.shear_rate[place], 1), *(number(held[0, place], 3) for held in self.laws.values()),
                      "" if self.bench_range[0] <= self.shear_rate[place] * 1.001 and self.shear_rate[place] <= self.bench_range[1] * 1.001
                      else "extrapolated") for place in places)  # fmt: skip
        columns = ("shear rate [1/s]", *(name.replace("_", " ") + " [Pa·s]" for name in self.laws), "")
        note = f"the ball shears {number(self.decades_beyond, 2)} decades beyond the bench; each law is told there, none is trusted"
        return Table(title="viscosity over seven decades", columns=columns, rows=rows, notes=(note,), right=columns[:-1])

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw points and laws, dashed where extrapolated, on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        ax.axvspan(*self.bench_range, color=SOFT, alpha=0.1, linewidth=0.0)
        ax.axvspan(*DESIGN_BAND, color=HUES[3], alpha=0.1, linewidth=0.0)
        rate = self.shear_rate
        inside = (rate >= self.bench_range[0] * 0.999) & (rate <= self.bench_range[1] * 1.001)
        for index, (name, held) in enumerate(self.laws.items()):
            colour = HUES[index % len(HUES)]
            ax.fill_between(rate, held[1], held[2], color=colour, alpha=TINT, linewidth=0.0)
            ax.plot(rate, held[0], color=colour, linewidth=1.2, linestyle="--")
            ax.plot(rate[inside], held[0][inside], color=colour, linewidth=1.8)
            ax.annotate(name.replace("_", " "), (rate[-1], held[0][-1]), xytext=(5.0, 0.0), textcoords="offset points", color=colour,
                        fontsize="small", verticalalignment="center", annotation_clip=False)  # fmt: skip
        if self.points is not None:
            ax.plot(*self.points, color=INK, linestyle="", marker="o", markerfacecolor="white", markersize=4.0)
        dress(ax, logarithmic="both")
        ax.tick_params(axis="x", which="major", labelsize="small")  # eight decades side by side
        top = ax.get_ylim()[1]
        for words, (low, high) in (("bench", self.bench_range), ("writing", DESIGN_BAND)):
            ax.annotate(words, (np.sqrt(low * high), top), xytext=(0.0, -12.0), textcoords="offset points", color=SOFT, fontsize="small",
                        horizontalalignment="center")  # fmt: skip
        ax.set_xlabel(quantity("shear_rate").label)
        ax.set_ylabel(quantity("viscosity").label)
        return ax


def viscosity_over_decades(refill: Refill, ink: InkInPen, *, seed: int = 0) -> ViscosityOverDecades:
    """Return the viscosity by every law of an ink from the feed path to the ball of a refill."""
    draws = refill.draws(seed=seed)
    ball = np.quantile(draws["writing.speed"] / draws["writing.gap"], (0.025, 0.975))
    rate = np.geomspace(*_DECADES, _GRID)
    laws = {}
    for name, flowing in ink.laws.items():
        middle, spread = flowing.viscosity(rate), np.exp(_BOTH_SIDES * ink.relative_error(name, rate))
        laws[name] = np.array([middle, middle / spread, middle * spread])
    points = None if ink.points is None else np.array([ink.points[0], ink.points[1] / ink.points[0]])
    return ViscosityOverDecades(
        shear_rate=rate, laws=laws, points=points, bench_range=ink.bench_range, ball_range=(float(ball[0]), float(ball[1])),
        temperature=ink.reference_temperature,
    )  # fmt: skip
