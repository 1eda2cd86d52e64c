"""Feeding: whether the gas can push the ink to the ball, from full to empty and from cold to hot."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import RangeError
from rheokit.base.look import HUES, SOFT, TINT, dress
from rheokit.base.show import Table, number, resolve_axes
from rheokit.refill.answer import Answer
from rheokit.refill.description import Refill
from rheokit.refill.filling import FIRST_STROKE
from rheokit.refill.holding import gauge_pressure
from rheokit.refill.ink import InkInPen, Scores, bounds
from rheokit.refill.path import pressure_per_stress

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["SHARES_LEFT", "Feeding", "feeding", "feeding_yield", "moved_per_stress"]

SHARES_LEFT = np.linspace(1.0, 0.02, 50)
"""Shares of the ink left that are scanned."""
_ICE = 273.15


@dataclass(frozen=True, kw_only=True, eq=False)
class Feeding(Carried):
    """Gauge pressure over the pressure that sets the ink moving: above 1 the ink follows the ball.

    Attributes
    ----------
    temperature, ink_left
        [K], (T,), and share of the ink left, (L,), scanned.
    middle, lower, upper
        Of the ratio over the draws, (T, L): median and the ends of 95 %.
    pressure, needed
        Median gauge pressure and median pressure needed [Pa] at the reference temperature, (L,).
    worst
        The Answer where the lower end is lowest.
    worst_at
        Temperature [K] and share left there.
    yield_stress, yield_name
        The upper end [Pa] that was counted on, and of which yield stress.
    factor
        1, or the largest first-stroke factor where no static yield stress was measured.
    """

    temperature: FloatArray
    ink_left: FloatArray
    middle: FloatArray
    lower: FloatArray
    upper: FloatArray
    pressure: FloatArray
    needed: FloatArray
    worst: Answer
    worst_at: tuple[float, float]
    yield_stress: float
    yield_name: str
    factor: float

    def table(self) -> Table:
        """Return full, half and nearly empty, cold, middle and hot, as a table."""
        rows = []
        for row in (0, self.temperature.size // 2, -1):
            for column in (0, self.ink_left.size // 2, -1):
                ends = f"{number(self.lower[row, column], 3)} to {number(self.upper[row, column], 3)}"
                rows.append(
                    (f"{self.temperature[row] - _ICE:.3g}", f"{self.ink_left[column]:.0%}", number(self.middle[row, column], 3), ends)
                )
        kelvin, left = self.worst_at
        low, _ = self.worst.interval()
        notes = (
            f"worst: {number(low, 3)} at {kelvin - _ICE:.3g} °C with {left:.0%} of the ink left",
            self.counted_on,
        )
        columns = ("temperature [°C]", "ink left", "pressure / pressure needed", "95 % of draws")
        return Table(title="feeding", columns=columns, rows=tuple(rows), notes=notes, right=columns)

    @property
    def counted_on(self) -> str:
        """Which yield stress was taken, in words."""
        said = f"by the upper end of {self.yield_name.replace('_', ' ')}, {number(self.yield_stress, 3)} Pa"
        if self.factor == 1.0:
            return said
        return f"{said}: no static yield stress was measured, so the largest first-stroke factor {number(self.factor, 2)} is in it"

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw pressure and pressure needed against the ink left on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        left = 100.0 * self.ink_left
        ax.fill_between(left, 0.0, self.needed / 1e3, color=HUES[1], alpha=TINT, linewidth=0.0)
        for values, colour, label in (
            (self.pressure, HUES[0], "gas pressure, gauge"),
            (self.needed, HUES[1], "needed to move column and tip"),
        ):
            ax.plot(left, values / 1e3, color=colour, linewidth=1.8)
            ax.annotate(label, (left[8], values[8] / 1e3), xytext=(6.0, 6.0), textcoords="offset points", color=colour, fontweight="bold",
                        fontsize="small")  # fmt: skip
        ax.invert_xaxis()
        ax.set_ylim(bottom=0.0)
        ax.set_xlabel("ink left [%]")
        ax.set_ylabel("pressure p [kPa]")
        ax.text(0.99, 0.97, "full on the left", transform=ax.transAxes, color=SOFT, fontsize="small", horizontalalignment="right",
                verticalalignment="top")  # fmt: skip
        dress(ax)
        return ax


def feeding(refill: Refill, ink: InkInPen, *, seed: int = 0) -> Feeding:
    """Scan from full to empty and from cold to hot whether the gas can set the ink moving.

    The yield stress is the UPPER end of the static one at the longest rest; where none was measured, that of the dynamic one times the
    largest first-stroke factor (see `FIRST_STROKE`): which it was is in the result. The column and the feed segments add up.

    Raises
    ------
    RangeError
        When the upper end of the yield stress is open.
    """
    highest, name, factor = feeding_yield(ink)
    draws, scores = refill.draws(seed=seed), Scores.drawn(seed=seed + 1)
    column, tip = moved_per_stress(refill, draws)
    low, high = refill["use.coldest"].lower, refill["use.hottest"].upper
    kelvins = np.unique([*np.linspace(low, high, 9), np.clip(ink.reference_temperature, low, high)])
    grid = [[_ratio(gauge_pressure(draws, kelvin, left), (left * column + tip) * highest * ink.yield_factor(kelvin, scores))
             for left in SHARES_LEFT] for kelvin in kelvins]  # fmt: skip
    ratios = np.array(grid)
    lower, middle, upper = np.quantile(ratios, (0.025, 0.5, 0.975), axis=2)
    row, place = np.unravel_index(int(np.argmin(lower)), lower.shape)
    reference = [np.median(gauge_pressure(draws, ink.reference_temperature, left)) for left in SHARES_LEFT]
    needed = [np.median(left * column + tip) * highest for left in SHARES_LEFT]
    worst = Answer(name="feeding_ratio", unit="1", draws=ratios[row, place], meaning="above 1 the ink follows the ball",
                   method="gauge pressure over what sets column and tip moving")  # fmt: skip
    return Feeding(
        temperature=read_only(kelvins, "temperature"), ink_left=read_only(SHARES_LEFT, "ink_left"), middle=middle, lower=lower, upper=upper,
        pressure=read_only(reference, "pressure"), needed=read_only(needed, "needed"), worst=worst,
        worst_at=(float(kelvins[row]), float(SHARES_LEFT[place])), yield_stress=highest, yield_name=name, factor=factor,
    )  # fmt: skip


def feeding_yield(ink: InkInPen) -> tuple[float, str, float]:
    """Return the yield stress [Pa] that feeding must overcome, which one it is, and the first-stroke factor that is in it.

    Raises
    ------
    RangeError
        When its upper end is open.
    """
    chosen = ink.static_yield_stress or ink.dynamic_yield_stress
    factor = 1.0 if ink.static_yield_stress is not None else FIRST_STROKE[1]
    highest = bounds(chosen)[1] * factor
    if not np.isfinite(highest):
        raise RangeError(f"the upper end of {chosen.name} is open: the data do not say when the ink moves; measure the stress overshoot")
    return highest, chosen.name, factor


def moved_per_stress(refill: Refill, draws: Mapping[str, FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Return the pressure that moves full column and tip for each pascal of yield stress, (S,) each: 2 L/R and the feed segments."""
    return 2.0 * draws["tube.ink_length"] / draws["tube.radius"], pressure_per_stress(refill.feed, "feed", draws)


def _ratio(pressure: FloatArray, needed: FloatArray) -> FloatArray:
    return np.maximum(pressure, 0.0) / needed
