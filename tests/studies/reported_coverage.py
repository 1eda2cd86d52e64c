"""How often the REPORTED interval of a characteristic, after its loads are combined as the release does, holds the true batch value.

    PYTHONPATH=tests python -m studies.reported_coverage --output docs/reported_coverage.md

Truth are noise-free runs of the virtual rheometer at the set temperature, read by its own formulas. Every load has its own stress scale and
noise; an experiment on other loads gives the repeatability that is stated, as a laboratory would find its own.
"""

from __future__ import annotations

import argparse
import itertools
import math
import sys
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from scipy import stats

from rheokit.base.estimate import Estimate, Source
from rheokit.base.run import Batch, Run, Step
from rheokit.characteristics import CHARACTERISTICS, Measured, combine_measured, measure
from rheokit.release.instrument_budget import budgeted
from rheokit.release.specification import Specification
from rheokit.release.specification_file import read_specification
from rheokit.statistics.precision import StatedUncertainty
from rheokit.virtual import (
    ConePlate,
    Faults,
    Measurement,
    Protocol,
    TrueValues,
    loop_protocol,
    recovery_protocol,
    slate_grey_ink,
    steady_protocol,
    true_values,
)
from rheokit.virtual import measure as run_virtually
from rheokit.virtual.instrument import load_factor, relative_noise

LEVEL = 0.95
LOADS = 3
SET_TEMPERATURE = 296.15
OFFSETS = tuple((2 * place + 1 - 8) / 8 for place in range(8))
"""Where in a tolerance the temperature of a batch may lie: the middles of eight equal parts, each as likely as the next."""
EXPERIMENT = 1_000_000
"""First seed of the loads of the experiment, beyond those of any batch."""
WAYS = ("stated", "stated, with temperature", "corrected", "by default", "estimated", "control")
"""By the repeatability of the experiment; by it and a part `temperature`, or what the release adds for temperatures that the runs hold,
with a coefficient and without; from the three loads alone; by an experiment without load factors."""

PROTOCOLS: Mapping[str, tuple[Protocol, tuple[str, ...]]] = {
    "loop": (loop_protocol(), ("shear", "rest", "up", "hold", "down", "steady")),
    "steady": (steady_protocol(), ("shear", "rest", "steady")),
    "recovery": (recovery_protocol(), ("shear", "shear", "recovery")),
}
"""Test to what the drive does and the kinds of its steps."""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One characteristic as a specification asks for it, and its true value's name."""

    characteristic: str
    test: str
    step: str | None
    at: Mapping[str, float | tuple[float, ...] | str]
    truth: str
    scaled: bool = True
    """Whether it grows with the stress scale of a load; ratios of one load do not."""
    costly: bool = False


