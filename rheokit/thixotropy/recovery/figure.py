"""How a step test is drawn: the three steps as open marks, the law as a line in its band, rest as a level, times where the law passes."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.estimate import Estimate
from rheokit.base.look import HUES, INK, SOFT, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import number, resolve_axes
from rheokit.thixotropy.recovery.course import Course
from rheokit.thixotropy.recovery.settled import SettledEnd
from rheokit.thixotropy.recovery.summary import Row

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw"]

_LAW, _REST, _SPOILT = HUES[0], HUES[2], HUES[3]
_MARK = 4.5
# Part of the time at which the law is read to know how high its name may stand.
_NAMED = 0.4
_PAPER = {"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85}


def draw(course: Course, rows: Sequence[Row], ax: Axes | None) -> Axes:
    """Draw a step test on the axes given, else on a new figure, and return the axes."""
    ax = resolve_axes(ax)
    dress(ax)
    _draw_points(course, ax)
    _draw_law(course, ax)
    both = course.rest_end is not None and course.shear_end is not None  # else there is no r
    _draw_level(course, course.rest_end, "r = 1, as at rest" if both else "as at rest", ax)
    _draw_level(course, course.shear_end, "r = 0, as the shear ends" if both else "as the shear ends", ax)
    found = [row for row in rows if row.estimate is not None and row.estimate.unit == "s"]
    _draw_times(course, [(row.words, row.estimate) for row in found if row.estimate is not None and row.estimate.determined], ax)
    floor = course.shear_end.value if course.shear_end is not None else float(course.test.recovery.values.min())
    _say_undetermined([row for row in found if row.estimate is not None and not row.estimate.determined], (course.last, floor), ax)
    ax.set_xlabel("time after the end of the shear t [s]")
    ax.set_ylabel(quantity(course.test.tracked).label)
    return ax


def _draw_points(course: Course, ax: Axes) -> None:
    """Draw the points of the three steps, and which is which along the top."""
    test = course.test
    for points, edge in ((test.rest, SOFT), (test.shear, SOFT), (test.recovery, INK)):  # NaN is not drawn
        ax.plot(
            points.time, points.values, "o", markersize=_MARK, markerfacecolor="white", markeredgecolor=edge, markeredgewidth=0.9,
            linestyle="none", zorder=3,
        )  # fmt: skip
    if test.spoilt.time.size:
        ax.plot(test.spoilt.time, test.spoilt.values, "x", markersize=_MARK + 1.0, color=_SPOILT, linestyle="none", zorder=3)
        ax.annotate(
            "left out:\ninertia", (float(test.spoilt.time[0]), float(test.spoilt.values[0])), xytext=(-8.0, 0.0),
            textcoords="offset points", color=_SPOILT, fontsize="small", horizontalalignment="right", verticalalignment="center",
        )  # fmt: skip
    starts = [float(points.time[0]) for points in (test.rest, test.shear)]
    ax.axvspan(starts[1], 0.0, color=SOFT, alpha=0.5 * TINT, linewidth=0.0, zorder=0)
    middles = 0.5 * (starts[0] + starts[1]), 0.5 * starts[1], 0.5 * course.last
    steps = (test.rest, test.shear, test.recovery)
    for name, place, points in zip(("rest", "shear", "recovery"), middles, steps, strict=True):
        if not np.isfinite(points.values).any():
            continue
        ax.annotate(
            name, (place, 1.0), xycoords=("data", "axes fraction"), xytext=(0.0, 4.0), textcoords="offset points", color=SOFT,
            horizontalalignment="center", verticalalignment="bottom",
        )  # fmt: skip
    ax.margins(x=0.02, y=0.06)


def _draw_law(course: Course, ax: Axes) -> None:
    times = np.linspace(0.0, course.last, 300)
    values = course.fit.value(times)
    ax.plot(times, values, color=_LAW, linewidth=1.8, zorder=4)
    mixes = [course.at(time) for time in times.tolist()]
    half = np.array([course.known.reach(mix) for mix in mixes])
    if np.isfinite(half).all() and half.any():
        ax.fill_between(times, values - half, values + half, color=_LAW, alpha=2.0 * TINT, linewidth=0.0, zorder=2)
    under = float(course.fit.value(np.array([_NAMED * course.last]))[0])
    ax.annotate(
        f"{course.fit.law.name.replace('_', ' ')} law, 95 % band", (course.last, under), xytext=(0.0, -8.0), textcoords="offset points",
        color=_LAW, fontweight="bold", fontsize="small", horizontalalignment="right", verticalalignment="top",
    )  # fmt: skip


def _draw_level(course: Course, end: SettledEnd | None, words: str, ax: Axes) -> None:
    """Draw the level that rest or shear ended at, with its interval as a tint."""
    if end is None:
        return
    begin = float((course.test.rest if end.which == "rest" else course.test.shear).time[-end.points])
    reach = 2.0 * end.standard_error
    ax.plot([begin, course.last], [end.value, end.value], color=_REST, linewidth=1.1, linestyle=(0, (5, 3)), zorder=2)
    ax.fill_between([begin, course.last], end.value - reach, end.value + reach, color=_REST, alpha=TINT, linewidth=0.0, zorder=1)
    ax.annotate(
        words, (course.last, end.value), xytext=(0.0, 4.0 if end.which == "shear" else 6.0), textcoords="offset points", color=_REST,
        fontsize="small", horizontalalignment="right", verticalalignment="bottom",
    )  # fmt: skip


def _draw_times(course: Course, found: Sequence[tuple[str, Estimate]], ax: Axes) -> None:
    """Draw a plumb line from the law down to each time, the later the shorter, with its name at the foot."""
    if not found:
        return
    found = sorted(found, key=lambda one: -one[1].value)
    heights = [course.at(estimate.value).value for _, estimate in found]
    floor = course.shear_end.value if course.shear_end is not None else float(course.test.recovery.values.min())
    low = floor + 0.38 * (min(heights) - floor)
    for index, ((words, estimate), height) in enumerate(zip(found, heights, strict=True)):
        foot = min(heights) - (index + 1.0) / len(found) * 0.9 * (min(heights) - low)
        time = estimate.value
        ax.plot([time, time], [foot, height], color=INK, linewidth=0.9, zorder=2)
        held = estimate.interval
        if held is not None:
            ax.plot([held.lower, min(held.upper, course.last)], [height, height], color=INK, linewidth=2.2, solid_capstyle="butt", zorder=5)
        ax.plot(time, height, "D", markersize=6.0, markerfacecolor="white", markeredgecolor=INK, markeredgewidth=1.3, zorder=6)
        ends = "" if held is None else f"  ({number(held.lower, 3)} to {number(held.upper, 3)})"
        ax.annotate(
            f"{words}: {number(time, 3)} s{ends}", (time, foot), xytext=(5.0, 0.0), textcoords="offset points", color=INK,
            fontsize="small", verticalalignment="bottom", bbox=_PAPER,
        )  # fmt: skip


def _say_undetermined(rows: Sequence[Row], corner: tuple[float, float], ax: Axes) -> None:
    """Write above a corner why times are not determined."""
    lines = [
        textwrap.fill(f"{row.words}: not determined: {row.estimate.reason}", 76, subsequent_indent="   ")
        for row in rows
        if row.estimate is not None
    ]
    ax.annotate(
        "\n".join(lines), corner, xytext=(0.0, 19.0), textcoords="offset points", color=SOFT, fontsize="x-small", bbox=_PAPER,
        horizontalalignment="right", verticalalignment="bottom", linespacing=1.3, multialignment="left",
    )  # fmt: skip
