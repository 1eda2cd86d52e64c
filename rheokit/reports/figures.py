"""The figures of a record, drawn from its document alone."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from rheokit.base.look import INK, RULE, SOFT
from rheokit.base.quantities import quantity
from rheokit.base.show import number, value_and_error
from rheokit.reports.svg import MARKS, Axis, Plot

__all__ = ["figures_of", "limit_strip", "share_bar"]

RATE, STRESS = quantity("shear_rate").label, quantity("shear_stress").label
Json = Mapping[str, Any]
Figure = tuple[str, str]
"""SVG and caption."""


def figures_of(document: Json) -> list[Figure]:
    """Return (SVG, caption) of each figure that the record holds data for."""
    drawn: list[Figure | None] = []
    tests = {run["test"] for run in document["runs"]}
    for test in sorted(tests):
        runs = [run for run in document["runs"] if run["test"] == test and run["role"] == "batch"]
        fits = [fit for fit in document["fits"] if fit["test"] == test]
        legs = [_legs(run) for run in runs]
        if any(legs):
            drawn.append(_loop(test, runs, legs))
        if any(fit["kind"] == "steady" for fit in fits):
            drawn += [_flow_curve(test, runs, fits), _residuals(test, fits)]
        elif not any(legs):
            drawn.append(_against_time(test, runs))
    return [figure for figure in drawn if figure is not None]


def _points(step: Json) -> list[tuple[float, float]]:
    return _pairs(step["columns"].get("shear_rate", []), step["columns"].get("shear_stress", []))


def _pairs(x: Iterable[float | None], y: Iterable[float | None]) -> list[tuple[float, float]]:
    return [(a, b) for a, b in zip(x, y, strict=True) if a is not None and b is not None]


def _step(run: Json, kind: str) -> Json | None:
    return next((step for step in run["steps"] if step["kind"] == kind), None)


def _legs(run: Json) -> list[Json]:
    return [step for kind in ("up", "down") if (step := _step(run, kind)) is not None]


def _flow_curve(test: str, runs: Sequence[Json], fits: Sequence[Json]) -> Figure:
    """Draw the flow curve of each load with its fitted law and band, on logarithmic axes."""
    measured = {run["name"]: _points(step) for run in runs if (step := _step(run, "steady")) is not None}
    every = [point for points in measured.values() for point in points]
    x, y = Axis.over(RATE, (a for a, _ in every), log=True), Axis.over(STRESS, (b for _, b in every), log=True)
    plot = Plot(title=f"Flow curve, {test}", x=x, y=y)
    for index, fit in enumerate(fits):
        if fit["parameters"]:
            plot.band(_pairs(fit["grid"], fit["lower"]), _pairs(fit["grid"], fit["upper"]), hue=index % 4)
            plot.line(_pairs(fit["grid"], fit["fitted"]), hue=index % 4, dash=("", "6 3", "2 2", "8 2 2 2")[index % 4])
    for index, (_, points) in enumerate(measured.items()):
        plot.marks(points, hue=index % 4, mark=MARKS[index % 4])
    _name_loads(plot, list(measured.values()), runs)
    said = [_fit_words(fit) for fit in fits]
    return plot.svg(), "Open marks: measured; lines: Herschel-Bulkley law with its 95 % band. " + " ".join(said)


def _fit_words(fit: Json) -> str:
    if not fit["parameters"]:
        return f"{fit['reason']}."
    parts = []
    for estimate in fit["parameters"]:
        value, error = value_and_error(estimate["value"], estimate["standard_error"])
        shown = f"{value} ± {error}" if error and estimate["determined"] else f"({value}, not determined)"
        unit = "" if estimate["unit"] == "1" else f" {estimate['unit']}"
        parts.append(f"{estimate['name'].replace('_', ' ')} {shown}{unit}")
    return f"{fit['run']}: {', '.join(parts)} (standard errors of this fit alone)."


def _name_loads(plot: Plot, measured: Sequence[Sequence[tuple[float, float]]], runs: Sequence[Json]) -> None:
    """Write each load's name at the right, level with its last point."""
    named = [
        (*max(points), f"load {run['load']}", index % 4) for index, (points, run) in enumerate(zip(measured, runs, strict=False)) if points
    ]
    plot.names(named)


def _residuals(test: str, fits: Sequence[Json]) -> Figure | None:
    drawn = [(fit, _pairs(fit["shear_rate"], fit["relative_residual"])) for fit in fits if fit["parameters"]]
    every = [point for _, points in drawn for point in points]
    if not every:
        return None
    most = max(0.02, *(abs(b) for _, b in every)) * 100.0
    axis = Axis(label="measured over fitted, less one [%]", low=-1.15 * most, high=1.15 * most)
    plot = Plot(title=f"Residuals, {test}", x=Axis.over(RATE, (a for a, _ in every), log=True), y=axis, height=210)
    plot.level(0.0, "fitted")
    for index, (_, points) in enumerate(drawn):
        plot.marks([(a, 100.0 * b) for a, b in points], hue=index % 4, mark=MARKS[index % 4])
    return plot.svg(), "A pattern in these points means that the law does not describe the ink, or that the measurement drifted."


