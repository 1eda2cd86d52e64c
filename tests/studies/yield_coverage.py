"""How often the 95 % intervals of the yield methods hold the true value of the virtual ink.

    PYTHONPATH=tests python -m studies.yield_coverage --output docs/yield_coverage.md

The truth comes from noise-free runs of the virtual rheometer, by closed forms or by formulas of this file's own: none of it uses the
methods that are judged.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from functools import cache
from pathlib import Path

import numpy as np
from scipy import stats

from rheokit.base.estimate import Estimate
from rheokit.base.run import Step
from rheokit.virtual import (
    ConePlate,
    Faults,
    Protocol,
    Reading,
    constant,
    creep_limit,
    creep_steps,
    herschel_bulkley,
    measure,
    measure_amplitude_sweep,
    measure_under_stress,
    rested_structure,
    simulate_stress,
    slate_grey_gel,
    slate_grey_ink,
    startup_series_protocol,
    steady_protocol,
    stress_ramp,
)  # fmt: skip
from rheokit.yielding import (
    creep_bracket,
    dynamic_yield_stress,
    flow_point,
    interval_of,
    linear_limit,
    static_yield_growth,
    static_yield_stress_peak,
    static_yield_stress_tangents,
    static_yield_stress_viscosity_maximum,
    stress_at_low_rate,
)  # fmt: skip
from rheokit.yielding.reading_off import positive, stated

INK, GEL, REST, RATE = slate_grey_ink(), slate_grey_gel(), 300.0, 0.1
BREAKING = replace(INK, breakdown_rate=0.05)  # ten times as brittle, so that its overshoot stands out
RAMP = (stress_ramp((1.0, 200.0), 180.0, 120),)
CONTROL = 3.0
"""By which the negative control divides every interval: one of four degrees of freedom is 1.4 times as wide as one of many."""
CREEP = (80.0, 100.0, 115.0, 125.0, 135.0, 150.0)


@dataclass(frozen=True)
class Case:
    """One method: what it should find, and what it finds for one seed."""

    name: str
    true: float
    find: Callable[[int], Estimate]


def step_of(measurement: object, kind: str, controlled: str, number: int = 1) -> Step:
    """Return one step of a measurement as reading would, less the rounding of an export."""
    rows = measurement.step == number  # type: ignore[attr-defined]
    names = [field.name for field in fields(measurement) if field.name != "step"]  # type: ignore[arg-type]
    columns = {name: getattr(measurement, name)[rows] for name in names}
    held = {name: values for name, values in columns.items() if np.isfinite(values).any()}
    return Step(number=number, kind=kind, controlled=controlled, columns=held)  # type: ignore[arg-type]


def noisy(step: Step, seed: int, size: float) -> Step:
    """Return a step whose stresses have independent relative noise."""
    factors = 1.0 + size * np.random.default_rng((seed, 7)).standard_normal(len(step))
    return replace(step, columns={**step.columns, "shear_stress": step.shear_stress * factors})


@cache
def history():
    return simulate_stress(INK, RAMP, structure=rested_structure(INK, REST))


@cache
def crept():
    return simulate_stress(INK, creep_steps(CREEP, 600.0, 80), structure=rested_structure(INK, REST))


@cache
def steady() -> Step:
    return step_of(measure(INK, steady_protocol(), ConePlate(), Faults(), 0), "steady", "rate", 3)


@cache
def started() -> Step:
    return step_of(measure(BREAKING, startup_series_protocol(rests=(REST,)), ConePlate(), Faults(), 0), "startup", "rate", 3)


def ramp_step(seed: int) -> Step:
    return step_of(measure_under_stress(INK, RAMP, Reading(noise_sd=0.02), seed, history=history()), "stress_ramp", "stress")


def sweep_step(seed: int) -> Step:
    return step_of(measure_amplitude_sweep(GEL, Reading(noise_sd=0.01), seed), "amplitude_sweep", "strain")


def bracket(seed: int) -> Estimate:
    run = measure_under_stress(INK, (), Reading(noise_sd=0.003, rate_floor=1e-6), seed, history=crept())
    return creep_bracket([step_of(run, "creep", "stress", number) for number in range(1, len(CREEP) + 1)], rest=REST).stress


def growth(seed: int) -> Estimate:
    """Peaks of five rests that lie on a line of 12 Pa a decade by construction, with 1 % between loads."""
    random = np.random.default_rng((seed, 8))
    found = []
    for rest in (10.0, 30.0, 100.0, 300.0, 1000.0):
        value = (90.0 + 12.0 * math.log10(rest)) * (1.0 + 0.01 * random.standard_normal())
        conditions = stated("start-up peak", rest=rest, shear_rate=RATE)
        common = {"relative_error": 0.002, "degrees_of_freedom": 18.0, "method": "made", "conditions": conditions}
        found.append(positive("static_yield_stress_peak", value, "Pa", **common))
    return static_yield_growth(found).stress


def true_tangents() -> float:
    """Crossing on the noise-free ramp: every window tried in turn with numpy's own line."""
    x, y = np.log(history().stress), np.log(history().strain)
    lines = []
    for first in range(x.size):
        inside = (np.arange(x.size) >= first) & (x <= x[first] + math.log(1.2) + 1e-12)
        if inside.sum() >= 5 and (not lines or x[inside][-1] > lines[-1][2]):
            slope, intercept = np.polyfit(x[inside], y[inside], 1)
            lines.append((slope, intercept, x[inside][-1], 0.5 * (x[inside][0] + x[inside][-1])))
    steep = max(lines)
    below = x <= steep[3] - math.log(3.0)
    slope, intercept = np.polyfit(x[below], y[below], 1)
    return math.exp((intercept - steep[1]) / (steep[0] - slope))


