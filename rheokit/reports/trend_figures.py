"""The figures of a trend: single values, moving ranges, the weighted average, and drift of product, standard and check oil."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.comparison.drift import Drift
from rheokit.comparison.trend import RequirementTrend
from rheokit.reports.svg import Axis, Plot

__all__ = ["trend_figures"]

Figure = tuple[str, str]
"""SVG and caption."""
MOST_DRAWN = 400
"""Batches that are drawn, the last ones; the numbers are of all."""


def trend_figures(one: RequirementTrend) -> list[Figure]:
    """Return (SVG, caption) of each figure of one requirement."""
    start = max(0, one.values.size - MOST_DRAWN)
    return [_values(one, start), _averages(one, start), _ranges(one, start), _drifts(one.drifts)]


def _label(one: RequirementTrend) -> str:
    return f"{one.requirement} [{one.shown_unit}]" if one.shown_unit else one.requirement


def _order(one: RequirementTrend, start: int) -> Axis:
    return Axis(label="check in order", low=start + 0.2, high=one.values.size + 0.8)


def _series(values: FloatArray, start: int) -> list[tuple[float, float]]:
    return [(place + 1.0, value) for place, value in enumerate(values.tolist()) if place >= start]


def _back(one: RequirementTrend, held: FloatArray) -> FloatArray:
    """Return values from the chart's scale in the unit that is shown."""
    return np.asarray((np.exp(held) if one.scale.logarithmic else held) * one.shown_factor)


def _flagged(points: Sequence[tuple[float, float]], marked: Sequence[bool], start: int) -> list[tuple[float, float]]:
    return [point for point, mark in zip(points, marked[start:], strict=True) if mark]


def _levels(plot: Plot, named: Sequence[tuple[float, str, int, str]]) -> None:
    """Draw level lines with their words at the right: value, words, hue, dash."""
    held = [level for level in named if math.isfinite(level[0]) and plot.y.low <= level[0] <= plot.y.high]
    for value, _, hue, dash in held:
        plot.line([(plot.x.low, value), (plot.x.high, value)], hue=hue, dash=dash, width=1.1)
    plot.names([(plot.x.high, value, words, hue) for value, words, hue, _ in held])


def _values(one: RequirementTrend, start: int) -> Figure:
    chart, points = one.chart, _series(one.values * one.shown_factor, start)
    ends = _back(one, np.array([chart.lower, chart.centre, chart.upper]))
    limits = [limit * one.shown_factor for limit in one.limits]
    held = [value for _, value in points] + ends.tolist() + [limit for limit in limits if math.isfinite(limit)]
    plot = Plot(title="Single values", x=_order(one, start), y=Axis.over(_label(one), held))
    _levels(
        plot,
        [
            (limits[1], "upper limit", 3, ""),
            (ends[2], "mean + 3 s", 1, "6 3"),
            (ends[1], "mean", 1, "1 3"),
            (ends[0], "mean − 3 s", 1, "6 3"),
            (limits[0], "lower limit", 3, ""),
        ],
    )
    plot.line(points, width=0.8)
    plot.marks(points, size=2.7)
    outside = _flagged(points, chart.outside.tolist(), start)
    plot.marks(outside, mark="diamond", filled=True, size=3.6)
    said = f"Full lines: limits of the specification; dashed: of the chart ({one.scale.reason}). "
    return plot.svg(), said + (f"Filled: {len(outside)} beyond the chart's limits." if outside else "None lies beyond the chart's limits.")


def _averages(one: RequirementTrend, start: int) -> Figure:
    held = one.averaged
    middle, lower, upper = (_series(_back(one, part), start) for part in (held.values, held.lower, held.upper))
    axis = Axis.over(_label(one), [value for _, value in (*middle, *lower, *upper)])
    plot = Plot(title="Weighted moving average", x=_order(one, start), y=axis, right=24)
    plot.band(lower, upper, hue=1)
    plot.line(middle)
    outside = _flagged(middle, held.outside.tolist(), start)
    plot.marks(outside, mark="diamond", filled=True, size=3.6)
    said = "Weight 0.3 on the newest; tint: where it lies in a steady process (3 s of the average). "
    return plot.svg(), said + (f"Filled: {len(outside)} outside it." if outside else "It never leaves it.")


def _ranges(one: RequirementTrend, start: int) -> Figure:
    points = _series(one.chart.ranges, start)
    words = "difference of logarithms" if one.scale.logarithmic else f"range [{one.unit}]".removesuffix(" [1]")
    held = [value for _, value in points if math.isfinite(value)]
    axis = Axis.over(words, [*held, one.chart.range_upper], zero=True)
    plot = Plot(title="Moving ranges", x=_order(one, start), y=axis, height=190)
    _levels(plot, [(one.chart.range_upper, "limit", 1, "6 3")])
    plot.line(points, width=0.8)
    plot.marks(_flagged(points, one.chart.range_outside.tolist(), start), mark="diamond", filled=True, size=3.6)
    return plot.svg(), "How far each value lies from the one before."


def _drifts(found: Sequence[Drift]) -> Figure:
    """Draw each drift with its interval beside no drift."""
    held = [(one, one.change, one.interval) for one in reversed(found) if one.change is not None and one.interval is not None]
    most = 1.15 * max([0.1, *(100.0 * abs(end) for _, _, interval in held for end in interval)])
    named = tuple((float(place), one.of) for place, (one, _, _) in enumerate(held))
    y = Axis(label="", low=-0.6, high=len(held) - 0.4, named=named)
    x = Axis(label="change [%], with its 95 % interval", low=-most, high=most)
    plot = Plot(title="Drift in 30 days", x=x, y=y, height=190, left=150, right=20)
    plot.line([(0.0, y.low), (0.0, y.high)], hue=1, dash="6 3", width=1.1)
    for place, (one, change, interval) in enumerate(held):
        hue = 3 if one.seen else 0
        plot.line([(100.0 * end, place) for end in interval], hue=hue, width=2.2)
        plot.marks([(100.0 * change, place)], hue=hue, mark="diamond" if one.seen else "circle", filled=one.seen)
    missing = "; ".join(f"{one.of}: {one.reason}" for one in found if one.change is None)
    return plot.svg(), "A filled diamond: the interval leaves out no drift." + (f" Not known: {missing}." if missing else "")