def _loop(test: str, runs: Sequence[Json], legs: Sequence[Sequence[Json]]) -> Figure:
    """Draw the hysteresis loop of each load: up legs with marks pointing up, down legs plain."""
    every = [point for load in legs for step in load for point in _points(step)]
    x, y = Axis.over(RATE, (a for a, _ in every), zero=True), Axis.over(STRESS, (b for _, b in every), zero=True)
    plot = Plot(title=f"Hysteresis loop, {test}", x=x, y=y)
    for index, load in enumerate(legs):
        for step in load:
            points, rising = _points(step), step["kind"] == "up"
            plot.line(points, hue=index % 4, width=0.9, dash="" if rising else "4 2")
            plot.marks(points[:: max(1, len(points) // 20)], hue=index % 4, mark="triangle" if rising else MARKS[index % 4 and 1], size=2.6)
    _name_loads(plot, [[point for step in load for point in _points(step)] for load in legs], runs)
    return plot.svg(), "Triangles and full lines: up leg; dashed: down leg. Every third point is marked. The area between is thixotropy."


def _against_time(test: str, runs: Sequence[Json]) -> Figure | None:
    """Draw the viscosity against time where a test is neither loop nor flow curve."""
    series = [_viscosity_in_time(run) for run in runs]
    every = [point for points in series for point in points]
    if not every:
        return None
    viscosity = quantity("viscosity").label
    y = Axis.over(viscosity, (b for _, b in every), log=True)
    plot = Plot(title=f"Viscosity in time, {test}", x=Axis.over("time t [s]", (a for a, _ in every), zero=True), y=y)
    for index, points in enumerate(series):
        plot.marks(points, hue=index % 4, mark=MARKS[index % 4], size=2.2)
    _name_loads(plot, series, runs)
    return plot.svg(), "Breakdown under shear and what rebuilds afterwards."


def _viscosity_in_time(run: Json) -> list[tuple[float, float]]:
    found = []
    for step in run["steps"]:
        held = step["columns"]
        for time, rate, stress in zip(held.get("time", []), held.get("shear_rate", []), held.get("shear_stress", []), strict=False):
            if None not in (time, rate, stress) and rate > 0.0 and stress > 0.0:
                found.append((time, stress / rate))
    return found


def limit_strip(line: Json) -> str:
    """Return a strip that shows a value with its 95 % interval between its limits; nothing where there is no value."""
    estimate, lower, upper = line["estimate"], line["lower"], line["upper"]
    if estimate is None:
        return ""
    value, error = estimate["value"], estimate["standard_error"] or 0.0
    ends = [end for end in (lower, upper) if isinstance(end, int | float)]
    width = max(ends) - min(ends) if len(ends) == 2 else max(abs(ends[0]) * 0.3, 4.0 * error)
    low, high = min(ends) - 0.45 * width, max(ends) + 0.45 * width

    def place(number_: float) -> float:
        return round(4.0 + 132.0 * min(1.0, max(0.0, (number_ - low) / (high - low))), 2)

    inside = place(lower) if lower is not None else 0.0, place(upper) if upper is not None else 140.0
    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 140 18" class="strip" role="img">',
        f"<title>{number(value)} between its limits</title>",
        f'<rect x="{inside[0]}" y="5" width="{round(inside[1] - inside[0], 2)}" height="8" fill="{RULE}"/>',
        *(f'<line x1="{place(end)}" y1="2" x2="{place(end)}" y2="16" stroke="{INK}" stroke-width="1.2"/>' for end in ends),
    ]
    counts = line["outcome"] != "no measurement"
    tone = INK if counts else SOFT
    if error and counts:
        parts.append(
            f'<line x1="{place(value - 2 * error)}" y1="9" x2="{place(value + 2 * error)}" y2="9" stroke="{tone}" stroke-width="2.2"/>'
        )
    beyond = not low <= value <= high and math.isfinite(value)
    mark = f'<circle cx="{place(value)}" cy="9" r="3.1" fill="#fff" stroke="{tone}" stroke-width="1.5"/>'
    arrow = _arrow(place(value), value > high, tone)
    return "".join([*parts, arrow if beyond else mark, "</svg>"])


def _arrow(x: float, to_the_right: bool, tone: str) -> str:
    """Return an arrow head for a value far off the strip."""
    tip = x + (3 if to_the_right else -3)
    tail = x + (-3 if to_the_right else 3)
    return f'<path d="M{tail} 4L{tip} 9L{tail} 14Z" fill="{tone}"/>'


def share_bar(share: float) -> str:
    """Return a bar that is filled to a share, 0 to 1: one tone in a frame, so that it prints in grey."""
    filled = round(98.0 * min(1.0, max(0.0, share)), 2)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 8" class="bar" role="img">'
        f"<title>{100.0 * share:.0f} %</title>"
        f'<rect x="1" y="1" width="98" height="6" fill="none" stroke="{RULE}" stroke-width="1"/>'
        f'<rect x="1" y="1" width="{filled}" height="6" fill="{INK}"/></svg>'
    )
