"""How a hold is drawn: points as open marks, the best law as a full line, the losers broken, each named at its end."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.estimate import Estimate
from rheokit.base.look import HUES, INK, SOFT, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import drawable_formula, resolve_axes, value_and_error
from rheokit.fitting.result import Fit

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_hold", "parameter_words"]

# Part of the height that is left free for words above the points, and least distance of the names of laws.
_FREE, _APART = 0.35, 0.05


def draw_hold(ax: Axes | None, points: tuple[FloatArray, FloatArray], fits: Sequence[Fit], said: Sequence[str]) -> Axes:
    """Draw times [s] and stresses [Pa], (N,), the fitted laws, best first, and what is said of them; return the axes."""
    ax = resolve_axes(ax)
    dress(ax)
    time, stress = points
    grid = np.linspace(time[0], time[-1], 200)
    ends = []
    for place, fit in enumerate(fits):
        curve, hue = fit.value(grid), SOFT if place else HUES[0]
        style: dict[str, object] = {"linewidth": 1.0, "linestyle": (0, (4, 3))} if place else {"linewidth": 1.8}
        ax.plot(grid, curve, color=hue, zorder=2, **style)  # type: ignore[arg-type]  # two styles of a line
        ends.append((float(curve[-1]), fit.law.name.replace("_", " "), hue, "normal" if place else "bold"))
    if fits and not fits[0].no_scatter:
        band = fits[0].band(grid)
        ax.fill_between(grid, band.lower, band.upper, color=HUES[0], alpha=TINT, linewidth=0.0, zorder=1)
    ax.plot(time, stress, "o", markersize=5.5, markerfacecolor="white", markeredgecolor=INK, linestyle="none", zorder=3)
    low, high = ax.get_ylim()
    ax.set_ylim(low, high + _FREE * (high - low))
    levels = _apart([end[0] for end in ends], _APART * (1.0 + _FREE) * (high - low))
    for level, (height, name, hue, weight) in zip(levels, ends, strict=True):
        ax.annotate(
            name, (float(grid[-1]), height), xytext=(float(grid[-1] + 0.03 * np.ptp(grid)), level), textcoords="data", color=hue,
            fontweight=weight, verticalalignment="center", annotation_clip=False,
        )  # fmt: skip
    ax.text(
        0.98, 0.98, "\n".join(said), transform=ax.transAxes, color=INK, fontsize="small", linespacing=1.5,
        horizontalalignment="right", verticalalignment="top",
    )  # fmt: skip
    ax.set_xlabel("time since the hold began t [s]")
    ax.set_ylabel(quantity("shear_stress").label)
    return ax


def parameter_words(estimate: Estimate) -> str:
    """Return what a figure says of an estimate: name, symbol, value and error, or that it is not determined."""
    known = quantity(estimate.name)
    said = f"{estimate.name.replace('_', ' ')} {drawable_formula(known.latex)}"
    if not estimate.determined:
        return f"{said}: not determined"
    scale, unit = (100.0, "%") if estimate.unit == "1" else (1.0, estimate.unit)
    error = None if estimate.standard_error is None else scale * estimate.standard_error
    value, shown = value_and_error(scale * estimate.value, error)
    return f"{said} = {value}{' ± ' + shown if shown else ''} {unit}"


def _apart(heights: Sequence[float], least: float) -> list[float]:
    """Return heights moved up so that none is nearer to the next than so much, in their own order."""
    placed: dict[int, float] = {}
    below = -np.inf
    for index in sorted(range(len(heights)), key=heights.__getitem__):
        below = max(heights[index], below + least)
        placed[index] = below
    return [placed[index] for index in range(len(heights))]