def true_viscosity_maximum() -> float:
    """Highest of 4000 noise-free points, above the first tenth of the ramp, where the spring is only being wound."""
    dense = simulate_stress(INK, (stress_ramp((1.0, 200.0), 180.0, 4000),), structure=rested_structure(INK, REST))
    late = dense.stress > 20.0
    return float(dense.stress[late][np.argmax((dense.stress / dense.rate)[late])])


def true_peak() -> float:
    """Highest of 4000 noise-free points of the start-up."""
    segments = startup_series_protocol(rests=(REST,)).segments
    times = tuple(float(time) for time in np.geomspace(0.3, 60.0, 4000))
    dense = measure(BREAKING, Protocol(name="dense", segments=(*segments[:2], constant(3, RATE, 60.0, times))), ConePlate(), Faults(), 0)
    return float(dense.shear_stress[dense.rows(3)].max())


@cache
def cases() -> tuple[Case, ...]:
    """Return every method with its truth."""
    at = float(steady().shear_rate[np.argmin(np.abs(steady().shear_rate - 0.25))])
    stress_there = float(steady().shear_stress[steady().shear_rate == at][0])
    return (
        Case("dynamic, Herschel-Bulkley", herschel_bulkley(steady().shear_rate, steady().shear_stress)[0],
             lambda seed: dynamic_yield_stress(noisy(steady(), seed, 0.01)).stress),
        Case("stress at a low rate", stress_there, lambda seed: stress_at_low_rate(noisy(steady(), seed, 0.01), shear_rate=at).stress),
        Case("stress ramp, tangents", true_tangents(), lambda seed: static_yield_stress_tangents(ramp_step(seed)).stress),
        Case("stress ramp, viscosity maximum", true_viscosity_maximum(),
             lambda seed: static_yield_stress_viscosity_maximum(ramp_step(seed)).stress),
        Case("start-up peak", true_peak(), lambda seed: static_yield_stress_peak(noisy(started(), seed, 0.01), rest=REST).stress),
        Case("growth over rest", 12.0, growth),
        Case("linear limit, stress", GEL.stress(GEL.linear_limit()), lambda seed: linear_limit(sweep_step(seed)).stress),
        Case("linear limit, strain", GEL.linear_limit(), lambda seed: linear_limit(sweep_step(seed)).limit_strain),
        Case("flow point, stress", GEL.stress(GEL.flow_point), lambda seed: flow_point(sweep_step(seed)).stress),
        Case("flow point, strain", GEL.flow_point, lambda seed: flow_point(sweep_step(seed)).flow_strain),
        Case("creep bracket", creep_limit(INK, structure=rested_structure(INK, REST)), bracket),
    )  # fmt: skip


