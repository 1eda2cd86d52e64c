"""The rows of a pen sheet: holding, feeding, writing, filling and gas, each number with its interval and what it means."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import RangeError
from rheokit.base.estimate import Estimate
from rheokit.base.show import number
from rheokit.refill.answer import Answer
from rheokit.refill.description import Refill
from rheokit.refill.feeding import Feeding
from rheokit.refill.filling import INJURY, Filling
from rheokit.refill.gas import LIQUID_FULL, gas_share_taken, water_vapour_pressure
from rheokit.refill.holding import HoldingIndex, creep_bound, creep_viscosity_needed, gauge_pressure, worst_pressure
from rheokit.refill.ink import InkInPen
from rheokit.refill.writing import BLOBS_BELOW, DRAGS_ABOVE, Writing, writing
from rheokit.release.record import pure
from rheokit.yielding import interval_of

__all__ = ["SEEPAGE", "Row", "feeding_rows", "filling_rows", "gas_rows", "holding_rows", "law_words", "writing_rows"]

SEEPAGE = 1e-7
"""[kg] a year: what is seen at a tip (our own setting, 0.1 mg)."""
_ICE = 273.15


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line of the sheet: a number with the ends of its interval in the unit shown, or words where there is no number."""

    section: str
    what: str
    unit: str
    note: str
    caution: str = ""
    middle: float | None = None
    lower: float | None = None
    upper: float | None = None

    @classmethod
    def of(cls, section: str, what: str, draws: FloatArray, unit: str, note: str) -> Row:
        """Return the line of a number that is known draw by draw, in the unit shown."""
        held = Answer(name=what, unit=unit, draws=draws, method=note, meaning=note)
        low, high = held.interval()
        return cls(section=section, what=what, unit=unit, note=note, middle=held.middle, lower=low, upper=high)

    def document(self) -> dict[str, Any]:
        """Return it as JSON, with the words a person reads."""
        low, high = self.lower, self.upper
        exact = low is None or high is None or low == high
        middle = "not given" if self.middle is None else number(self.middle, 3)
        interval = "" if exact or low is None or high is None else f"{number(low, 3)} to {number(high, 3)}"
        return {
            "section": self.section, "what": self.what, "unit": self.unit, "note": self.note, "caution": self.caution,
            "middle": pure(self.middle), "lower": pure(low), "upper": pure(high), "shown": {"middle": middle, "interval": interval},
        }  # fmt: skip


_LAW_WORDS: Mapping[str, str] = MappingProxyType(
    {"herschel_bulkley": "Herschel-Bulkley", "casson": "Casson", "herschel_bulkley_plateau": "Herschel-Bulkley with plateau"}
)


def law_words(name: str) -> str:
    """Return the name of a law, and of a plateau added to it, as a person reads it."""
    law, plus, plateau = name.partition(" + ")
    return _LAW_WORDS.get(law, law.replace("_", " ")) + plus + plateau


def celsius(kelvin: float) -> str:
    """Return a temperature as a person reads it."""
    return f"{kelvin - _ICE:.3g} °C"


def holding_rows(refill: Refill, ink: InkInPen, found: HoldingIndex, *, seed: int) -> list[Row]:
    """Return the index from cold to hot, and what creep says."""
    rows = []
    for kelvin in (found.temperature[0], ink.reference_temperature, found.temperature[-1]):
        place = int(np.argmin(np.abs(found.temperature - kelvin)))
        away = ink.beyond(float(found.temperature[place]))
        note = f"{found.index[place].share(above=1.0):.0%} of the draws hold" + _beyond(away)
        what = f"holding index at {celsius(found.temperature[place])}"
        rows.append(Row.of("holding", what, found.index[place].draws, "1", note))
    note = f"share of ink left where the index is lowest; counted on {number(found.yield_stress, 3)} Pa, the lower end of the "
    note += found.yield_name.replace("_", " ")
    rows.append(Row(section="holding", what="worst ink left", unit="%", middle=100.0 * found.worst_ink_left, note=note))
    return [*rows, *_creep_rows(refill, ink, seed)]


