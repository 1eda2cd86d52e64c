"""The chart of single values of one requirement, drawn for a notebook."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.look import HUES, INK, SOFT, dress
from rheokit.base.show import resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_values"]


def draw_values(values: FloatArray, levels: Sequence[tuple[float, str, bool]], flagged: Sequence[int], label: str, ax: Axes | None) -> Axes:
    """Draw values in their order with level lines (value, words, whether of the specification), and return the axes."""
    ax = resolve_axes(ax)
    order = np.arange(1, values.size + 1)
    ax.plot(order, values, color=HUES[0], linewidth=0.8, marker="o", markerfacecolor="white", markersize=4.0)
    marked = list(flagged)
    ax.plot(order[marked], values[marked], color=HUES[0], linestyle="", marker="D", markersize=6.0)
    for level, words, specified in levels:
        if math.isfinite(level):
            hue = HUES[3] if specified else HUES[1]
            ax.axhline(level, color=hue, linewidth=1.0, linestyle="-" if specified else "--")
            ax.annotate(words, (1.0, level), xycoords=("axes fraction", "data"), xytext=(4.0, -3.0), textcoords="offset points", color=hue,
                        fontsize="small")  # fmt: skip
    said = f"filled: a signal to look for a cause, never a reject ({len(marked)})" if marked else "no signal"
    ax.set_title(said, color=INK if marked else SOFT, fontsize="small", loc="left")
    ax.set_xlabel("check in order")
    ax.set_ylabel(label)
    dress(ax)
    return ax
