"""How combined loads are drawn: each load an open mark with its interval, the combined number a line in a tint."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rheokit.base.curve import FloatArray
from rheokit.base.look import HUES, INK, SOFT, TINT, dress
from rheokit.base.show import resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["LoadsDrawing"]


@dataclass(frozen=True, kw_only=True, eq=False)
class LoadsDrawing:
    """What is drawn of some loads: values and half intervals (N,), which of them are flagged, and the combined number."""

    names: tuple[str, ...]
    values: FloatArray
    halves: FloatArray | None
    flagged: tuple[bool, ...]
    value: float
    interval: tuple[float, float] | None
    label: str

    def on(self, ax: Axes | None) -> Axes:
        """Draw on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        dress(ax)
        count = len(self.names)
        if self.interval is not None:
            ax.axvspan(*self.interval, color=HUES[0], alpha=TINT, linewidth=0.0, zorder=1)
        ax.axvline(self.value, color=HUES[0], linewidth=1.6, zorder=2)
        for place, (value, flagged) in enumerate(zip(self.values.tolist(), self.flagged, strict=True)):
            height, hue = count - place, HUES[3] if flagged else INK
            if self.halves is not None:
                half = float(self.halves[place])
                ax.plot([value - half, value + half], [height, height], color=hue, linewidth=1.2, zorder=3)
            ax.plot([value], [height], "o", markersize=7, markerfacecolor="white", markeredgecolor=hue, zorder=4)
            if flagged:
                ax.annotate(
                    "lies apart", (value, height), xytext=(0.0, 9.0), textcoords="offset points", color=hue, fontsize="small",
                    horizontalalignment="center",
                )  # fmt: skip
        ax.set_yticks(range(count, 0, -1), labels=self.names)
        ax.set_ylim(0.4, count + 0.9)
        ax.grid(visible=False, axis="y")
        ax.set_xlabel(self.label)
        said = "line: combined" + (", tint: its 95 % interval" if self.interval is not None else "")
        said += "; bars: 95 % of the scatter inside a load" if self.halves is not None else ""
        ax.set_title(said, loc="left", fontsize="small", color=SOFT)
        return ax