def _beyond(kelvin: float) -> str:
    return f"; {kelvin:.3g} K beyond the runs: an extrapolation" if kelvin > 0.0 else ""


def _creep_rows(refill: Refill, ink: InkInPen, seed: int) -> list[Row]:
    if not any(segment.kind == "slot" for segment in refill.seal):
        return []
    at = ink.reference_temperature
    if ink.creep_viscosity is not None:
        bound = creep_bound(refill, ink.creep_viscosity, temperature=at, seed=seed)
        note = f"a bound, never a prediction: the creep viscosity of hours, {number(ink.creep_viscosity, 2)} Pa·s, held for a year"
        return [Row.of("holding", "creep in a year, at most", bound.draws * 1e6, "mg", note)]
    needed = creep_viscosity_needed(refill, SEEPAGE, temperature=at, seed=seed)
    note = f"creep viscosity that keeps seepage below {SEEPAGE * 1e6:g} mg a year; creep was not measured on this batch"
    return [Row.of("holding", "creep viscosity needed", needed.draws, "Pa·s", note)]


def feeding_rows(ink: InkInPen, found: Feeding) -> list[Row]:
    """Return the worst place of the scan, and the worst at the temperature of the measurement."""
    kelvin, left = found.worst_at
    note = f"lowest of the whole scan: with {left:.0%} of the ink left; {found.counted_on}" + _beyond(ink.beyond(kelvin))
    rows = [Row.of("feeding", f"pressure / needed at {celsius(kelvin)}", found.worst.draws, "1", note)]
    row = int(np.argmin(np.abs(found.temperature - ink.reference_temperature)))
    place = int(np.argmin(found.lower[row]))
    low, middle, high = (float(held[row, place]) for held in (found.lower, found.middle, found.upper))
    note = f"lowest from full to empty: with {found.ink_left[place]:.0%} of the ink left; above 1 the ink follows the ball"
    what = f"pressure / needed at {celsius(found.temperature[row])}"
    return [Row(section="feeding", what=what, unit="1", middle=middle, lower=low, upper=high, note=note), *rows]


def writing_rows(refill: Refill, ink: InkInPen, *, entered: Sequence[Estimate], seed: int) -> list[Row]:
    """Return what writes at the temperature of the measurement, and the viscosity when cold and hot, or why it is not given."""
    found = writing(refill, ink, seed=seed)
    beyond = f"{number(found.decades, 2)} decades beyond the bench: an extrapolation"
    rows = [Row.of("writing", "shear rate under the ball", found.rate.draws, "1/s", "speed over gap; design band 1e4 to 5e4 1/s")]
    rows += [
        Row.of("writing", f"viscosity under the ball, {law_words(name)}", answer.draws, "Pa·s", beyond + _too_thin(name))
        for name, answer in found.viscosity.items()
    ]
    blobs = f"gas alone over written, thinnest law: above 1 blobs; viscosity below about {BLOBS_BELOW:g} Pa·s warns of it"
    drags = f"thickest law; above about 0.3 it drags, as it does above some {DRAGS_ABOVE:g} Pa·s"
    rows += [
        Row.of("writing", "mean film on paper", found.film.draws * 1e6, "µm", "laydown over density and line width"),
        Row.of("writing", "laydown", 1e6 * refill.draws(seed=seed)["writing.laydown"] * 100.0, "mg/100 m", "target of the description"),
        *_measured_laydown(entered),
        Row.of("writing", "writing distance", found.distance.draws, "m", "ink mass over laydown"),
        Row.of("writing", "flow driven by gas alone", found.feed_share.draws, "1", blobs),
        Row.of("writing", "drag of the ball over the pen load", found.drag_share.draws, "1", drags),
    ]
    for kelvin in (refill["use.coldest"].lower, refill["use.hottest"].upper):
        rows += _elsewhere(kelvin, lambda at: writing(refill, ink, temperature=at, seed=seed))
    return rows


def _measured_laydown(entered: Sequence[Estimate]) -> list[Row]:
    rows = []
    for found in entered:
        if found.name == "laydown" and (held := interval_of(found)) is not None:
            low, high = (end * 1e8 for end in (held.lower, held.upper))
            note = f"typed in: {found.method}; 95 % of its uncertainty"
            rows.append(
                Row(section="writing", what="laydown measured", unit="mg/100 m", middle=found.value * 1e8, lower=low, upper=high, note=note)
            )
    return rows


