"""Protocols of the trade as tables of true columns and true kinds of steps, to be sampled, spoilt by noise and read.

What turns at a set rate comes from the virtual rheometer; what is driven by a stress, oscillates or is heated is made here from closed
formulas, since that rheometer does none of it. Nothing here is shared with the reader.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from rheokit.virtual import (
    Protocol,
    Segment,
    constant,
    evenly,
    loop_protocol,
    ramp,
    recovery_protocol,
    simulate,
    slate_grey_ink,
    startup_protocol,
    steady_protocol,
)

HEADINGS = {
    "time": "Time [s]",
    "rate": "Shear rate [1/s]",
    "stress": "Shear stress [Pa]",
    "strain": "Shear strain [1]",
    "temperature": "Temperature [K]",
    "frequency": "Angular frequency [rad/s]",
    "storage": "Storage modulus [Pa]",
    "loss": "Loss modulus [Pa]",
}
Part = dict[str, np.ndarray]


@dataclass(frozen=True)
class Case:
    """One protocol: columns of each step (time within the step, true values) and what each step is."""

    parts: tuple[Part, ...]
    kinds: tuple[str, ...]
    controlled: tuple[str, ...]


def case(parts: list[Part], kinds: str, controlled: str = "") -> Case:
    """Return a case; steps are controlled by the rate where nothing is said."""
    names = kinds.split()
    assert len(names) == len(parts)
    return Case(tuple(parts), tuple(names), tuple(controlled.split()) or ("rate",) * len(names))


# --- at a set rate: the virtual rheometer ----------------------------------------------------------------------------------------


def turned(*segments: Segment) -> list[Part]:
    """Return the steps of a run of the virtual rheometer."""
    history = simulate(slate_grey_ink(), Protocol(name="case", segments=segments))
    found = []
    for number in dict.fromkeys(history.step.tolist()):
        rows = history.step == number
        found.append({"time": history.step_time[rows], "rate": history.apparent_rate[rows], "stress": history.stress[rows]})
    return found


def in_order(*segments: Segment) -> list[Part]:
    """Return the steps of segments that are a step each."""
    return turned(*(Segment(**{**vars(one), "step": number}) for number, one in enumerate(segments, 1)))


def held(rate: float, seconds: float, points: int) -> Segment:
    return constant(1, rate, seconds, evenly(seconds, points))


def swept(first: float, last: float, seconds: float, points: int, course: str = "linear") -> Segment:
    return ramp(1, (first, last), seconds, evenly(seconds, points), course=course)  # type: ignore[arg-type]


def steps_at(rates: np.ndarray, seconds: float, rows: int) -> list[Segment]:
    """Return segments that all belong to step 1, several rows each."""
    return [constant(1, float(rate), seconds, evenly(seconds, rows)) for rate in rates]


def loop() -> Case:
    return case(turned(*loop_protocol().segments), "shear rest up hold down shear")


def loop_backwards() -> Case:
    # The drive turns the other way: every sign is changed, and reading turns it forward again.
    forward = loop()
    parts = [{**part, "rate": -part["rate"], "stress": -part["stress"]} for part in forward.parts]
    return case(parts, " ".join(forward.kinds))


def loop_without_hold() -> Case:
    parts = in_order(held(100, 60, 20), held(0, 300, 30), swept(0, 100, 120, 60), swept(100, 0, 120, 60))
    return case(parts, "shear rest up down")


def logarithmic_loop() -> Case:
    parts = in_order(
        held(100, 60, 20), held(0, 300, 30), swept(0.1, 100, 120, 60, "logarithmic"), held(100, 30, 10),
        swept(100, 0.1, 120, 60, "logarithmic"),
    )  # fmt: skip
    return case(parts, "shear rest up hold down")


def repeated_loops() -> Case:
    legs = [swept(0, 100, 120, 60), swept(100, 0, 120, 60)] * 3
    return case(in_order(held(100, 60, 20), held(0, 300, 30), *legs), "shear rest up down up down up down")


def long_loop() -> Case:
    parts = in_order(held(500, 60, 60), held(0, 300, 30), swept(0, 500, 180, 180), held(500, 60, 60), swept(500, 0, 180, 180))
    return case(parts, "shear rest up hold down")


def slow_linear_ramps() -> Case:
    return case(in_order(held(100, 60, 20), swept(0, 100, 600, 40), swept(100, 0, 600, 40)), "shear up down")


def slow_logarithmic_ramps() -> Case:
    parts = in_order(held(100, 60, 20), swept(0.1, 100, 600, 40, "logarithmic"), swept(100, 0.1, 600, 40, "logarithmic"))
    return case(parts, "shear up down")


def steady() -> Case:
    return case(turned(*steady_protocol().segments), "shear rest steady")


def steady_of_several_rows() -> Case:
    parts = in_order(held(100, 60, 20)) + turned(*steps_at(np.geomspace(100, 0.1, 16), 20.0, 5))
    return case(parts, "shear steady")


def steady_at_even_rates() -> Case:
    return case(in_order(held(100, 60, 20)) + turned(*steps_at(np.linspace(100, 5, 20), 15.0, 1)), "shear steady")


def steady_one_by_one() -> Case:
    rates = np.geomspace(63.1, 0.1, 15)
    return case(in_order(held(100, 60, 20), held(0, 10, 3), *(held(float(rate), 20, 10) for rate in rates)), "shear rest" + " steady" * 15)


def recovery() -> Case:
    return case(turned(*recovery_protocol().segments), "shear shear recovery")


def recovery_after_conditioning() -> Case:
    parts = in_order(held(100, 60, 20), held(0, 300, 30), held(0.5, 120, 40), held(500, 30, 30), held(0.5, 300, 100))
    return case(parts, "shear rest shear shear recovery")


def startup() -> Case:
    return case(turned(*startup_protocol().segments), "shear rest startup")


def startups_after_rests() -> Case:
    triple = [(held(100, 60, 20), held(0, rest, 10), held(0.05, 60, 60)) for rest in (10, 100, 1000)]
    return case(in_order(*(one for three in triple for one in three)), "shear rest startup " * 3)


# --- at a set stress -------------------------------------------------------------------------------------------------------------

YIELD, CONSISTENCY, INDEX = 60.0, 20.0, 0.5


def flowing(stress: np.ndarray, time: np.ndarray) -> np.ndarray:
    """Return the rate under a stress: by Herschel and Bulkley above the yield stress, delayed elasticity that dies out below."""
    above = np.maximum(stress - YIELD, 0.0)
    return (above / CONSISTENCY) ** (1.0 / INDEX) + 1e-5 * stress * (1.0 + time) ** -0.7


def stressed(stress: np.ndarray, seconds: float) -> Part:
    time = np.linspace(seconds / stress.size, seconds, stress.size)
    rate = flowing(stress, time)
    return {"time": time, "rate": rate, "stress": stress, "strain": np.cumsum(rate) * seconds / stress.size}


def crept(stress: float, seconds: float, points: int) -> Part:
    """Creep: the rate falls to what the stress drives, and below the yield stress to nothing, by a power of time."""
    time = np.geomspace(seconds / 1000.0, seconds, points)
    rate = max(stress - YIELD, 0.0) ** 2 / CONSISTENCY**2 * (1.0 + 2.0 * np.exp(-time / 20.0)) + 1e-3 * stress / YIELD * time**-0.7
    return {"time": time, "rate": rate, "stress": np.full(points, stress), "strain": np.cumsum(rate * np.gradient(time))}


def recoiled(points: int) -> Part:
    time = np.geomspace(0.3, 300.0, points)
    return {"time": time, "rate": -1e-3 * time**-0.9, "stress": np.zeros(points), "strain": 0.3 + 0.05 * time**-0.1}


def with_strain(parts: list[Part]) -> list[Part]:
    return [{**part, "strain": np.cumsum(part["rate"] * np.gradient(part["time"]))} for part in parts]


def conditioned() -> list[Part]:
    return with_strain(in_order(held(100, 60, 20), held(0, 300, 30)))


def stress_ramp() -> Case:
    return case([*conditioned(), stressed(np.linspace(1, 160, 120), 180)], "shear rest stress_ramp", "rate rate stress")


def stress_ramp_alone() -> Case:
    return case([stressed(np.geomspace(0.5, 160, 120), 180)], "stress_ramp", "stress")


def stress_ramp_below_yield() -> Case:
    return case([*conditioned(), stressed(np.linspace(1, 55, 100), 180)], "shear rest stress_ramp", "rate rate stress")


def loop_by_stress() -> Case:
    up = np.linspace(1, 160, 80)
    parts = [*conditioned(), stressed(up, 120), stressed(np.full(20, 160.0), 30), stressed(up[::-1].copy(), 120)]
    return case(parts, "shear rest up hold down", "rate rate stress stress stress")


def creep_and_recovery() -> Case:
    parts = conditioned()
    for stress in (20.0, 50.0, 90.0):
        parts += [crept(stress, 600, 80), recoiled(60)]
    return case(parts, "shear rest" + " creep creep_recovery" * 3, "rate rate" + " stress" * 6)


def creep_without_a_rate() -> Case:
    parts = [{key: values for key, values in part.items() if key != "rate"} for part in (crept(40.0, 600, 80), recoiled(60))]
    return case(parts, "creep creep_recovery", "stress stress")


# --- oscillation and temperature -------------------------------------------------------------------------------------------------


def oscillated(strain: np.ndarray, frequency: np.ndarray, seconds: float, softened: float = 1.0) -> Part:
    time = np.linspace(seconds / strain.size, seconds, strain.size)
    storage = softened * 2000.0 * frequency**0.05 / (1.0 + (strain / 0.05) ** 1.5)
    return {
        "time": time,
        "strain": strain,
        "frequency": frequency,
        "storage": storage,
        "loss": 0.2 * storage + 50.0 * strain / (0.02 + strain),
    }


def amplitude_sweep() -> Case:
    return case([oscillated(np.geomspace(1e-4, 1.0, 40), np.full(40, 10.0), 400)], "amplitude_sweep", "strain")


def frequency_sweep() -> Case:
    return case([oscillated(np.full(25, 1e-3), np.geomspace(100, 0.1, 25), 600)], "frequency_sweep", "strain")


def recovery_by_oscillation() -> Case:
    small = np.full(40, 1e-3), np.full(40, 10.0)
    sheared = in_order(held(100, 60, 20))
    return case([oscillated(*small, 120), *sheared, oscillated(*small, 300, 0.7)], "rest shear recovery", "strain rate strain")


def recovery_by_large_oscillation() -> Case:
    small, large = (np.full(40, 1e-3), np.full(40, 10.0)), (np.full(20, 1.0), np.full(20, 10.0))
    parts = [oscillated(*small, 120), oscillated(*large, 60), oscillated(*small, 300, 0.7)]
    return case(parts, "rest shear recovery", "strain strain strain")


def heated(part: Part, temperature: np.ndarray) -> Part:
    return {**part, "temperature": temperature}


def at_one_rate(temperature: np.ndarray, seconds: float) -> Part:
    time = np.linspace(seconds / temperature.size, seconds, temperature.size)
    return {
        "time": time,
        "rate": np.full(temperature.size, 10.0),
        "stress": 40.0 * np.exp(2000.0 / temperature - 2000.0 / 296.15),
        "temperature": temperature,
    }


def temperature_ramp() -> Case:
    return case([at_one_rate(np.linspace(253.15, 353.15, 100), 3000)], "temperature_ramp", "temperature")


def temperature_ramp_by_oscillation() -> Case:
    part = oscillated(np.full(100, 1e-3), np.full(100, 10.0), 3000)
    return case([heated(part, np.linspace(353.15, 273.15, 100))], "temperature_ramp", "temperature")


def temperature_steps_in_one() -> Case:
    return case([at_one_rate(np.repeat(np.linspace(273.15, 333.15, 7), 12), 4200)], "temperature_ramp", "temperature")


def temperature_steps() -> Case:
    return case([at_one_rate(np.full(30, kelvin), 300) for kelvin in (283.15, 296.15, 313.15, 333.15)], "shear shear shear shear")


PROTOCOLS: dict[str, Callable[[], Case]] = {
    make.__name__.replace("_", " "): cache(make)
    for make in (
        loop, loop_backwards, loop_without_hold, logarithmic_loop, repeated_loops, long_loop, slow_linear_ramps, slow_logarithmic_ramps,
        steady, steady_of_several_rows, steady_at_even_rates, steady_one_by_one, recovery, recovery_after_conditioning, startup,
        startups_after_rests, stress_ramp, stress_ramp_alone, stress_ramp_below_yield, loop_by_stress, creep_and_recovery,
        creep_without_a_rate, amplitude_sweep, frequency_sweep, recovery_by_oscillation, recovery_by_large_oscillation,
        temperature_ramp, temperature_ramp_by_oscillation, temperature_steps_in_one, temperature_steps,
    )
}  # fmt: skip


# --- sampling and noise ----------------------------------------------------------------------------------------------------------

SAMPLINGS: dict[str, int | None] = {"as measured": None, "12 rows a step": 12, "5 rows a step": 5, "3 rows a step": 3, "1 row a step": 1}


def sampled(part: Part, rows: int | None) -> Part:
    """Return at most so many rows of a step, evenly chosen, the last one among them."""
    size = part["time"].size
    if rows is None or rows >= size:
        return part
    chosen = np.linspace(0, size - 1, rows + 1).round().astype(int)[1:]
    return {name: values[chosen] for name, values in part.items()}


@dataclass(frozen=True)
class Noise:
    """Relative standard deviation of what is set and of what is measured, encoder noise over the top rate, and cells left empty."""

    drive: float = 0.0
    sensor: float = 0.0
    encoder: float = 0.0
    missing: float = 0.0


NOISES = {
    "none": Noise(),
    "usual": Noise(drive=0.001, sensor=0.005, encoder=1e-6),
    "coarse": Noise(drive=0.005, sensor=0.02, encoder=1e-5),
    "rough": Noise(drive=0.015, sensor=0.04, encoder=1e-4),
    "cells missing": Noise(drive=0.001, sensor=0.005, encoder=1e-6, missing=0.1),
}
_SET_BY = {"rate": ("rate",), "stress": ("stress",), "strain": ("strain", "frequency"), "temperature": ("rate", "strain", "frequency")}


def export(case: Case, noise: Noise, rows: int | None, seed: int) -> str:
    """Return the text of an export: one step column, cells empty where a step has no such quantity."""
    random = np.random.default_rng(seed)
    names = [name for name in HEADINGS if any(name in part for part in case.parts)]
    tops = {name: max(float(np.abs(part[name]).max()) for part in case.parts if name in part) for name in names}
    lines, start = [",".join(["Step", *(HEADINGS[name] for name in names)])], 0.0
    for number, (whole, controlled) in enumerate(zip(case.parts, case.controlled, strict=True), 1):
        part = sampled(whole, rows)
        printed = {name: _spoilt(name, values, name in _SET_BY[controlled], tops[name], noise, random) for name, values in part.items()}
        printed["time"] = part["time"] + start
        for index in range(part["time"].size):
            lines.append(",".join([f"{number}", *(_cell(name, printed, index, noise, random) for name in names)]))
        start += float(whole["time"][-1])
    return "\n".join(lines) + "\n"


def _spoilt(name: str, values: np.ndarray, is_set: bool, top: float, noise: Noise, random: np.random.Generator) -> np.ndarray:
    if name == "temperature":
        return values + 20.0 * noise.drive * random.standard_normal(values.size)  # 0.02 K at the usual noise
    relative = noise.drive if is_set else noise.sensor
    floor = noise.encoder * top if name in {"rate", "stress"} else 0.0
    return values * (1.0 + relative * random.standard_normal(values.size)) + floor * random.standard_normal(values.size)


def _cell(name: str, printed: Part, index: int, noise: Noise, random: np.random.Generator) -> str:
    if name not in printed or (name not in {"time"} and random.random() < noise.missing):
        return ""
    return f"{printed[name][index]:.6g}"
