"""Figures for a meeting: candidates in the limits of a line, two lines that pull against each other, and flow curves over the base."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.errors import ComparisonError
from rheokit.base.look import HUES, INK, RULE, SOFT, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import resolve_axes
from rheokit.comparison.choice import Choice
from rheokit.comparison.curve_ratio import CurveRatio
from rheokit.comparison.feasible import Candidates, HardLimit, LimitLine, Window

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_curve_ratios", "plot_trade_off", "plot_window"]

_DASHES = ("-", "--", "-.", ":")
_LINE = 0.055
"""Height of a line of words, as a share of the axes."""


def plot_window(window: Window, line: str, ax: Axes | None = None) -> Axes:
    """Draw every candidate on one line: its value and interval, the limits as a tint, on the axes given, else on a new figure.

    Raises
    ------
    ComparisonError
        When no candidate was measured on that line.
    """
    found = [(name, one) for name, lines in window.lines.items() for one in lines if one.line == line and one.estimate is not None]
    if not found:
        raise ComparisonError(f"no candidate was measured on {line!r}")
    ax = resolve_axes(ax)
    _tint(ax, found[0][1].limit)
    for place, (_, one) in enumerate(reversed(found)):
        _interval(ax, place, one)
    ax.set_yticks(range(len(found)), [_label(name, one) for name, one in reversed(found)])
    ax.set_xlabel(_words(found[0][1].limit))
    dress(ax)
    return ax


def _label(name: str, one: LimitLine) -> str:
    where = "" if one.temperature is None else f", {one.temperature - 273.15:.0f} °C"
    return f"{'●' if one.met else '○'} {name}{where}"


def _interval(ax: Axes, place: int, one: LimitLine) -> None:
    hue = HUES[0] if one.met else HUES[3]
    assert one.estimate is not None  # only those are drawn
    ends = [end if math.isfinite(end) else one.estimate.value for end in (one.lowest, one.highest)]
    ax.plot(ends, [place, place], color=hue, linewidth=1.6)
    ax.plot([one.estimate.value], [place], linestyle="", marker="o", markerfacecolor="white", markeredgecolor=hue, markersize=5.5)


def _tint(ax: Axes, limit: HardLimit) -> None:
    low, high = (None if math.isinf(end) else end for end in (limit.lower, limit.upper))
    for end in (low, high):
        if end is not None:
            ax.axvline(end, color=SOFT, linewidth=1.0)
    if low is not None and high is not None:
        ax.axvspan(low, high, color=HUES[2], alpha=TINT, linewidth=0.0)


def _words(limit: HardLimit) -> str:
    return limit.line if limit.unit == "1" else f"{limit.line} / {limit.unit}"


def plot_trade_off(choice: Choice, numbers: Candidates, across: str, up: str, ax: Axes | None = None) -> Axes:
    """Draw two lines of every candidate against each other with their standard errors, the limits as a tint; the front is named in words.

    Raises
    ------
    ComparisonError
        When a line has no limit, or no candidate was measured on both.
    """
    limits = {one.line: one.limit for lines in choice.window.lines.values() for one in lines}
    drawn = {name: (held[across], held[up]) for name, held in numbers.items() if across in held and up in held}
    if across not in limits or up not in limits or not drawn:
        raise ComparisonError(f"{across} and {up} need limits, and candidates that were measured on both")
    ax = resolve_axes(ax)
    boxes = [(limits[line].lower, limits[line].upper) for line in (across, up)]
    if np.isfinite(boxes).all():
        (left, right), (low, high) = boxes
        ax.fill_between([left, right], low, high, color=HUES[2], alpha=TINT, linewidth=0.0)
    named = []
    for name, (x, y) in drawn.items():
        inside = name in choice.window.feasible
        hue, mark = (HUES[0], "o") if inside else (HUES[3], "s")
        ax.errorbar(x.value, y.value, xerr=x.standard_error, yerr=y.standard_error, color=hue, linewidth=1.0, marker=mark,
                    markerfacecolor="white", markersize=5.5)  # fmt: skip
        named.append((x.value, y.value, f"{name} (front)" if name in choice.front else name, hue))
    _name_apart(ax, named)
    ax.set_xlabel(_words(limits[across]))
    ax.set_ylabel(_words(limits[up]))
    ax.set_title("circles inside every limit, squares outside one", color=SOFT, fontsize="small")
    dress(ax)
    return ax


def _name_apart(ax: Axes, named: Sequence[tuple[float, float, str, str]]) -> None:
    """Write names (x, y, words, hue) right of the axes, each level with its point where there is room, with a thin line to it."""
    low, high = ax.get_ylim()
    least = _LINE * (high - low)
    level = -math.inf
    for x, y, words, hue in sorted(named, key=lambda one: one[1]):
        level = max(y, level + least)
        line = {"arrowstyle": "-", "color": hue, "linewidth": 0.4, "alpha": 0.6}
        ax.annotate(words, (x, y), xytext=(1.02, level), textcoords=("axes fraction", "data"), color=hue, fontsize="small",
                    verticalalignment="center", arrowprops=line)  # fmt: skip


def plot_curve_ratios(curves: Mapping[str, CurveRatio], ax: Axes | None = None) -> Axes:
    """Draw the flow curve of each candidate over the base, with bands that hold at all rates at once; at most four stay readable.

    Raises
    ------
    ComparisonError
        When there is none, or more than four.
    """
    if not 1 <= len(curves) <= len(HUES):
        raise ComparisonError(f"a figure holds one to {len(HUES)} curves, not {len(curves)}; choose some")
    ax = resolve_axes(ax)
    ax.axhline(1.0, color=RULE, linewidth=1.2)
    named = []
    for (name, ratio), hue, dash in zip(curves.items(), HUES, _DASHES, strict=False):
        low, high = ratio.band()
        value = np.exp(ratio.log_ratio)
        ax.fill_between(ratio.shear_rate, low, high, color=hue, alpha=TINT, linewidth=0.0)
        ax.plot(ratio.shear_rate, value, color=hue, linestyle=dash, linewidth=1.3, marker="o", markerfacecolor="white", markersize=4.0)
        last = int(np.argmax(ratio.shear_rate))
        named.append((float(ratio.shear_rate[last]), float(value[last]), name, hue))
    _name_apart(ax, named)
    base = next(iter(curves.values())).names[1]
    ax.set_xlabel(quantity("shear_rate").label)
    ax.set_ylabel(f"shear stress over {base}")
    ax.text(0.01, 0.02, "bands: 95 % for all rates at once", transform=ax.transAxes, color=INK, fontsize="small")
    dress(ax, logarithmic="x")
    return ax
