"""How structure fits and predictions are drawn: points as open marks, the law as a line, its band as a tint."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.base.look import HUES, INK, SOFT, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_fit", "draw_prediction"]

# Part of the span of the stresses beyond which an open band is not drawn.
_PART = 0.4


def draw_fit(
    names: Sequence[str], load: NDArray[np.intp], time: FloatArray, points: tuple[FloatArray, FloatArray], ax: Axes | None
) -> Axes:
    """Draw measured and fitted stresses (N,) over time, the loads of a batch one after the other, each named above its points."""
    ax = resolve_axes(ax)
    dress(ax)
    measured, fitted = points
    begin = 0.0
    for index, name in enumerate(names):
        rows = np.flatnonzero(load == index)
        at = begin + time[rows]
        hue = HUES[index % len(HUES)]
        ax.plot(at, measured[rows], "o", markersize=3.5, markerfacecolor="white", markeredgecolor=SOFT, linestyle="none", zorder=2)
        ax.plot(*_broken(at, fitted[rows]), color=hue, linewidth=1.6, zorder=3)
        ax.annotate(
            name.replace("_", " "), (float(at[0]), float(measured.max())), xytext=(0.0, 8.0), textcoords="offset points", color=hue,
            fontweight="bold", annotation_clip=False,
        )  # fmt: skip
        begin = float(at[-1]) + 0.05 * max(float(np.ptp(at)), 1.0)
    ax.set_xlabel("time t [s], one load after the other")
    ax.set_ylabel(quantity("shear_stress").label)
    return ax


def _broken(time: FloatArray, stress: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a line that stops where nothing was recorded for long, as in a rest."""
    steps = np.diff(time)
    gaps = np.flatnonzero(steps > 10.0 * np.median(steps)) + 1 if steps.size else np.zeros(0, dtype=np.intp)
    return np.insert(time, gaps, np.nan), np.insert(stress, gaps, np.nan)


def draw_prediction(
    *,
    time: FloatArray,
    rate: FloatArray,
    stress: FloatArray,
    band: tuple[FloatArray, FloatArray],
    kinds: tuple[str, ...],
    name: str,
    ax: Axes | None,
) -> Axes:
    """Draw a predicted loop over the shear rate, or anything else over time, with its band."""
    ax = resolve_axes(ax)
    dress(ax)
    is_loop = {"up", "down"} <= set(kinds)
    span = float(np.ptp(stress)) or 1.0
    lower, upper = np.clip(band[0], stress.min() - _PART * span, None), np.clip(band[1], None, stress.max() + _PART * span)
    for index, kind in enumerate(dict.fromkeys(kinds)):
        if is_loop and kind not in {"up", "down"}:
            continue
        rows = np.flatnonzero(np.array(kinds) == kind)
        x, hue = (rate if is_loop else time)[rows], HUES[(0 if kind == "up" else 1) if is_loop else index % len(HUES)]
        ax.fill_between(x, lower[rows], upper[rows], color=hue, alpha=TINT, linewidth=0.0)
        ax.plot(x, stress[rows], color=hue, linewidth=1.8)
        at = rows.size // 3 if is_loop else 0
        above = kind == "up" or not is_loop
        ax.annotate(
            kind, (float(x[at]), float(stress[rows][at])), xytext=(-6.0, 10.0) if above else (6.0, -10.0), textcoords="offset points",
            color=hue, fontweight="bold", horizontalalignment="right" if above and is_loop else "left",
            verticalalignment="bottom" if above else "top",
        )  # fmt: skip
    ax.text(
        0.98, 0.04, f"predicted: {name}\ntint: band for a new load", transform=ax.transAxes, color=INK, fontsize="small",
        horizontalalignment="right",
    )  # fmt: skip
    ax.set_xlabel(quantity("shear_rate" if is_loop else "time").label)
    ax.set_ylabel(quantity("shear_stress").label)
    return ax
