"""A comparison of candidates as one HTML page that needs nothing else: no network, no script."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from rheokit.base.quantities import quantity
from rheokit.base.show import number, value_and_error
from rheokit.base.version import VERSION
from rheokit.comparison.curve_ratio import CurveRatio
from rheokit.comparison.feasible import LimitLine
from rheokit.comparison.gellant import GellantPowerLaw
from rheokit.comparison.recipe_comparison import RecipeComparison
from rheokit.reports.figures import limit_strip
from rheokit.reports.page import template
from rheokit.reports.svg import MARKS, Axis, Plot

__all__ = ["comparison_page"]

Figure = tuple[str, str]
"""SVG and caption."""
_DASHES = ("", "6 3", "2 2", "8 2 2 2")


def comparison_page(found: RecipeComparison, *, title: str = "Candidates compared", specification: str = "") -> str:
    """Return the page of a comparison; `specification` says by which document it was measured."""
    window = found.choice.window
    return template("comparison.html").render(
        title=title,
        specification=specification,
        base=found.base,
        inside=list(window.feasible),
        lines=[limit.line for limit in found.limits],
        limits=[limit.words for limit in found.limits],
        rows=[_row(name, lines) for name, lines in window.lines.items()],
        level=f"{100.0 * window.level:g} %",
        tables=found.tables()[1:],
        figures=_figures(found),
        notes=found.notes,
        version=VERSION,
    )


def _row(name: str, lines: Sequence[LimitLine]) -> dict[str, Any]:
    failed = [line.reason for line in lines if not line.met]
    return {
        "name": name,
        "mark": "○ outside" if failed else "● inside",
        "cells": [_cell(line) for line in lines],
        "reason": "; ".join(failed) or "every limit is met",
    }


def _cell(line: LimitLine) -> dict[str, Any]:
    """Return value and strip of one candidate on one line."""
    estimate = line.estimate
    if estimate is None:
        return {"value": "not measured", "strip": "", "met": line.met}
    drawn = {
        "estimate": {"value": estimate.value, "standard_error": estimate.standard_error},
        "lower": None if math.isinf(line.limit.lower) else line.limit.lower,
        "upper": None if math.isinf(line.limit.upper) else line.limit.upper,
        "outcome": "measured",
    }
    value, error = value_and_error(estimate.value, estimate.standard_error)
    return {"value": f"{value} ± {error}" if error else value, "strip": limit_strip(drawn), "met": line.met}


def _figures(found: RecipeComparison) -> list[Figure]:
    drawn = [_trade_off(found)] if len(found.choice.aims) > 1 else []
    drawn += [_curve(ratio, found.curves) for ratio in found.curves.values()]
    return [*drawn, *(_gellant(name, law) for name, law in found.gellants.items())]


def _pair(found: RecipeComparison) -> tuple[str, str]:
    """Return the two aims that are drawn: the first, and the yield stress, which pulls against the viscosities, or else the second."""
    aims = list(found.choice.aims)
    yields = [line for line in aims[1:] if any(line in held and held[line].name == "yield_stress" for held in found.numbers.values())]
    return aims[0], (yields or aims[1:])[0]


def _trade_off(found: RecipeComparison) -> Figure:
    across, up = _pair(found)
    units = {limit.line: "" if limit.unit == "1" else f" [{limit.unit}]" for limit in found.limits}
    points = {name: (held[across].value, held[up].value) for name, held in found.numbers.items() if across in held and up in held}
    aims = found.choice.aims
    corners = [(aims[across].lower, aims[up].lower), (aims[across].upper, aims[up].upper)]
    x = Axis.over(f"{across}{units[across]}", [*(a for a, _ in points.values()), *(a for a, _ in corners)])
    y = Axis.over(f"{up}{units[up]}", [*(b for _, b in points.values()), *(b for _, b in corners)])
    plot = Plot(title="What is wanted of both", x=x, y=y, right=110)
    (left, low), (right, high) = corners
    plot.band([(left, low), (right, low)], [(left, high), (right, high)], hue=2)
    inside = set(found.choice.window.feasible)
    for index, chosen in enumerate((True, False)):
        plot.marks([point for name, point in points.items() if (name in inside) == chosen], hue=0 if chosen else 3, mark=MARKS[index])
    plot.names([(*point, name, 0 if name in inside else 3) for name, point in points.items()])
    return plot.svg(), "Tint: the limits of both lines. Circles: candidates inside every limit; squares: outside at least one."


def _curve(ratio: CurveRatio, every: Mapping[str, CurveRatio]) -> Figure:
    low, high = ratio.band()
    spread = [float(value) for one in every.values() for value in np.exp(one.log_ratio)]
    rates = [float(rate) for rate in ratio.shear_rate]
    x = Axis.over(quantity("shear_rate").label, rates, log=True)
    y = Axis.over("stress over the base", [*spread, 1.0, 0.8 * min(spread), 1.2 * max(spread)], log=True)
    name, base = ratio.names
    plot = Plot(title=f"{name} / {base}", x=x, y=y, height=210)
    plot.level(1.0, "equal")
    plot.band(list(zip(rates, low, strict=True)), list(zip(rates, high, strict=True)))
    drawn = list(zip(rates, np.exp(ratio.log_ratio), strict=True))
    plot.line(drawn, width=1.1)
    plot.marks(drawn)
    apart = int(np.sum((low > 1.0) | (high < 1.0)))
    return plot.svg(), f"Band: 95 % for all rates at once; it leaves out 1 at {apart} of {len(rates)} rates. {ratio.method}."


def _gellant(name: str, law: GellantPowerLaw) -> Figure:
    grid = [float(amount) for amount in np.linspace(law.amounts.min(), law.amounts.max(), 40)]
    held = [law.predict(amount) for amount in grid]
    ends = [one.interval for one in held if one.interval is not None]
    points = [(float(a), float(b)) for a, b in zip(law.amounts, law.responses, strict=True)]
    x = Axis.over(f"{name} [wt %]", grid, log=True)
    y = Axis.over(
        f"{law.strength.name.replace('_', ' ')} [{law.strength.unit}]", [*(b for _, b in points), *(e.upper for e in ends)], log=True
    )
    plot = Plot(title=f"Power law of {name}", x=x, y=y)
    plot.band([(a, end.lower) for a, end in zip(grid, ends, strict=True)], [(a, end.upper) for a, end in zip(grid, ends, strict=True)])
    plot.line([(a, one.value) for a, one in zip(grid, held, strict=True)])
    plot.marks(points)
    interval = law.exponent.interval
    assert interval is not None  # made with it
    said = f"exponent {number(law.exponent.value, 3)}, 95 % interval {number(interval.lower, 3)} to {number(interval.upper, 3)}"
    return plot.svg(), f"Candidates that differ in it and the balance alone: {said}. Band: 95 % of one new candidate."
