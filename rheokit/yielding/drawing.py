"""What the figures of every method of yield have in common: dressed axes, open marks, and a stress with its interval."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.estimate import Estimate
from rheokit.base.look import INK, SOFT, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import number, resolve_axes, value_and_error
from rheokit.yielding.reading_off import interval_of, span_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["level_line", "open_marks", "panel", "said", "stress_line"]


def panel(ax: Axes | None, labels: tuple[str, str], *, logarithmic: Literal["both", "x", "neither"]) -> Axes:
    """Return axes dressed and named by two quantities."""
    ax = resolve_axes(ax)
    dress(ax, logarithmic=logarithmic)
    ax.set_xlabel(_label(labels[0]))
    ax.set_ylabel(_label(labels[1]))
    return ax


def _label(name: str) -> str:
    """Return the label of an axis that shows SI numbers: strains are drawn as they are, not in per cent."""
    entry = quantity(name)
    return entry.label if entry.unit == entry.display_unit else f"{entry.name.replace('_', ' ')} {entry.symbol} [{entry.unit}]"


def open_marks(ax: Axes, x: FloatArray, y: FloatArray, *, mark: str = "o", colour: str = INK, label: str = "") -> None:
    """Draw measured points as open marks, with their name beside the last where they have one."""
    ax.plot(x, y, mark, markersize=4.5, markerfacecolor="white", markeredgecolor=colour, linestyle="none", zorder=3)
    if label and x.size:
        ax.annotate(
            label, (float(x[-1]), float(y[-1])), xytext=(7.0, 0.0), textcoords="offset points", color=colour, fontweight="bold",
            verticalalignment="center",
        )  # fmt: skip


def said(estimate: Estimate) -> str:
    """Return an estimate in the words of a figure: its value and 95 % interval, or that it is not determined and the bound it has."""
    unit = "" if estimate.unit in {"", "1"} else f" {estimate.unit}"
    held = interval_of(estimate)
    if not estimate.determined:
        if held is None or (held.lower <= 0.0 and math.isinf(held.upper)):
            return "not determined"
        side = f"above {number(held.lower, 3)}" if math.isinf(held.upper) else f"below {number(held.upper, 3)}"
        return f"not determined: {side}{unit}" if held.lower <= 0.0 or math.isinf(held.upper) else f"not determined{unit}"
    value = value_and_error(estimate.value, estimate.standard_error)[0]
    return f"{value}{unit}" + ("" if held is None else f" ({span_words(held)})")


def level_line(ax: Axes, estimate: Estimate, colour: str, *, across: tuple[float, float]) -> None:
    """Draw a stress on the upright axis as a line with its interval as a tint, its words above the right end."""
    held = interval_of(estimate)
    if held is not None and np.isfinite([held.lower, held.upper]).all():
        ax.axhspan(held.lower, held.upper, color=colour, alpha=TINT, linewidth=0.0, zorder=1)
    ax.axhline(estimate.value, color=colour, linewidth=1.0, linestyle="-" if estimate.determined else ":", zorder=2)
    ax.annotate(
        said(estimate), (across[1], estimate.value), xytext=(0.0, 6.0), textcoords="offset points", color=colour, fontweight="bold",
        horizontalalignment="right", verticalalignment="bottom",
    )  # fmt: skip
    low, high = ax.get_ylim()
    ax.set_ylim(low, max(high, estimate.value + 0.12 * (high - low)))


def stress_line(ax: Axes, estimate: Estimate, colour: str, *, place: float = 0.97) -> None:
    """Draw a stress or strain on the level axis as an upright line with its interval as a tint, its words at a height from 0 to 1."""
    held = interval_of(estimate)
    if held is not None and np.isfinite([held.lower, held.upper]).all() and held.lower > 0.0:
        ax.axvspan(held.lower, held.upper, color=colour, alpha=TINT, linewidth=0.0, zorder=1)
    ax.axvline(estimate.value, color=colour, linewidth=1.0, linestyle="-" if estimate.determined else ":", zorder=2)
    low, high = ax.get_xlim()
    middle = math.sqrt(low * high) if low > 0.0 else 0.5 * (low + high)
    right = estimate.value > middle
    ax.annotate(
        said(estimate), (estimate.value, place), xycoords=("data", "axes fraction"), xytext=(-5.0 if right else 5.0, 0.0),
        textcoords="offset points", color=colour if estimate.determined else SOFT, fontweight="bold",
        horizontalalignment="right" if right else "left", verticalalignment="top",
    )  # fmt: skip
