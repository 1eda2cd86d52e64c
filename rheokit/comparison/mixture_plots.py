"""Two drawings of a mixture model: contours over a triangle of three components, and traces along each component."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ComparisonError
from rheokit.base.look import HUES, INK, RULE, SOFT, TINT, dress
from rheokit.base.show import number, resolve_axes
from rheokit.comparison.effects import Effects
from rheokit.statistics.student import student_quantile

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_ternary", "plot_traces", "ternary_grid", "trace"]

SIDE = 60
"""Divisions of a side of the triangle."""
_HEIGHT = 0.75**0.5
_CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [0.5, _HEIGHT]])
_DASHES = ("-", "--", "-.", ":")


def ternary_grid(effects: Effects, three: tuple[str, str, str], held: Mapping[str, float] | None = None) -> tuple[FloatArray, FloatArray]:
    """Return blends of three components, (M, 3), and the mean response there, (M,); NaN outside the region that was tried.

    The triangle reaches down to the least share of each component that was tried, so that a narrow region still fills it.

    Parameters
    ----------
    effects
        A mixture model.
    three
        The components that are blended; their shares fill what the others leave.
    held
        Share of every other component.

    Raises
    ------
    ComparisonError
        When the model is no mixture model, a component is unknown, or the shares of the others are missing.
    """
    _check_mixture(effects)
    held = dict(held or {})
    others = [name for name in effects.factors if name not in three]
    if len(set(three)) != 3 or any(name not in effects.factors for name in three) or sorted(others) != sorted(held):
        missing = ", ".join(others) or "none"
        raise ComparisonError(f"a triangle blends three components of {', '.join(effects.factors)} and holds the others ({missing})")
    room = 1.0 - sum(held.values())
    if not 0.0 < room <= 1.0 + 1e-12:
        raise ComparisonError(f"the components that are held leave {room:.6g} for the three")
    lows = _lows(effects, three)
    if not room > lows.sum():
        raise ComparisonError(f"the components that are held leave {room:.6g} for the three, of which at least {lows.sum():.6g} was tried")
    corners = [(a, b, SIDE - a - b) for a in range(SIDE + 1) for b in range(SIDE + 1 - a)]
    blends = lows + (room - lows.sum()) * np.array(corners, dtype=np.float64) / SIDE
    columns = {name: blends[:, index] for index, name in enumerate(three)}
    points = np.column_stack([columns.get(name, np.full(len(blends), held.get(name, 0.0))) for name in effects.factors])
    mean, _ = effects.mean_and_variance(points)
    response = np.exp(mean) if effects.scale == "logarithmic" else mean
    return blends, np.where(effects.inside(points), response, np.nan)


def _lows(effects: Effects, three: tuple[str, str, str]) -> FloatArray:
    """Return the least share of each of three components that was tried, (3,)."""
    return np.array([effects.runs[:, effects.factors.index(name)].min() for name in three], dtype=np.float64)


def plot_ternary(effects: Effects, three: tuple[str, str, str], held: Mapping[str, float] | None = None, ax: Axes | None = None) -> Axes:
    """Draw contours of the mean response over a triangle, runs as open marks, on the axes given, else on a new figure; return the axes.

    What lies outside the region that was tried stays empty.
    """
    blends, response = ternary_grid(effects, three, held)
    ax = resolve_axes(ax)
    lows = _lows(effects, three)
    size = float(blends.sum(axis=1)[0] - lows.sum())
    known = np.isfinite(response)
    if known.sum() < 3 or np.ptp(response[known]) == 0.0:
        raise ComparisonError("the region that was tried holds too little of this triangle to draw contours in")
    place = (blends - lows) / size @ _CORNERS
    held_fast = np.where(known, response, float(np.nanmean(response)))
    levels = np.linspace(float(np.nanmin(response)), float(np.nanmax(response)), 8)[1:-1]
    triangles = _triangles(known)
    # The stubs of matplotlib do not know the call that its own documentation gives first: x, y, triangles, z.
    drawn = ax.tricontour(place[:, 0], place[:, 1], triangles, held_fast, levels=levels, colors=HUES[0], linewidths=1.1)  # type: ignore[call-overload]
    ax.clabel(drawn, fmt=lambda level: number(level, 3), fontsize="small")
    outline = np.vstack([_CORNERS, _CORNERS[:1]])
    ax.plot(outline[:, 0], outline[:, 1], color=INK, linewidth=1.0)
    there = (effects.runs[:, [effects.factors.index(name) for name in three]] - lows) / size
    # Runs whose other components are not as held lie beside the triangle's plane: they are drawn where the three stand to each other.
    there = there / there.sum(axis=1, keepdims=True) @ _CORNERS
    ax.plot(there[:, 0], there[:, 1], linestyle="", marker="o", markerfacecolor="white", markeredgecolor=HUES[3], markersize=5.0)
    for name, low, (x, y), side in zip(three, lows, _CORNERS, ("left", "right", "center"), strict=True):
        above = y > 0.0
        ax.annotate(f"{name} {number(low + size, 3)}", (x, y), xytext=(0.0, 6.0 if above else -14.0), textcoords="offset points",
                    horizontalalignment=side, color=INK)  # fmt: skip
    unit = "" if effects.unit == "1" else f" / {effects.unit}"
    ax.set_title(f"{effects.response.replace('_', ' ')}{unit}, mean; empty where nothing was tried", color=SOFT, fontsize="small", pad=24.0)
    ax.set_aspect("equal")
    ax.set_axis_off()
    return ax


def _triangles(known: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return the small triangles of the grid, (T, 3), whose corners are all known."""
    places, index = {}, 0
    for a in range(SIDE + 1):
        for b in range(SIDE + 1 - a):
            places[a, b] = index
            index += 1
    found = []
    for a, b in places:
        for corners in (((a, b), (a + 1, b), (a, b + 1)), ((a + 1, b + 1), (a + 1, b), (a, b + 1))):
            if all(corner in places for corner in corners):
                found.append([places[corner] for corner in corners])
    kept = np.array(found, dtype=np.int64)
    return kept[np.all(known[kept], axis=1)]


