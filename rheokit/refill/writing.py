"""Writing: rate and viscosity under the ball, film, laydown, distance, what the gas drives by itself, and the drag of the ball.

The ball shears the ink far beyond any bench: every viscosity here is an EXTRAPOLATION, told by each law and labelled in decades.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log10, pi

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import RangeError
from rheokit.base.show import Table, number
from rheokit.refill.answer import Answer
from rheokit.refill.description import Refill
from rheokit.refill.holding import gauge_pressure
from rheokit.refill.ink import InkInPen, Scores

__all__ = ["BLOBS_BELOW", "DRAGS_ABOVE", "PEN_LOAD", "Writing", "writing"]

DRAGS_ABOVE, BLOBS_BELOW = 4.0, 0.5
"""[Pa·s] In use: above the first the ball drags, below the second gas pressure feeds blobs (our own setting, from simple estimates)."""
PEN_LOAD = 1.5
"""[N] Load of the standard writing test (ISO 12757 family, from memory)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Writing(Carried):
    """What the pen does when it writes; every number an Answer.

    Attributes
    ----------
    rate
        Shear rate under the ball [1/s].
    viscosity
        Law to viscosity under the ball [Pa·s]: they differ because nobody has measured there.
    decades
        By how many decades the rate lies beyond the bench (middle of the draws).
    film, distance, feed_share, drag_share
        Mean film on paper [m]; written length of a fill [m]; flow that gas pressure alone drives through the writing gap over the flow
        that is written; drag of the ball over the pen load.
    """

    rate: Answer
    viscosity: Mapping[str, Answer]
    decades: float
    film: Answer
    distance: Answer
    feed_share: Answer
    drag_share: Answer

    def table(self) -> Table:
        """Return all of it as a table."""
        rows = [_row("shear rate under the ball", self.rate, "1/s", 1.0)]
        rows += [_row(f"viscosity under the ball, {law.replace('_', ' ')}", answer, "Pa·s", 1.0) for law, answer in self.viscosity.items()]
        rows += [
            _row("mean film on paper", self.film, "µm", 1e6),
            _row("writing distance", self.distance, "m", 1.0),
            _row("driven by gas alone / written", self.feed_share, "1", 1.0),
            _row("drag of the ball / pen load", self.drag_share, "1", 1.0),
        ]
        notes = (
            f"the rate lies {number(self.decades, 2)} decades beyond the bench: an extrapolation; a law without a high-rate plateau "
            "understates the viscosity",
            f"above about {DRAGS_ABOVE:g} Pa·s the ball drags, below about {BLOBS_BELOW:g} Pa·s gas pressure feeds blobs",
        )
        columns = ("what", "middle", "95 % of draws", "unit", "meaning")
        return Table(title="writing", columns=columns, rows=tuple(rows), notes=notes, right=("middle", "95 % of draws"))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def writing(refill: Refill, ink: InkInPen, *, temperature: float | None = None, seed: int = 0) -> Writing:
    """Return what the pen does when it writes at a temperature [K], by default that of the measurement.

    Raises
    ------
    RangeError
        When the ink has fewer than two laws: one law's extrapolation would look like knowledge; and when the temperature lies farther
        from the runs than one activation energy is followed.
    """
    if len(ink.laws) < 2:
        raise RangeError("the viscosity under the ball lies far beyond the bench: give two laws or more, so that their difference is seen")
    kelvin = ink.reference_temperature if temperature is None else temperature
    ink.require_near(kelvin)
    draws = refill.draws(seed=seed)
    rate = draws["writing.speed"] / draws["writing.gap"]
    decades = log10(float(np.median(rate)) / ink.bench_range[1])
    beyond = f"{number(decades, 2)} decades beyond the bench"
    scores = Scores.drawn(seed=seed + 1)
    viscosities = {name: ink.viscosity(name, rate, kelvin, scores) for name in ink.laws}
    flow = draws["writing.laydown"] * draws["writing.speed"] / draws["ink.density"]
    area = draws["writing.laydown"] / draws["ink.density"]
    mass = pi * draws["tube.radius"] ** 2 * draws["tube.ink_length"] * draws["ink.density"]
    length = _seal_length(draws)
    band = pi * draws["ball.diameter"] * length
    pressure = np.maximum(gauge_pressure(draws, kelvin), 0.0)
    thickest, thinnest = np.max(list(viscosities.values()), axis=0), np.min(list(viscosities.values()), axis=0)
    driven = pi * draws["ball.diameter"] / 2.0 * draws["writing.gap"] ** 3 * pressure / (12.0 * thinnest * length)
    return Writing(
        rate=_answer("shear_rate", "1/s", rate, "speed over gap", "design band 1e4 to 5e4 1/s"),
        viscosity={
            name: _answer("viscosity", "Pa·s", held, f"{name.replace('_', ' ')}, {beyond}", "an extrapolation")
            for name, held in viscosities.items()
        },
        decades=decades,
        film=_answer("length", "m", area / draws["writing.line_width"], "laydown over density and line width", "mean thickness"),
        distance=_answer("length", "m", mass / draws["writing.laydown"], "ink mass over laydown", "until the refill is empty"),
        feed_share=_answer("feed_share", "1", driven / flow, f"slot of half the ball, thinnest law, {beyond}", "above 1 blobs"),
        drag_share=_answer("drag_share", "1", thickest * rate * band / PEN_LOAD, f"thickest law, {beyond}", "above about 0.3 it drags"),
    )


def _seal_length(draws: Mapping[str, FloatArray]) -> FloatArray:
    """Return the length of the sheared band beside the ball: that of all seal segments."""
    return np.asarray(np.sum([held for key, held in draws.items() if key.startswith("seal.") and key.endswith(".length")], axis=0))


def _answer(name: str, unit: str, draws: FloatArray, method: str, meaning: str) -> Answer:
    return Answer(name=name, unit=unit, draws=draws, method=method, meaning=meaning)


def _row(what: str, answer: Answer, unit: str, factor: float) -> tuple[str, ...]:
    low, high = answer.interval()
    return what, number(answer.middle * factor, 3), f"{number(low * factor, 3)} to {number(high * factor, 3)}", unit, answer.meaning