def _too_thin(name: str) -> str:
    return "; a law without a high-rate plateau understates it" if name in {"herschel_bulkley", "power_law"} else ""


def _elsewhere(kelvin: float, at: Callable[[float], Writing]) -> list[Row]:
    what = f"viscosity under the ball at {celsius(kelvin)}"
    try:
        found = at(kelvin)
    except RangeError as error:
        return [Row(section="writing", what=what, unit="Pa·s", note=str(error))]
    together = np.concatenate([answer.draws for answer in found.viscosity.values()])
    note = f"over {len(found.viscosity)} laws; {number(found.decades, 2)} decades beyond the bench: an extrapolation"
    return [Row.of("writing", what, together, "Pa·s", note)]


def filling_rows(found: Filling) -> list[Row]:
    """Return the pressure at the needle by every law and plateau, its upper bound, and the rest afterwards."""
    rows = [
        Row.of("filling", f"needle pressure, {law_words(name)}", answer.draws / 1e5, "bar", "flowing; beyond the bench")
        for name, answer in found.pressure.items()
    ]
    bound = f"highest law and plateau times the first-stroke factor {number(found.first_stroke, 3)}"
    caution = "Size equipment by this, never by a middle."
    if found.upper_bound > INJURY:
        caution += " Above 20 bar a jet injects through skin: guards, rated hoses, qualified people."
    rest = "before a leak test: filling shears the ink fully, and holding is the rebuilt value"
    return [
        *rows,
        Row(
            section="filling", what="needle pressure, upper bound", unit="bar", middle=found.upper_bound / 1e5, note=bound, caution=caution
        ),
        Row(section="filling", what="rest after filling", unit="h", middle=found.rest / 3600.0, note=rest),
    ]


def gas_rows(refill: Refill, draws: Mapping[str, FloatArray]) -> list[Row]:
    """Return the gauge pressure at filling, cold, hot and empty, and what vapour and expansion take of it."""
    cold, hot = refill["use.coldest"].lower, refill["use.hottest"].upper
    filled = refill["gas.temperature"].middle
    places: Sequence[tuple[str, float, float, str]] = (
        (f"gauge pressure at {celsius(filled)}, full", filled, 1.0, "as filled, at the altitude of use"),
        (f"gauge pressure at {celsius(cold)}, full", cold, 1.0, "least push of a full refill"),
        (f"gauge pressure at {celsius(filled)}, empty", filled, 0.0, "what is left for the last ink; below zero it stops earlier"),
        (f"gauge pressure at {celsius(hot)}, full", hot, 1.0, "hottest use"),
    )  # fmt: skip
    rows = [Row.of("gas", what, gauge_pressure(draws, kelvin, left) / 1e3, "kPa", note) for what, kelvin, left, note in places]
    taken = gas_share_taken(
        hot, filled_temperature=draws["gas.temperature"], gas_volume=draws["gas.volume"],
        ink_volume=np.pi * draws["tube.radius"] ** 2 * draws["tube.ink_length"], expansion=draws["ink.expansion"],
    )  # fmt: skip
    vapour = draws["gas.water_activity"] * water_vapour_pressure(hot) / 1e3
    margin = (
        "Size pressure margins for this, never for the pressure at filling. Oven tests of sealed refills: behind a shield, with eye "
        "protection, in equipment rated for it."
    )
    return [
        *rows,
        Row(
            section="gas",
            what=f"gauge pressure at {celsius(hot)}, at most",
            unit="kPa",
            middle=worst_pressure(refill) / 1e3,
            note="full, every range at its worst end",
            caution=margin,
        ),
        Row.of("gas", f"water vapour in it at {celsius(hot)}", vapour, "kPa", "other solvents add to it and are not counted"),
        Row.of(
            "gas", f"gas volume taken by the ink at {celsius(hot)}", 100.0 * taken, "%", f"refused above {LIQUID_FULL:.0%}: liquid-full"
        ),
    ]