def trace(effects: Effects, component: str, base: Mapping[str, float]) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return share of a component and response with its 95 % band along its trace, (M,) each.

    The component goes through the range that was tried while all others keep their proportions of the base mixture; what lies outside the
    region that was tried is left out.

    Raises
    ------
    ComparisonError
        When the model is no mixture model, or the base names other components.
    """
    _check_mixture(effects)
    if sorted(base) != sorted(effects.factors) or component not in effects.factors or abs(sum(base.values()) - 1.0) > 1e-6:
        raise ComparisonError(f"a trace starts from shares of {', '.join(effects.factors)} that add up to 1")
    place = effects.factors.index(component)
    start = np.array([base[name] for name in effects.factors])
    share = np.linspace(effects.runs[:, place].min(), effects.runs[:, place].max(), 101)
    points = start * ((1.0 - share) / (1.0 - start[place]))[:, None]
    points[:, place] = share
    kept = effects.inside(points)
    mean, variance = effects.mean_and_variance(points[kept])
    reach = student_quantile(0.975, effects.degrees_of_freedom) * np.sqrt(variance)
    ends = (mean, mean - reach, mean + reach)
    shown, low, high = (np.exp(end) for end in ends) if effects.scale == "logarithmic" else ends
    return share[kept], shown, low, high


def plot_traces(effects: Effects, base: Mapping[str, float], ax: Axes | None = None) -> Axes:
    """Draw the trace of every component from a base mixture, on the axes given, else on a new figure, and return the axes."""
    ax = resolve_axes(ax)
    for index, name in enumerate(effects.factors):
        share, response, low, high = trace(effects, name, base)
        if share.size < 2:
            continue
        hue, dash = HUES[index % len(HUES)], _DASHES[index % len(_DASHES)]
        change = share - base[name]
        ax.fill_between(change, low, high, color=hue, alpha=TINT / 2.0, linewidth=0.0)
        ax.plot(change, response, color=hue, linestyle=dash, linewidth=1.4)
        ax.annotate(name, (change[-1], response[-1]), xytext=(3.0, 0.0), textcoords="offset points", color=hue, fontsize="small")
    ax.axvline(0.0, color=RULE, linewidth=1.0)
    unit = "" if effects.unit == "1" else f" / {effects.unit}"
    ax.set_xlabel("change of share from the base mixture")
    ax.set_ylabel(f"{effects.response.replace('_', ' ')}{unit}")
    dress(ax)
    return ax


def _check_mixture(effects: Effects) -> None:
    if not effects.model.startswith("mixture"):
        raise ComparisonError(f"a {effects.model.replace('_', ' ')} model is no mixture model; its factors need not add up to 1")