def covers(estimate: Estimate, true: float, divide: float) -> bool:
    """Tell whether the interval, drawn together around the value by a divisor, holds the truth."""
    held = interval_of(estimate)
    assert held is not None
    return estimate.value - (estimate.value - held.lower) / divide <= true <= estimate.value + (held.upper - estimate.value) / divide


@dataclass(frozen=True)
class Row:
    """One method: how many of how many held the truth, how many by intervals drawn together, and the median error and half width."""

    name: str
    true: float
    held: int
    control: int
    determined: int
    repeats: int
    error: float
    half_width: float


def study(repeats: int, seed: int) -> tuple[Row, ...]:
    """Return one row a method over so many seeds."""
    rows = []
    for case in cases():
        found = [estimate for number in range(repeats) if (estimate := case.find(seed + number)).determined]
        errors = [abs(estimate.value / case.true - 1.0) for estimate in found]
        widths = [(held.upper - held.lower) / 2.0 / case.true for estimate in found if (held := interval_of(estimate))]
        held, control = (sum(covers(estimate, case.true, divide) for estimate in found) for divide in (1.0, CONTROL))
        rows.append(
            Row(
                name=case.name, true=case.true, held=held, control=control, determined=len(found), repeats=repeats,
                error=float(np.median(errors)), half_width=float(np.median(widths)),
            )
        )  # fmt: skip
    return tuple(rows)


def limits(count: int) -> tuple[int, int]:
    """Return between which counts of 95 % intervals that hold the truth chance alone leaves all but one in a thousand."""
    return tuple(int(end) for end in stats.binom.ppf([0.0005, 0.9995], count, 0.95))  # type: ignore[return-value]


def page(rows: tuple[Row, ...], seed: int) -> str:
    """Return the page of docs."""
    repeats = rows[0].repeats
    lines = [
        "# Coverage of the yield methods", "",
        f"How often the 95 % interval of each method holds the true value of the virtual ink, over {repeats} seeds from {seed}.",
        "The ink, its noise (1 % of a stress or modulus, 2 % of a strain or rate under a rising stress, 0.3 % in creep) and all numbers",
        "are invented.",
        f"By chance {limits(repeats)[0]} to {limits(repeats)[1]} of {repeats} hold it, in all but one case of a thousand.",
        "Where more do, the bend of a curve counts as scatter of its points: the interval errs on the large side.",
        "A creep bracket is no 95 % interval: it is to hold the limit always.",
        f"The control draws every interval together to one part in {CONTROL:g}, which must show.", "",
        "| method | true value | hold it | control | not determined | median error | median half width |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]  # fmt: skip
    for row in rows:
        unit = "" if "strain" in row.name else " Pa"
        lines.append(
            f"| {row.name} | {row.true:.4g}{unit} | {row.held} of {row.determined} | {row.control} | {row.repeats - row.determined} "
            f"| {row.error:.2%} | {row.half_width:.2%} |"
        )
    return "\n".join([*lines, "", "Made by `PYTHONPATH=tests python -m studies.yield_coverage --output docs/yield_coverage.md`.", ""])


def main() -> None:
    """Write the page."""
    parser = argparse.ArgumentParser(description="coverage of the yield methods")
    parser.add_argument("--output", type=Path, required=True)
    parser.add_argument("--repeats", type=int, default=1000)
    arguments = parser.parse_args()
    arguments.output.write_text(page(study(arguments.repeats, 1), 1), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
