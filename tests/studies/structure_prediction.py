"""How well a structure fit predicts a loop that was not measured, at ramps four times faster and slower, and whether its interval holds.

    PYTHONPATH=tests python -m studies.structure_prediction --repeats 1000 --output docs/structure_prediction.md

Each batch is an ink of its own from the virtual rheometer, drawn around the demo ink (without its elastic strain): a loop of 120 s a leg
(239 points) and a step test (420) are measured, fitted with the `general` law, and the loop predicted. Truth is the noise-free loop of
a third load. Loads differ in their stress scale by 2 %. Points scatter by 0.6 %; where the noise remembers, by another 0.4 % that keeps
0.8 of itself from point to point; with noise alone all scales are 1 and the fit is told so. Areas of both are taken point for point in
the same way. Limits are those of the binomial distribution, once in a thousand on either side, fixed before the study.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from scipy.stats import binom

import rheokit as rk
from rheokit import virtual
from rheokit.virtual.instrument import relative_noise

LOAD_SD = 0.02
WHITE = virtual.Faults(point_noise_sd=0.006)
REMEMBERING = virtual.Faults(point_noise_sd=0.006, correlated_noise_sd=0.004)
"""As on the demo scenario's instrument on a good day."""
RAMPS = (30.0, 480.0)
"""Seconds a leg of the predicted loops; the measured one has 120."""
CHANCE = 1e-3
_PART = 25
LOOP_KINDS = {1: "shear", 2: "rest", 3: "up", 4: "hold", 5: "down", 6: "shear"}
STEP_KINDS = {1: "rest", 2: "shear", 3: "recovery"}
_RATES = (10.0, 50.0, 100.0)


@dataclass(frozen=True, kw_only=True)
class Arm:
    """What is measured and what is true: with load factors or noise alone, one structure or two, both tests or the loop alone."""

    name: str
    loads: bool = True
    apart: float = 1.0
    """How many times faster one population breaks and rebuilds than the other, which has half of the stress; 1 is one structure."""
    loop_only: bool = False
    faults: virtual.Faults = WHITE
    """The noise of a point; stress scales of loads are drawn by the study itself."""


ARMS = (
    Arm(name="loop and step test, loads"),
    Arm(name="loop and step test, noise alone", loads=False),
    Arm(name="loop and step test, loads, noise that remembers", faults=REMEMBERING),
    Arm(name="loop alone, loads", loop_only=True),
    Arm(name="loop alone, noise alone", loads=False, loop_only=True),
    Arm(name="loop and step test, two populations 4 apart", apart=4.0),
    Arm(name="loop and step test, two populations 10 apart", apart=10.0),
    Arm(name="loop alone, two populations 4 apart", apart=4.0, loop_only=True),
    Arm(name="loop alone, two populations 10 apart", apart=10.0, loop_only=True),
)


@dataclass(frozen=True, kw_only=True)
class Predicted:
    """One predicted loop: relative error of its area, half width of its 95 % interval over the area, and what the band covers."""

    error: float
    half_width: float
    undetermined: bool
    inside: tuple[bool, ...]
    findings: frozenset[str]

    def covers(self, divide: float = 1.0) -> bool:
        """Tell whether the interval, with its error divided by a number, covers the truth."""
        return self.undetermined or abs(self.error) <= self.half_width / divide


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """All predictions of one arm at one ramp."""

    arm: Arm
    ramp: float
    predictions: tuple[Predicted, ...] = field(repr=False)

    @property
    def median_error(self) -> float:
        """Median of the size of the relative error of the area."""
        return float(np.median([abs(one.error) for one in self.predictions]))

    @property
    def bias(self) -> float:
        """Mean relative error of the area."""
        return float(np.mean([one.error for one in self.predictions]))

    @property
    def half_width(self) -> float:
        """Median half width over the area, of those that are determined."""
        widths = [one.half_width for one in self.predictions if not one.undetermined]
        return float(np.median(widths)) if widths else float("nan")

    def covered(self, divide: float = 1.0) -> int:
        """How many intervals cover the area."""
        return sum(one.covers(divide) for one in self.predictions)

    @property
    def band_covered(self) -> tuple[int, ...]:
        """How many bands cover the stress of each stated point."""
        return tuple(int(count) for count in np.sum([one.inside for one in self.predictions], axis=0))

    def found(self, *checks: str) -> int:
        """How many fits raise one of some findings."""
        return sum(bool(one.findings & set(checks)) for one in self.predictions)


