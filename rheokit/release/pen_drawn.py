"""What the four figures of a pen sheet draw, as plain lists."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from rheokit.refill.decades import DESIGN_BAND, viscosity_over_decades
from rheokit.refill.description import Refill
from rheokit.refill.feeding import SHARES_LEFT, feeding_yield, moved_per_stress
from rheokit.refill.holding import HoldingIndex, gauge_pressure
from rheokit.refill.ink import InkInPen, Scores
from rheokit.refill.window import yield_window
from rheokit.release.pen_rows import law_words
from rheokit.release.record import pure

__all__ = ["drawn_figures"]

_ENDS = (0.025, 0.5, 0.975)


def drawn_figures(refill: Refill, ink: InkInPen, holding: HoldingIndex, *, seed: int) -> dict[str, Any]:
    """Return the arrays of the figures by name [SI]."""
    return {
        "holding": _holding(holding),
        "viscosity": _viscosity(refill, ink, seed),
        "pressure": _pressure(refill, ink, seed),
        "window": _window(refill, ink, seed),
    }


def _list(values: ArrayLike) -> list[float | str | None]:
    return [pure(float(value)) for value in np.asarray(values, dtype=np.float64)]


def _holding(found: HoldingIndex) -> dict[str, Any]:
    ends = np.array([answer.interval() for answer in found.index])
    return {
        "temperature": _list(found.temperature),
        "middle": _list([answer.middle for answer in found.index]),
        "lower": _list(ends[:, 0]),
        "upper": _list(ends[:, 1]),
        "known": _list(found.known_temperatures),
    }


def _viscosity(refill: Refill, ink: InkInPen, seed: int) -> dict[str, Any]:
    found = viscosity_over_decades(refill, ink, seed=seed)
    return {
        "temperature": found.temperature,
        "shear_rate": _list(found.shear_rate),
        "laws": [
            {"name": name, "words": law_words(name), "middle": _list(held[0]), "lower": _list(held[1]), "upper": _list(held[2])}
            for name, held in found.laws.items()
        ],
        "points": {"shear_rate": [], "viscosity": []} if found.points is None
        else {"shear_rate": _list(found.points[0]), "viscosity": _list(found.points[1])},
        "bench": _list(found.bench_range),
        "ball": _list(found.ball_range),
        "design": _list(DESIGN_BAND),
    }  # fmt: skip


def _pressure(refill: Refill, ink: InkInPen, seed: int) -> dict[str, Any]:
    draws, scores = refill.draws(seed=seed), Scores.drawn(seed=seed + 1)
    column, tip = moved_per_stress(refill, draws)
    highest = feeding_yield(ink)[0]
    curves = []
    for kelvin in (refill["use.coldest"].lower, ink.reference_temperature, refill["use.hottest"].upper):
        gauge = np.array([np.quantile(gauge_pressure(draws, kelvin, left), _ENDS) for left in SHARES_LEFT])
        stress = highest * ink.yield_factor(kelvin, scores)
        needed = np.array([np.quantile((left * column + tip) * stress, _ENDS) for left in SHARES_LEFT])
        curves.append({
            "temperature": kelvin, "pressure": _list(gauge[:, 1]), "lower": _list(gauge[:, 0]), "upper": _list(gauge[:, 2]),
            "needed": _list(needed[:, 1]), "needed_upper": _list(needed[:, 2]),
        })  # fmt: skip
    return {"ink_left": _list(SHARES_LEFT), "curves": curves}


def _window(refill: Refill, ink: InkInPen, seed: int) -> dict[str, Any]:
    found = yield_window(refill, ink, seed=seed)
    return {
        "temperature": _list(found.temperature),
        "to_hold": [_list(row) for row in found.to_hold],
        "to_feed": [_list(row) for row in found.to_feed],
        "ink": [_list(row) for row in found.ink],
        "known": _list(found.known_temperatures),
    }