ASKED = (
    Asked(characteristic="viscosity_at_rate", test="loop", step="down", at={"shear_rate": 100.0}, truth="loop_viscosity_at_100"),
    Asked(characteristic="stress_at_rate", test="steady", step="steady", at={"shear_rate": 1.0}, truth="steady_stress_at_1"),
    Asked(characteristic="shear_thinning_index", test="steady", step="steady", at={"shear_rates": (10.0, 100.0)},
          truth="shear_thinning_index", scaled=False),
    Asked(characteristic="yield_stress", test="steady", step="steady", at={"method": "herschel_bulkley"},
          truth="herschel_bulkley_yield_stress"),
    Asked(characteristic="loop_area", test="loop", step=None, at={}, truth="loop_area"),
    Asked(characteristic="recovery_at_time", test="recovery", step="recovery", at={"time": 60.0, "tracked": "viscosity"},
          truth="recovery_at_60", scaled=False, costly=True),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What spoils the loads; up to `tolerance` [K] the ink of a batch is warmer or colder than set, which the sensor may see."""

    name: str
    faults: Faults
    tolerance: float = 0.0
    seen: bool = False
    control: bool = False


LOAD = Faults(load_factor_sd=0.02, point_noise_sd=0.007)
SETTINGS = (
    Setting(name="independent noise", faults=LOAD, control=True),
    Setting(name="noise that remembers", faults=Faults(load_factor_sd=0.02, point_noise_sd=0.005, correlated_noise_sd=0.005)),
    Setting(name="offset inside ± 0.2 K", faults=LOAD, tolerance=0.2),
    Setting(name="offset inside ± 0.5 K", faults=LOAD, tolerance=0.5),
    Setting(name="offset inside ± 0.5 K, seen", faults=LOAD, tolerance=0.5, seen=True),
)


@cache
def perfect(test: str, offset: float) -> Measurement:
    """Return the noise-free run of a test at a temperature offset [K]."""
    return run_virtually(slate_grey_ink(), PROTOCOLS[test][0], ConePlate(), Faults(), 0, set_temperature=SET_TEMPERATURE + offset)


def load_of(test: str, setting: Setting, seed: int, offset: float) -> Run:
    """Return one load as a run: what the instrument reports, without simulating the ink again."""
    exact = perfect(test, offset)
    scale = load_factor(setting.faults, seed) * (1.0 + relative_noise(setting.faults, exact.time.size, seed))
    noisy = replace(exact, shear_stress=exact.shear_stress * scale, viscosity=exact.viscosity * scale)
    noisy = replace(noisy, temperature=np.full(exact.time.size, SET_TEMPERATURE + (offset if setting.seen else 0.0)))
    names = ("time", "step_time", "shear_rate", "shear_stress", "viscosity", "temperature")
    steps = []
    for number, kind in enumerate(PROTOCOLS[test][1], 1):
        rows = noisy.rows(number)
        columns = {name: getattr(noisy, name)[rows] for name in names}
        steps.append(Step(number=number, kind=kind, controlled="rate", columns=columns))  # type: ignore[arg-type]  # a word of the list above
    return Run(name=f"{test} {seed}", steps=tuple(steps), metadata={}, findings=(), source=Source(sha256="0" * 64, run=f"{test} {seed}"))


def batch_of(asked: Asked, runs: list[Run]) -> Batch:
    return Batch(name="virtual", runs={asked.test: tuple(runs)}, metadata={})


def measured(asked: Asked, batch: Batch) -> tuple[Measured, ...]:
    """Return what came of a characteristic on the loads of one batch."""
    return measure(batch, CHARACTERISTICS[asked.characteristic], test=asked.test, step=asked.step, at=asked.at)


def experiment(asked: Asked, setting: Setting, loads: int, seed: int) -> StatedUncertainty:
    """Return the repeatability that so many loads of one batch show."""
    runs = [load_of(asked.test, setting, EXPERIMENT + seed + load, 0.0) for load in range(loads)]
    values = [one.estimate.value for one in measured(asked, batch_of(asked, runs)) if one.estimate is not None and one.estimate.determined]
    return StatedUncertainty(relative=float(np.std(values, ddof=1) / np.mean(values)), degrees_of_freedom=len(values) - 1)


@cache
def truths(offset: float) -> TrueValues:
    """Return the true values at a temperature offset [K]."""
    return true_values(slate_grey_ink(), temperature=SET_TEMPERATURE + offset)


def temperature_part(asked: Asked, tolerance: float) -> StatedUncertainty:
    """Return what an offset anywhere inside a tolerance [K] does: half its width over √3 (JCGM 100:2008, 4.3.7), by the true ink."""
    cold, warm = (getattr(truths(side * tolerance), asked.truth) for side in (-1.0, 1.0))
    return StatedUncertainty(relative=max(abs(warm - cold) / (warm + cold), 1e-9) / math.sqrt(3.0))


SPECIFICATION = """format = 1
[specification]
product = "slate grey gel paste, 40 series"
revision = "A"
decision_rule = {{ kind = "probability", conforming = 0.95 }}
[method.{test}]
temperature = "23.0 °C ± {tolerance}"
loads = 3
[[requirement]]
id = "asked"
characteristic = "{name}"
test = "{test}"
lower = "0.001 {unit}"
{rest}"""
AT = {"shear_rate": 'at = {{ shear_rate = "{} 1/s" }}', "method": 'at = {{ method = "{}" }}'}


def specified(asked: Asked, tolerance: float, *, coefficient: bool) -> Specification:
    """Return a specification that asks for it at 23 °C, with the true change for a kelvin, stated to a tenth of itself, or without."""
    rest = [AT[key].format(f"{value:g}" if isinstance(value, float) else value) for key, value in asked.at.items()]
    rest += [f'step = "{asked.step}"'] * (asked.step is not None)
    if coefficient:
        cold, warm = (getattr(truths(side * tolerance), asked.truth) for side in (-1.0, 1.0))
        size = 100.0 * math.log(warm / cold) / (2.0 * tolerance)
        rest.append(f'temperature_coefficient = "{size:.4f} %/K ± {abs(size) / 10.0:.4f}"')
    unit = {"viscosity": "Pa·s", "loop_area": "Pa/s"}.get(CHARACTERISTICS[asked.characteristic].quantity, "Pa")
    text = SPECIFICATION.format(name=asked.characteristic, test=asked.test, tolerance=tolerance, unit=unit, rest="\n".join(rest))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "specification.toml"
        path.write_text(text + "\n", encoding="utf-8")
        return read_specification(path)


def by_the_release(
    asked: Asked, setting: Setting, batches: list[Batch], stated: StatedUncertainty, *, coefficient: bool
) -> list[Estimate | None]:
    """Return what the release reports: loads moved to the stated temperature, or a part for how far off they are."""
    specification = specified(asked, setting.tolerance, coefficient=coefficient)
    line, found = specification.requirements[0], []
    for batch in batches:
        seen = budgeted(batch, specification, line, measured(asked, batch))
        found.append(combine_measured(seen.loads, stated, seen.requirement.parts))
    return found


@dataclass(frozen=True, kw_only=True)
class Covered:
    """How many reported intervals of one characteristic held the batch value, with the median half width and the bias, both relative."""

    setting: str
    asked: Asked
    way: str
    truth: float
    repeats: int
    held: int
    half_width: float
    bias: float

    @property
    def limits(self) -> tuple[int, int]:
        """Between which counts 99.9 % of studies lie whose intervals cover as stated: exact binomial."""
        low, high = stats.binom.ppf([0.0005, 0.9995], self.repeats, LEVEL)
        return int(low), int(high)

    @property
    def verdict(self) -> str:
        """What the count says, and why."""
        low, high = self.limits
        if low <= self.held <= high:
            return "as stated"
        if self.held > high:
            return f"more: {MORE[self.way]}"
        if self.way == "control":
            return "less: the stated repeatability holds no load factors"
        if self.setting.startswith("offset") and self.way in {"stated", "estimated"}:
            return "less: the temperature is in no part of the budget"
        return "less, not explained"


_INSIDE = "where the scatter inside the loads comes out larger than what is stated, it counts instead"
MORE = {
    "stated": _INSIDE,
    "stated, with temperature": _INSIDE,
    "control": _INSIDE,
    "corrected": _INSIDE,
    "by default": "the default of 7 % for a kelvin is more than this ink's, and a deviation that is known counts as if it were not",
    "estimated": "three loads that agree do not show that loads do not scatter",
}


def study(
    repeats: int, seed: int, *, loads: int, costly_repeats: int, asked: tuple[Asked, ...] = ASKED, settings: tuple[Setting, ...] = SETTINGS
) -> list[Covered]:
    """Return the coverage of every characteristic in every setting and way.

    An experiment on repeatability has so many loads, twice `costly_repeats` for what takes long to measure.
    """
    found = []
    for place, (setting, one) in enumerate(itertools.product(settings, asked)):
        if setting.seen and not one.scaled:
            continue  # a ratio of one run has no coefficient of its own
        count, size = (costly_repeats, 2 * costly_repeats) if one.costly else (repeats, loads)
        found += _covered(one, setting, count, seed + 10_000 * place, size)
    return found


def _covered(asked: Asked, setting: Setting, repeats: int, seed: int, loads: int) -> list[Covered]:
    places = np.random.default_rng(seed).integers(len(OFFSETS), size=repeats).tolist()
    batches = []
    for batch, place in enumerate(places):
        offset = setting.tolerance * OFFSETS[place]
        batches.append(batch_of(asked, [load_of(asked.test, setting, seed + LOADS * batch + load, offset) for load in range(LOADS)]))
    truth = float(getattr(truths(0.0), asked.truth))
    stated = experiment(asked, setting, loads, seed)
    loads_of = [measured(asked, batch) for batch in batches]
    ways: dict[str, tuple[StatedUncertainty | None, Mapping[str, StatedUncertainty]]] = {"stated": (stated, {}), "estimated": (None, {})}
    if setting.tolerance and not setting.seen:
        ways["stated, with temperature"] = (stated, {"temperature": temperature_part(asked, setting.tolerance)})
    if setting.control and asked.scaled:
        without = replace(setting, faults=replace(setting.faults, load_factor_sd=0.0))
        ways["control"] = (experiment(asked, without, loads, seed), {})
    reported = {way: [combine_measured(seen, *how) for seen in loads_of] for way, how in ways.items()}
    if setting.seen:
        for way in ("corrected", "by default"):
            reported[way] = by_the_release(asked, setting, batches, stated, coefficient=way == "corrected")
    return [_counted(asked, setting, way, truth, reported[way]) for way in WAYS if way in reported]


def _counted(asked: Asked, setting: Setting, way: str, truth: float, reported: list[Estimate | None]) -> Covered:
    used = [one for one in reported if one is not None and one.determined and one.standard_error is not None]
    errors = np.array([one.standard_error for one in used])
    halves = stats.t.ppf(0.5 + 0.5 * LEVEL, [one.degrees_of_freedom for one in used]) * errors
    values = np.array([one.value for one in used])
    return Covered(
        setting=setting.name, asked=asked, way=way, truth=truth, repeats=len(used),
        held=int((np.abs(values - truth) <= halves).sum()), half_width=float(np.median(halves)) / truth,
        bias=float(values.mean()) / truth - 1.0,
    )  # fmt: skip


def table(found: list[Covered]) -> str:
    """Return the coverage as a table in Markdown."""
    rows = [
        "| loads | characteristic | interval | batches | covered | 99.9 % limits | half width | bias | verdict |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for one in found:
        low, high = (count / one.repeats for count in one.limits)
        name = one.asked.characteristic.replace("_", " ")
        numbers = f"{one.held / one.repeats:.1%} | {low:.1%} to {high:.1%} | {one.half_width:.2%} | {one.bias:+.2%}"
        rows.append(f"| {one.setting} | {name} | {one.way} | {one.repeats} | {numbers} | {one.verdict} |")
    return "\n".join(rows)


PAGE = """# Coverage of reported characteristics

How often the 95 % interval that a record reports for a characteristic holds the true value of the batch: batches of {loads} loads of the
invented slate grey ink on the virtual rheometer, combined as the release check does. Every load has a stress scale of its own (2 %) and
0.7 % noise on every point, or 0.5 % and as much again that remembers (first-order autoregression, 0.8). The interval is the value with
Student's t times the standard error.

- *stated*: the repeatability is stated, as an experiment on {size} other loads of the same kind shows it;
- *stated, with temperature*: a part `temperature` is stated as well, half the tolerance over √3 times what a kelvin does to this ink;
- *corrected*, *by default*: the sensor sees the offset, and the release moves the loads by a stated coefficient (the true one, stated to
  a tenth of itself), or budgets what it takes an ink to change for a kelvin;
- *estimated*: nothing is stated, the three loads are all that is known;
- *control*: the experiment had no load factors. It must cover less; ratios of one load have no load factor and no control.

The limits are those of the binomial distribution, between which 99.9 % of lines lie whose intervals cover as stated. What lies outside
says why.

{table}

A temperature offset that the sensor does not see moves all loads of a batch alike, so that neither the repeatability nor the scatter of
the loads holds it: state it as the part `temperature` of the requirement. Inside ± 0.2 K it costs a few per cent of the batches beside load
factors of 2 %, inside ± 0.5 K one in four. An offset that the sensor sees is corrected or budgeted by the release itself.

Made by

```sh
PYTHONPATH=tests python -m studies.reported_coverage --output docs/reported_coverage.md
```
"""


def main() -> int:
    """Run the study and write its page."""
    parser = argparse.ArgumentParser(description="Count how often the reported interval of a characteristic covers.")
    parser.add_argument("--repeats", type=int, default=1000)
    parser.add_argument("--costly", type=int, default=80, help="batches of what takes long to measure")
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--output", type=Path, help="page to write")
    options = parser.parse_args()
    found = study(options.repeats, options.seed, loads=options.repeats, costly_repeats=options.costly)
    print(table(found))
    if options.output:
        page = PAGE.format(loads=LOADS, size=f"{options.repeats} (recovery: {2 * options.costly})", table=table(found))
        options.output.write_text(page, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
