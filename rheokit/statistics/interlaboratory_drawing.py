"""How the consistency of laboratories is drawn: h and k as stems beside each other, with their critical values as rules."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rheokit.base.look import HUES, INK, SOFT, dress
from rheokit.base.show import resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["ConsistencyDrawing"]

APART = 0.16
"""Half the distance between the two stems of a laboratory."""


@dataclass(frozen=True, kw_only=True)
class ConsistencyDrawing:
    """What is drawn of laboratories: h and k of each, (N,), and their critical values at 5 % and 1 %, of k one pair for each."""

    names: tuple[str, ...]
    h: tuple[float, ...]
    k: tuple[float | None, ...]
    h_critical: tuple[float, float]
    k_critical: tuple[tuple[float, float] | None, ...]
    label: str

    def on(self, ax: Axes | None) -> Axes:
        """Draw on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        dress(ax)
        ax.axhline(0.0, color=SOFT, linewidth=0.9, zorder=1)
        for limit, style in zip(self.h_critical, ("--", "-"), strict=True):
            for side in (-1.0, 1.0):
                ax.axhline(side * limit, color=HUES[0], linewidth=1.0, linestyle=style, zorder=1)
        for place, (h, k, critical) in enumerate(zip(self.h, self.k, self.k_critical, strict=True)):
            self._stem(ax, place - APART, h, HUES[0], "o")
            if k is not None:
                self._stem(ax, place + APART, k, HUES[1], "s")
            for limit, style in zip(critical or (), ("--", "-"), strict=False):
                ax.hlines(limit, place + APART - 0.2, place + APART + 0.2, color=HUES[1], linewidth=1.6, linestyle=style, zorder=2)
        ax.set_xticks(range(len(self.names)), labels=self.names)
        ax.set_xlim(-0.6, len(self.names) - 0.4)
        ax.margins(y=0.12)
        ax.grid(visible=False, axis="x")
        ax.set_xlabel(f"laboratory ({self.label})")
        ax.set_ylabel("consistency h between (○), k within (□)")
        ax.set_title(
            "critical values: dashed at 5 %, full at 1 %; h across, k at each laboratory", loc="left", fontsize="small", color=SOFT
        )
        return ax

    @staticmethod
    def _stem(ax: Axes, x: float, height: float, hue: str, mark: str) -> None:
        ax.vlines(x, 0.0, height, color=hue, linewidth=1.6, zorder=3)
        ax.plot([x], [height], mark, markersize=7, markerfacecolor="white", markeredgecolor=INK, zorder=4)
