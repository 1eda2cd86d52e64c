"""How a bridging study is drawn: new over old with the line of equal readings, and the differences over the mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rheokit.base.curve import FloatArray
from rheokit.base.look import HUES, INK, RULE, SOFT, TINT, dress
from rheokit.base.show import resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["BridgeDrawing", "DifferencesDrawing"]


@dataclass(frozen=True, kw_only=True, eq=False)
class BridgeDrawing:
    """Points and their errors (N,), the line with half its band on a grid (M,), and the words for the axes."""

    points: tuple[FloatArray, FloatArray]
    errors: tuple[FloatArray, FloatArray]
    grid: FloatArray
    heights: FloatArray
    halves: FloatArray
    instruments: tuple[str, str]
    label: str

    def on(self, ax: Axes | None) -> Axes:
        """Draw on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        dress(ax)
        old, new = self.points
        ax.plot(self.grid, self.grid, color=SOFT, linewidth=1.2, linestyle="--", zorder=2)
        ax.fill_between(
            self.grid, self.heights - self.halves, self.heights + self.halves, color=HUES[0], alpha=TINT, linewidth=0.0, zorder=1
        )
        ax.plot(self.grid, self.heights, color=HUES[0], linewidth=1.6, zorder=3)
        ax.hlines(new, old - self.errors[0], old + self.errors[0], color=SOFT, linewidth=0.9, zorder=3)
        ax.vlines(old, new - self.errors[1], new + self.errors[1], color=SOFT, linewidth=0.9, zorder=3)
        ax.plot(old, new, "o", markersize=6, markerfacecolor="white", markeredgecolor=INK, linestyle="none", zorder=4)
        above = self.heights[-1] >= self.grid[-1]
        ends = ((self.heights[-1], "line", HUES[0], above), (self.grid[-1], "1 : 1", SOFT, not above))
        for height, word, hue, higher in ends:
            ax.annotate(
                word, (float(self.grid[-1]), float(height)), xytext=(6.0, 5.0 if higher else -5.0), textcoords="offset points", color=hue,
                fontweight="bold", horizontalalignment="left", verticalalignment="bottom" if higher else "top", annotation_clip=False,
            )  # fmt: skip
        ax.margins(x=0.12)
        ax.set_xlabel(f"{self.instruments[0]}: {self.label}")
        ax.set_ylabel(f"{self.instruments[1]}: {self.label}")
        ax.set_title("tint: 95 % band of the line; bars: one standard deviation of a result", loc="left", fontsize="small", color=SOFT)
        return ax


@dataclass(frozen=True, kw_only=True, eq=False)
class DifferencesDrawing:
    """Means and differences (N,), the mean difference with its interval, and the limits of agreement."""

    means: FloatArray
    differences: FloatArray
    middle: float
    interval: tuple[float, float] | None
    limits: tuple[float, float]
    instruments: tuple[str, str]
    label: str
    unit: str

    def on(self, ax: Axes | None) -> Axes:
        """Draw on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        dress(ax)
        ax.axhline(0.0, color=RULE, linewidth=1.6, zorder=1)
        if self.interval is not None:
            ax.axhspan(*self.interval, color=HUES[0], alpha=TINT, linewidth=0.0, zorder=1)
        ax.axhline(self.middle, color=HUES[0], linewidth=1.6, zorder=2)
        for limit in self.limits:
            ax.axhline(limit, color=HUES[0], linewidth=1.1, linestyle="--", zorder=2)
        ax.plot(self.means, self.differences, "o", markersize=6, markerfacecolor="white", markeredgecolor=INK, linestyle="none", zorder=4)
        ax.margins(y=0.12)
        ax.set_xlabel(f"{self.label}, mean of both{self.unit}")
        ax.set_ylabel(f"{self.instruments[1]} less {self.instruments[0]}{self.unit}")
        ax.set_title(
            "line: mean difference, tint: its 95 % interval; dashed: limits of agreement", loc="left", fontsize="small", color=SOFT
        )
        return ax