def limits(count: int, chance: float = CHANCE) -> tuple[int, int]:
    """Return the fewest and most of so many 95 % intervals that cover, but for a chance on either side."""
    return int(binom.ppf(chance, count, 0.95)), int(binom.ppf(1.0 - chance, count, 0.95))


def draw_ink(generator: np.random.Generator) -> virtual.Ink:
    """Return an ink around the demo ink: 15 % on everything with a scale, 0.1 on the exponents."""
    ink = virtual.slate_grey_ink()
    scaled = (
        "broken_yield_stress", "structure_yield_stress", "broken_consistency", "structure_consistency", "infinite_shear_viscosity",
        "build_up_rate", "breakdown_rate",
    )  # fmt: skip
    changes = {name: getattr(ink, name) * float(np.exp(0.15 * generator.standard_normal())) for name in scaled}
    exponents = {name: float(generator.uniform(0.4, 0.6)) for name in ("flow_index", "breakdown_exponent")}
    return replace(ink, elastic_strain=0.0, **changes, **exponents)


def step_test(rates: tuple[float, float] = (0.5, 100.0)) -> virtual.Protocol:
    """Return the scenario's step test with 420 points."""
    low, high = rates
    parts = ((low, 120.0, 120), (high, 60.0, 60), (low, 300.0, 240))
    segments = (virtual.constant(number, rate, time, virtual.evenly(time, count)) for number, (rate, time, count) in enumerate(parts, 1))
    return virtual.Protocol(name="step test", segments=tuple(segments))


def truth(ink: virtual.Ink, apart: float) -> virtual.TwoPopulations:
    """Return an ink of one structure, or of two whose paces lie so many times apart around its own."""
    pace = apart**0.5
    return virtual.TwoPopulations(
        first=virtual.stretched(ink, pace=pace), second=virtual.stretched(ink, pace=1.0 / pace), share=1.0 if apart == 1.0 else 0.5
    )


def steps_of(history: virtual.History, stress: np.ndarray, kinds: dict[int, rk.base.run.StepKind]) -> list[rk.Step]:
    """Return the steps of a run, as reading would."""
    steps = []
    for number, kind in kinds.items():
        rows = history.step == number
        columns = {
            "time": history.time[rows], "step_time": history.step_time[rows], "shear_rate": history.apparent_rate[rows],
            "shear_stress": stress[rows],
        }  # fmt: skip
        steps.append(rk.Step(number=number, kind=kind, controlled="rate", columns=columns))
    return steps


def _predicted(fit: object, steps: list[rk.Step]) -> Predicted:
    """Hold the prediction of a fit against noise-free steps of an unseen load."""
    assert hasattr(fit, "predict_loop")
    prediction = fit.predict_loop(steps)
    up, down = (next(step for step in steps if step.kind == kind) for kind in ("up", "down"))
    truth = rk.hysteresis_loop(up, down).area.value
    area = prediction.area
    half = 0.0 if area.standard_error is None else 1.959964 * area.standard_error
    inside = []
    for step in (up, down):
        rows = prediction.rows(step.kind)
        for rate in _RATES:
            at = int(np.argmin(np.abs(step.shear_rate - rate)))
            inside.append(bool(prediction.lower[rows[at]] <= step.shear_stress[at] <= prediction.upper[rows[at]]))
    return Predicted(
        error=area.value / truth - 1.0, half_width=half / truth, undetermined=not area.determined, inside=tuple(inside),
        findings=frozenset(finding.check for finding in fit.findings),
    )  # fmt: skip


