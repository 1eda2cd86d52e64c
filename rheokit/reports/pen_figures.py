"""The four figures of a pen sheet, drawn from its document alone."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from rheokit.base.quantities import quantity
from rheokit.base.show import number
from rheokit.reports.svg import Axis, Plot

__all__ = ["pen_figures"]

Json = Mapping[str, Any]
Figure = tuple[str, str]
"""SVG and caption."""
TEMPERATURE = quantity("temperature").label
_ICE = 273.15
_LONG_DASH, _DOTS = "6 4", "2 3"


def pen_figures(document: Json) -> list[Figure]:
    """Return (SVG, caption) of the holding index, the viscosity, the pressure and the window of the yield stress."""
    figures = document["figures"]
    return [
        _holding(figures["holding"]),
        _viscosity(figures["viscosity"]),
        _pressure(figures["pressure"]),
        _window(figures["window"]),
    ]


def _celsius(kelvins: Sequence[float]) -> list[float]:
    return [kelvin - _ICE for kelvin in kelvins]


def _pairs(x: Sequence[float], y: Sequence[Any]) -> list[tuple[float, float]]:
    return [(a, float(b)) for a, b in zip(x, y, strict=True) if isinstance(b, int | float)]


def _numbers(*series: Sequence[Any]) -> list[float]:
    return [float(value) for values in series for value in values if isinstance(value, int | float)]


def _holding(held: Json) -> Figure:
    celsius = _celsius(held["temperature"])
    y = Axis.over("pressure held / gas pressure", [*_numbers(held["lower"], held["upper"]), 1.0], log=True)
    plot = Plot(title="Holding index over temperature", x=_even(TEMPERATURE, celsius), y=y)
    plot.band(_pairs(celsius, held["lower"]), _pairs(celsius, held["upper"]))
    middle = _pairs(celsius, held["middle"])
    _inside_and_beyond(plot, middle, [end - _ICE for end in held["known"]])
    plot.level(1.0, "1: it just holds")
    plot.names([(*middle[-1], "middle", 0)])
    caption = (
        "Above 1 the seated tip holds the gas. Band: 95 % of the draws; open mark and full line: the temperatures measured; dashed: beyond "
        "them, an extrapolation. An index of ink creep that ranks batches, never alone a release requirement."
    )
    return plot.svg(), caption


def _even(label: str, values: Sequence[float]) -> Axis:
    return Axis(label=label, low=min(values), high=max(values))


def _inside_and_beyond(plot: Plot, line: Sequence[tuple[float, float]], known: Sequence[float], hue: int = 0) -> None:
    """Draw a line dashed, and full with open marks at its ends where it was measured."""
    inside = [(x, y) for x, y in line if known[0] - 1e-6 <= x <= known[1] + 1e-6]
    plot.line(line, hue=hue, dash=_LONG_DASH, width=1.3)
    plot.line(inside, hue=hue, width=2.2)
    plot.marks([inside[0], inside[-1]] if inside else [], hue=hue, size=3.4)


def _viscosity(held: Json) -> Figure:
    rate, laws, points = held["shear_rate"], held["laws"], held["points"]
    seen = _numbers(*(law[part] for law in laws for part in ("lower", "upper")))
    x = Axis(label=quantity("shear_rate").label, low=rate[0], high=rate[-1], log=True)
    plot = Plot(
        title=f"Viscosity over seven decades, {held['temperature'] - _ICE:.3g} °C",
        x=x,
        y=_decades(quantity("viscosity").label, seen),
        right=104,
    )
    for part, words, hue in (("bench", "bench", None), ("design", "writing", 3)):
        plot.span(held[part][0], held[part][1], words, hue=hue)
    named = []
    for index, law in enumerate(laws):
        middle = _pairs(rate, law["middle"])
        plot.band(_pairs(rate, law["lower"]), _pairs(rate, law["upper"]), hue=index % 4)
        plot.line(middle, hue=index % 4, dash=_LONG_DASH, width=1.3)
        plot.line([(a, b) for a, b in middle if held["bench"][0] * 0.999 <= a <= held["bench"][1] * 1.001], hue=index % 4, width=1.8)
        named.append((*middle[-1], law["words"].replace("Herschel-Bulkley with", "with a"), index % 4))
    plot.marks(_pairs(points["shear_rate"], points["viscosity"]), size=2.4)
    plot.names(named)
    beyond = math.log10(math.sqrt(held["ball"][0] * held["ball"][1]) / held["bench"][1])
    caption = (
        f"Open marks: measured; full lines: laws where they were fitted; dashed: extrapolated. The ball of this refill shears at "
        f"{number(held['ball'][0], 2)} to {number(held['ball'][1], 2)} 1/s, {number(beyond, 2)} decades beyond the bench: the laws differ "
        "there because nobody has measured. Bands: 95 % by each law's own error."
    )
    return plot.svg(), caption


def _decades(label: str, values: Sequence[float]) -> Axis:
    low, high = min(value for value in values if value > 0.0), max(values)
    return Axis(label=label, low=10.0 ** math.floor(math.log10(low) - 0.05), high=10.0 ** math.ceil(math.log10(high)), log=True)


def _pressure(held: Json) -> Figure:
    left = [100.0 * share for share in held["ink_left"]]
    curves = held["curves"]
    top = max(_numbers(*(curve[part] for curve in curves for part in ("upper", "needed_upper")))) / 1e3
    plot = Plot(title="Pressure against the ink left", x=Axis(label="ink left [%]", low=100.0, high=0.0),
                y=Axis(label="pressure p [kPa], gas: gauge", low=0.0, high=1.06 * top))  # fmt: skip
    named = []
    for index, curve in enumerate(curves):
        words, hue = f"{curve['temperature'] - _ICE:.3g} °C", (0, 2, 3)[index % 3]
        plot.band(_kilo(left, curve["lower"]), _kilo(left, curve["upper"]), hue=hue)
        gas, needed = _kilo(left, curve["pressure"]), _kilo(left, curve["needed"])
        plot.line(gas, hue=hue, width=1.8)
        plot.line(needed, hue=hue, dash=("6 4", "2 3", "8 3 2 3")[index % 3], width=1.3)
        named.append((*gas[-1], f"gas, {words}", hue))
        if index == 0:
            plot.word(98.0, needed[0][1], f"needed, {words}", hue=hue)
    plot.names(named)
    caption = (
        "Full lines: gauge pressure of the gas, with 95 % of the draws, from full (left) to empty (right). Dashed: what sets column and "
        "tip moving, by the upper end of the yield stress. Where a full line comes down to its dashed one, the ink no longer follows."
    )
    return plot.svg(), caption


def _kilo(x: Sequence[float], pascals: Sequence[Any]) -> list[tuple[float, float]]:
    return [(a, b / 1e3) for a, b in _pairs(x, pascals)]


def _window(held: Json) -> Figure:
    celsius = _celsius(held["temperature"])
    everything = _numbers(*held["to_hold"], *held["to_feed"], *held["ink"])
    y = Axis.over(quantity("yield_stress").label, everything, log=True)
    plot = Plot(title="Feasible window of the yield stress", x=_even(TEMPERATURE, celsius), y=y, right=24)
    for part, hue, dash in (("to_feed", 1, _DOTS), ("to_hold", 3, _LONG_DASH)):
        lower, middle, upper = (_pairs(celsius, row) for row in held[part])
        plot.band(lower, upper, hue=hue)
        plot.line(middle, hue=hue, dash=dash)
    low, high = (_pairs(celsius, row) for row in held["ink"])
    plot.band(low, high)
    plot.line(low, width=1.3)
    plot.line(high, width=1.3)
    place = len(celsius) // 2
    plot.word(*_pairs(celsius, held["to_feed"][2])[place], "upper limit: the gas still feeds", hue=1, anchor="middle")
    plot.word(*_pairs(celsius, held["to_hold"][0])[1], "lower limit: the tip still holds", hue=3, above=False)
    plot.word(*_pairs(celsius, held["ink"][0])[1], "this ink", hue=0)
    known = " to ".join(dict.fromkeys(f"{end - _ICE:.3g}" for end in held["known"]))
    caption = (
        "Bands of the limits: 95 % of the draws. The ink reaches from the lower end that holding counts on to the upper end that feeding "
        f"must overcome; it was measured at {known} °C and is carried over temperature by its decay. It should lie between both limits."
    )
    return plot.svg(), caption
