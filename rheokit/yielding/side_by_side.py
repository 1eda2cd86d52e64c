"""How yield values of many methods are drawn: one interval each on one logarithmic axis of stress, with its words beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rheokit.base.estimate import Estimate
from rheokit.base.look import HUES, INK, RULE, SOFT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import number, resolve_axes
from rheokit.yielding.drawing import said

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["Bar", "SideBySide"]

_WIDTH, _ROW, _FRAME = 11.5, 0.6, 1.5


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One method: its name, a detail, what it is for, and the stress with the ends of its interval [Pa]."""

    name: str
    detail: str
    use: str
    estimate: Estimate
    lower: float
    upper: float

    @property
    def colour(self) -> str:
        """One colour a family, beside its name in words: at rest, static, dynamic."""
        if self.estimate.name.startswith("static"):
            return HUES[3]
        return HUES[0] if self.estimate.name in {"dynamic_yield_stress", "stress_at_low_rate", "creep_bracket_stress"} else HUES[2]


@dataclass(frozen=True, kw_only=True)
class SideBySide:
    """The bars from top to bottom, and the bounds [Pa] that a refill is worked out with, each with its use."""

    bars: tuple[Bar, ...]
    bounds: tuple[tuple[str, float], ...]

    def on(self, ax: Axes | None) -> Axes:
        """Draw on the axes given, else on a new figure, and return the axes."""
        new = ax is None
        ax = resolve_axes(ax)
        if new:
            figure: Figure = ax.figure  # type: ignore[assignment]  # of new axes
            figure.set_size_inches(_WIDTH, _ROW * len(self.bars) + _FRAME)
        dress(ax, logarithmic="x")
        ax.set_xlim(*self._limits())
        ax.set_ylim(len(self.bars) - 0.4, -1.1 if self.bounds else -0.6)
        ax.set_yticks(range(len(self.bars)), ["" for _ in self.bars])
        ax.tick_params(axis="y", length=0)
        ax.grid(visible=False, axis="y")
        ax.spines["left"].set_visible(False)
        ax.set_xlabel(quantity("shear_stress").label)
        for place, bar in enumerate(self.bars):
            self._draw(ax, place, bar)
        for place, (use, value) in enumerate(self.bounds):
            self._bound(ax, place, use, value)
        return ax

    def _limits(self) -> tuple[float, float]:
        ends = [end for bar in self.bars for end in (bar.lower, bar.upper, bar.estimate.value) if 0.0 < end < math.inf]
        ends += [value for _, value in self.bounds]
        low, high = min(ends, default=1.0), max(ends, default=10.0)
        return low / 1.25, high * 1.25

    def _draw(self, ax: Axes, place: int, bar: Bar) -> None:
        left, right = ax.get_xlim()
        ax.axhline(place + 0.5, color=RULE, linewidth=0.8, zorder=0)
        lower, upper = max(bar.lower, left), min(bar.upper, right)
        sure = bar.estimate.determined
        colour = bar.colour if sure else SOFT
        if upper > lower:
            ax.plot([lower, upper], [place, place], color=colour, linewidth=7.0 if sure else 1.2, alpha=1.0 if not sure else 0.45,
                    linestyle="-" if sure else (0, (3, 3)), solid_capstyle="butt", zorder=2)  # fmt: skip
        for end, arrow in ((bar.lower, "<"), (bar.upper, ">")):
            if (end <= 0.0 and arrow == "<") or math.isinf(end):
                ax.plot(left if arrow == "<" else right, place, arrow, color=colour, markersize=6.0, clip_on=False, zorder=3)
        if sure:
            ax.plot(bar.estimate.value, place, "o", markersize=6.5, markerfacecolor="white", markeredgecolor=INK, zorder=4)
        ax.annotate(
            said(bar.estimate), (1.0, place), xycoords=("axes fraction", "data"), xytext=(10.0, 0.0), textcoords="offset points",
            color=colour, fontsize="small", fontweight="bold", verticalalignment="center", annotation_clip=False,
        )  # fmt: skip
        title = bar.name + (f", {bar.detail}" if bar.detail else "")
        for words, offset, size, hue in ((title, 6.0, "medium", INK), (bar.use, -7.0, "small", SOFT)):
            ax.annotate(
                words, (0.0, place), xycoords=("axes fraction", "data"), xytext=(-8.0, offset), textcoords="offset points", fontsize=size,
                color=hue, horizontalalignment="right", verticalalignment="center", annotation_clip=False,
            )  # fmt: skip

    def _bound(self, ax: Axes, place: int, use: str, value: float) -> None:
        """Draw one bound as an upright line, its words at the top, to the left of the first and to the right of the second."""
        side, away = ("right", -5.0) if place == 0 else ("left", 5.0)
        ax.axvline(value, color=INK, linewidth=1.0, linestyle=(0, (6, 3)), zorder=1)
        ax.annotate(
            f"{use}\n{number(value, 3)} Pa", (value, 1.0), xycoords=("data", "axes fraction"), xytext=(away, -4.0),
            textcoords="offset points", color=INK, fontsize="small", horizontalalignment=side, verticalalignment="top",
        )  # fmt: skip
