"""How often the stated error of a loop area covers the true area.

    PYTHONPATH=tests python -m studies.loop_error --output docs/loop_area_error.md

Truth are the noise-free legs of the virtual rheometer at the same points, so that what the pieces between points miss is not counted. Every
case is measured many times with new noise; the 95 % interval is the area with Student's t times its standard error.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from scipy import stats

import rheokit as rk
from rheokit.virtual import ConePlate, Faults, Protocol, constant, evenly, measure, ramp, slate_grey_ink

NEGATIVE_CONTROL = 1.3
LEVEL = 0.95


@dataclass(frozen=True, kw_only=True)
class Case:
    """One way of measuring: course, points of a leg, noise, and what a lag-one memory keeps of it."""

    name: str
    course: Literal["linear", "logarithmic"] = "linear"
    points: int = 60
    noise: str = "even"
    memory: float = 0.0
    covers: bool = True


CASES = (
    Case(name="60 points a leg, 1 % noise"),
    Case(name="30 points a leg", points=30),
    Case(name="120 points a leg", points=120),
    Case(name="noise of 3 % above 70 1/s alone", noise="high"),
    Case(name="noise of 0.5 Pa, not relative", noise="absolute"),
    Case(name="logarithmic ramp, 60 points", course="logarithmic"),
    Case(name="logarithmic ramp, 120 points", course="logarithmic", points=120),
    Case(name="noise that keeps 0.8 from point to point", memory=0.8, covers=False),
)


@dataclass(frozen=True, kw_only=True)
class Covered:
    """What came of one case: how many intervals cover, of how many, by the error as it is and divided by the negative control."""

    case: Case
    repeats: int
    area: float
    scatter: float
    stated: float
    inside: int
    control: int


def true_legs(case: Case) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return rates and noise-free stresses of both legs, up and down, of the ink of the scenario after a rest."""
    low = 0.1 if case.course == "logarithmic" else 0.0
    protocol = Protocol(
        name="loop",
        segments=(
            constant(1, 100.0, 60.0, evenly(60.0, 5)),
            constant(2, 0.0, 300.0, evenly(300.0, 5)),
            ramp(3, (low, 100.0), 120.0, evenly(120.0, case.points), course=case.course),
            ramp(4, (100.0, low), 120.0, evenly(120.0, case.points, at="starts"), course=case.course),
        ),
    )
    run = measure(slate_grey_ink(), protocol, ConePlate(), Faults(), 0)
    up, down = run.rows(3), run.rows(4)
    return run.shear_rate[up], run.shear_stress[up], run.shear_rate[down], run.shear_stress[down]


def noise_of(case: Case, rate: np.ndarray, stress: np.ndarray, repeats: int, generator: np.random.Generator) -> np.ndarray:
    """Return noise [Pa], (repeats, points)."""
    draws = generator.standard_normal((repeats, rate.size))
    for column in range(1, rate.size if case.memory else 0):
        draws[:, column] = case.memory * draws[:, column - 1] + np.sqrt(1.0 - case.memory**2) * draws[:, column]
    size = {"even": 0.01 * stress, "high": 0.03 * stress * (rate > 70.0), "absolute": np.full(rate.size, 0.5)}[case.noise]
    return draws * size


def study(repeats: int, seed: int, cases: tuple[Case, ...] = CASES) -> list[Covered]:
    """Return the coverage of every case."""
    found = []
    for index, case in enumerate(cases):
        generator = np.random.default_rng((seed, index))
        rate_up, up, rate_down, down = true_legs(case)
        truth = float(rk.loop_areas(rate_up, up[None], rate_down, down[None]).area[0])
        noisy = [stress + noise_of(case, rate, stress, repeats, generator) for rate, stress in ((rate_up, up), (rate_down, down))]
        many = rk.loop_areas(rate_up, noisy[0], rate_down, noisy[1])
        half = stats.t.ppf(0.5 + 0.5 * LEVEL, many.degrees_of_freedom) * many.standard_error
        off = np.abs(many.area - truth) / half
        found.append(
            Covered(
                case=case, repeats=repeats, area=truth, scatter=float(many.area.std()),
                stated=float(np.sqrt(np.mean(many.standard_error**2))),
                inside=int((off <= 1.0).sum()), control=int((off <= 1.0 / NEGATIVE_CONTROL).sum()),
            )
        )  # fmt: skip
    return found


def limits(repeats: int) -> tuple[int, int]:
    """Return between which counts 99.9 % of studies lie whose intervals cover as stated: exact binomial."""
    low, high = stats.binom.ppf([0.0005, 0.9995], repeats, LEVEL)
    return int(low), int(high)


def table(found: list[Covered]) -> str:
    """Return the coverage as a table in Markdown."""
    rows = [
        "| case | area [Pa/s] | scatter of it | stated error | covered | with errors / 1.3 |",
        "|---|---|---|---|---|---|",
    ]
    for one in found:
        numbers = (
            f"{one.area:.0f} | {one.scatter:.1f} | {one.stated:.1f} | {one.inside / one.repeats:.1%} | {one.control / one.repeats:.1%}"
        )
        rows.append(f"| {one.case.name} | {numbers} |")
    return "\n".join(rows)


PAGE = """# The error of a loop area

How often the 95 % interval of a loop area, from the scatter of the points about their neighbours alone, covers the true area: {repeats}
loops a case, the ink of the invented scenario with new noise each time. If the intervals cover as stated, 99.9 % of such studies lie
between {low:.1%} and {high:.1%}; with all errors divided by 1.3 they must fall below.

{table}

Neither the course of the ramp nor noise that is not the same along the leg moves the coverage by more than a point. Noise that remembers
from point to point is not seen by neighbours: there the stated error is far too small, and only repeated loads show it. What scales a
whole load (gap, trimming) is in no interval from one load.

Made by

```sh
PYTHONPATH=tests python -m studies.loop_error --output docs/loop_area_error.md
```
"""


def main() -> int:
    """Run the study and write its page."""
    parser = argparse.ArgumentParser(description="Count how often the error of a loop area covers.")
    parser.add_argument("--repeats", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=6)
    parser.add_argument("--output", type=Path, help="page to write")
    options = parser.parse_args()
    found = study(options.repeats, options.seed)
    print(table(found))
    if options.output:
        low, high = (count / options.repeats for count in limits(options.repeats))
        page = PAGE.format(repeats=f"{options.repeats:,}".replace(",", " "), low=low, high=high, table=table(found))
        options.output.write_text(page, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
