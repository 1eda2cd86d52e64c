"""How a gauge study is drawn: every measurement by part and operator, the parts in the order of their means."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.look import HUES, RULE, SOFT, dress
from rheokit.base.show import resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["GaugeDrawing"]

MARKS = ("o", "s", "^", "D", "v", "P", "X")
SPREAD = 0.5
"""Width over which the operators of one part stand beside each other."""


@dataclass(frozen=True, kw_only=True, eq=False)
class GaugeDrawing:
    """What is drawn of a gauge study: measurements (operators, parts, trials) and the names of both."""

    operators: tuple[str, ...]
    parts: tuple[str, ...]
    measurements: FloatArray
    label: str

    def on(self, ax: Axes | None) -> Axes:
        """Draw on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        dress(ax)
        means = self.measurements.mean(axis=(0, 2))
        order = np.argsort(means, kind="stable")
        for place, part in enumerate(order.tolist()):
            ax.hlines(means[part], place - 0.42, place + 0.42, color=SOFT, linewidth=1.4, zorder=2)
            if place % 2:
                ax.axvspan(place - 0.5, place + 0.5, color=RULE, alpha=0.35, linewidth=0.0, zorder=0)
        count, trials = len(self.operators), self.measurements.shape[2]
        for index, name in enumerate(self.operators):
            shift = SPREAD * (index / (count - 1) - 0.5)
            hue = HUES[index % len(HUES)]
            places = np.repeat(np.arange(order.size) + shift, trials)
            ax.plot(
                places, self.measurements[index][order].ravel(), MARKS[index % len(MARKS)], markersize=5.5, markerfacecolor="white",
                markeredgecolor=hue, linestyle="none", zorder=3, label=name,
            )  # fmt: skip
        ax.set_xticks(range(order.size), labels=[self.parts[part] for part in order.tolist()])
        ax.tick_params(axis="x", labelrotation=90 if max(map(len, self.parts)) > 3 else 0)
        ax.set_xlim(-0.6, order.size - 0.4)
        ax.grid(visible=False, axis="x")
        ax.set_xlabel("part, in the order of the means (rule: mean of the part)")
        ax.set_ylabel(self.label)
        ax.legend(loc="upper left", frameon=False, fontsize="small", handletextpad=0.2)
        return ax