def study(repeats: int, seed: int, arms: Sequence[Arm] = ARMS, ramps: Sequence[float] = RAMPS, first: int = 0) -> tuple[Outcome, ...]:
    """Return what every arm predicts for so many batches, at every ramp; batches are numbered from `first`."""
    wanted = tuple(ramps)
    found: dict[tuple[str, float], list[Predicted]] = {}
    for batch in range(first, first + repeats):
        generator = np.random.default_rng((seed, batch))
        ink = draw_ink(generator)
        factors = 1.0 + LOAD_SD * generator.standard_normal(3)
        protocols = [virtual.loop_protocol(points=95), step_test(), *(virtual.loop_protocol(ramp_duration=one) for one in wanted)]
        exact = {
            apart: [virtual.simulate_populations(truth(ink, apart), one) for one in protocols] for apart in {arm.apart for arm in arms}
        }
        for number, arm in enumerate(arms):
            scale = factors if arm.loads else np.ones(3)
            loop, step, *unseen = exact[arm.apart]
            tests = {"loop": (loop, LOOP_KINDS)} if arm.loop_only else {"loop": (loop, LOOP_KINDS), "step_test": (step, STEP_KINDS)}
            measured = {}
            for which, (name, (history, kinds)) in enumerate(tests.items()):
                one = ((seed * 10_000 + batch) * 100 + number) * 10 + which
                noise = 1.0 + relative_noise(arm.faults, history.stress.size, one)
                measured[name] = steps_of(history, history.stress * float(scale[which]) * noise, kinds)
            fit = rk.fit_structure(**measured, load_deviation=LOAD_SD if arm.loads else 0.0)
            for ramp, history in zip(wanted, unseen, strict=True):
                steps = steps_of(history, history.stress * float(scale[2]), LOOP_KINDS)
                found.setdefault((arm.name, ramp), []).append(_predicted(fit, steps))
    return tuple(Outcome(arm=arm, ramp=ramp, predictions=tuple(found[arm.name, ramp])) for arm in arms for ramp in wanted)


def table(outcomes: Iterable[Outcome]) -> str:
    """Return the outcomes as Markdown."""
    heads = (
        "measured", "ramp [s]", "median error of the area", "bias", "half width of 95 %", "covered", "with errors / 1.3",
        "band covers, up and down at 10, 50, 100 1/s", "misfit found", "not determined",
    )  # fmt: skip
    lines = ["| " + " | ".join(heads) + " |", "|" + " --- |" * len(heads)]
    for one in outcomes:
        count = len(one.predictions)
        low, high = limits(count)
        bands = " ".join(f"{100.0 * covered / count:.1f}" for covered in one.band_covered)
        undetermined = sum(prediction.undetermined for prediction in one.predictions)
        cells = (
            one.arm.name, f"{one.ramp:.0f}", f"{100.0 * one.median_error:.2f} %", f"{100.0 * one.bias:+.2f} %",
            f"{100.0 * one.half_width:.2f} %", f"{100.0 * one.covered() / count:.1f} % ({low} to {high} of {count}: {one.covered()})",
            f"{100.0 * one.covered(1.3) / count:.1f} %", f"{bands} %",
            f"{100.0 * one.found('misfit') / count:.1f} %",
            str(undetermined),
        )  # fmt: skip
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def in_parts(repeats: int, seed: int, arms: Sequence[Arm], workers: int) -> tuple[Outcome, ...]:
    """Return the study, its batches shared out among processes; the numbers do not depend on how many."""
    begins = range(0, repeats, _PART)
    with ProcessPoolExecutor(workers) as pool:
        parts = list(pool.map(study, *zip(*((min(_PART, repeats - begin), seed, arms, RAMPS, begin) for begin in begins), strict=True)))
    whole = []
    for same in zip(*parts, strict=True):
        whole.append(replace(same[0], predictions=tuple(one for part in same for one in part.predictions)))
    return tuple(whole)


def main() -> int:
    """Run the study and write its page."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--repeats", type=int, default=1000)
    parser.add_argument("--richer", type=int, default=200, help="batches with two populations, whose fits take longer")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--output", type=Path)
    options = parser.parse_args()
    single, richer = [arm for arm in ARMS if arm.apart == 1.0], [arm for arm in ARMS if arm.apart > 1.0]
    outcomes = in_parts(options.repeats, options.seed, single, options.workers) + in_parts(
        options.richer, options.seed, richer, options.workers
    )
    text = table(outcomes)
    print(text)
    if options.output:
        command = f"PYTHONPATH=tests python -m studies.structure_prediction --repeats {options.repeats} --richer {options.richer}"
        page = f"# How well a structure fit predicts an unseen loop\n\n{(__doc__ or '').split(chr(10), 4)[4].strip()}\n\n"
        made = f"Made by `{command} --seed {options.seed} --output docs/{options.output.name}`."
        options.output.write_text(f"{page}{made}\n\n{text}\n", "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
