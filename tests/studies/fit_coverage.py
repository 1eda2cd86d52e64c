"""How often the 95 % interval of a fitted parameter holds the true value: flow laws at three noise levels, 2000 curves each.

    PYTHONPATH=tests python -m studies.fit_coverage --output docs/fit_coverage.md

Truth are formulas written out here, and numpy's noise in proportion to the stress. What the data determine is settled beforehand, from the
truth alone: the error to be expected of a parameter by differences of these formulas, and how much of a plateau is reached. The rest is
counted apart.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import stats

import rheokit as rk

LEVEL = 0.95
NOISE = (0.005, 0.02, 0.05)
"""Relative standard deviation of a point: good, usual and poor for a paste (common practice, no source)."""
NEGATIVE_CONTROL = 1.3
MOST_ERROR = 0.5
"""Expected standard error over the value up to which data determine a parameter: from two standard errors it is told from zero."""
LEAST_SEEN = 0.1
"""Share of the viscosity at the last rate that a plateau at high rates needs in order to be seen at all."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """One law with its true parameters at some shear rates [1/s]."""

    name: str
    model: str
    stress: Callable[..., np.ndarray]
    truth: dict[str, float]
    rates: np.ndarray

    def determined(self, noise: float) -> dict[str, bool]:
        """Tell what data of this noise determine, from the truth alone."""
        values = np.array(list(self.truth.values()))
        stress = self.stress(self.rates, *values)
        steps = 1e-5 * np.diag(values)
        slopes = [(self.stress(self.rates, *(values + step)) - self.stress(self.rates, *(values - step))) / 2e-5 / stress for step in steps]
        relative = noise * np.sqrt(np.diag(np.linalg.inv(np.array(slopes) @ np.array(slopes).T)))
        found = dict(zip(self.truth, relative <= MOST_ERROR, strict=True))
        if "infinite_shear_viscosity" in found:
            share = self.truth["infinite_shear_viscosity"] * self.rates[-1] / stress[-1]
            found["infinite_shear_viscosity"] = bool(found["infinite_shear_viscosity"] and share >= LEAST_SEEN)
        return found


def herschel_bulkley(rate: np.ndarray, start: float, factor: float, power: float) -> np.ndarray:
    return start + factor * rate**power


def cross(rate: np.ndarray, low: float, high: float, time: float, power: float) -> np.ndarray:
    return rate * (high + (low - high) / (1.0 + (time * rate) ** power))


def casson(rate: np.ndarray, start: float, viscosity: float) -> np.ndarray:
    return (np.sqrt(start) + np.sqrt(viscosity * rate)) ** 2


def power_law(rate: np.ndarray, factor: float, power: float) -> np.ndarray:
    return factor * rate**power


def cross_truth(high: float) -> dict[str, float]:
    return {"zero_shear_viscosity": 900.0, "infinite_shear_viscosity": high, "time_constant": 4.0, "rate_index": 0.75}


BENCH = np.geomspace(0.1, 100.0, 16)
CASES = (
    Case(name="Herschel-Bulkley", model="herschel_bulkley", stress=herschel_bulkley, rates=BENCH,
         truth={"yield_stress": 30.0, "consistency": 12.0, "flow_index": 0.45}),
    Case(name="Herschel-Bulkley, yield stress hardly reached", model="herschel_bulkley", stress=herschel_bulkley, rates=BENCH,
         truth={"yield_stress": 1.0, "consistency": 12.0, "flow_index": 0.45}),
    Case(name="Casson", model="casson", stress=casson, rates=BENCH, truth={"casson_yield_stress": 30.0, "casson_viscosity": 2.0}),
    Case(name="power law", model="power_law", stress=power_law, rates=BENCH, truth={"consistency": 14.0, "flow_index": 0.38}),
    Case(name="Cross, both plateaus reached", model="cross", stress=cross, rates=np.geomspace(0.001, 2000.0, 32), truth=cross_truth(0.8)),
    Case(name="Cross, plateau at high rates out of sight", model="cross", stress=cross, rates=BENCH, truth=cross_truth(0.1)),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Covered:
    """One parameter at one noise level: of how many curves that were said to determine it how many intervals held the truth.

    `plain` is the same for Student's t times the standard error, `control` for intervals drawn together to one part in 1.3.
    """

    case: str
    noise: float
    parameter: str
    truth: float
    by_truth: bool
    repeats: int
    determined: int
    held: int
    plain: int
    control: int

    @property
    def limits(self) -> tuple[int, int]:
        """Between which counts 99.9 % of studies lie whose intervals cover as stated: exact binomial."""
        low, high = stats.binom.ppf([0.0005, 0.9995], self.determined, LEVEL)
        return int(low), int(high)


def study(repeats: int, seed: int, cases: tuple[Case, ...] = CASES, noises: tuple[float, ...] = NOISE) -> list[Covered]:
    """Return the coverage of every parameter of every case at every noise level."""
    found = []
    for place, case in enumerate(cases):
        exact = case.stress(case.rates, *case.truth.values())
        for level, noise in enumerate(noises):
            generator = np.random.default_rng((seed, place, level))
            found += _counted(case, noise, exact * (1.0 + noise * generator.standard_normal((repeats, exact.size))))
    return found


def _counted(case: Case, noise: float, stresses: np.ndarray) -> list[Covered]:
    many = rk.fit_many(case.rates, stresses, case.model)
    lower, upper = many.intervals(LEVEL)
    quantile = stats.t.ppf(0.5 + 0.5 * LEVEL, case.rates.size - len(case.truth))
    by_truth, rows = case.determined(noise), []
    for index, (name, true) in enumerate(case.truth.items()):
        used = many.determined[:, index]
        value, low, high = many.values[used, index], lower[used, index], upper[used, index]
        near, far = (value - (value - low) / NEGATIVE_CONTROL, value + (high - value) / NEGATIVE_CONTROL)
        rows.append(
            Covered(
                case=case.name, noise=noise, parameter=name, truth=true, by_truth=by_truth[name], repeats=len(stresses),
                determined=int(used.sum()), held=int(((low <= true) & (true <= high)).sum()),
                plain=int((np.abs(value - true) <= quantile * many.errors[used, index]).sum()),
                control=int(((near <= true) & (true <= far)).sum()),
            )
        )  # fmt: skip
    return rows


def _share(count: int, whole: int) -> str:
    return f"{count / whole:.1%}" if whole else ""


def table(found: list[Covered]) -> str:
    """Return the coverage of what the data determine as a table in Markdown."""
    rows = [
        "| law | noise | parameter | truth | not determined | covered | 99.9 % limits | by the standard error alone | intervals / 1.3 |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for one in found:
        if one.by_truth:
            low, high = one.limits
            shares = f"{_share(one.held, one.determined)} | {_share(low, one.determined)} to {_share(high, one.determined)}"
            rest = f"{_share(one.plain, one.determined)} | {_share(one.control, one.determined)}"
            name = one.parameter.replace("_", " ")
            rows.append(f"| {one.case} | {one.noise:.1%} | {name} | {one.truth:g} | {one.repeats - one.determined} | {shares} | {rest} |")
    return "\n".join(rows)


def table_apart(found: list[Covered]) -> str:
    """Return what the data do not determine as a table in Markdown."""
    rows = ["| law | noise | parameter | truth | called determined | interval held the truth then |", "|---|---|---|---|---|---|"]
    for one in found:
        if not one.by_truth:
            name, said = one.parameter.replace("_", " "), _share(one.determined, one.repeats)
            rows.append(f"| {one.case} | {one.noise:.1%} | {name} | {one.truth:g} | {said} | {_share(one.held, one.determined)} |")
    return "\n".join(rows)


PAGE = """# Coverage of fitted parameters

How often the 95 % interval of a fitted parameter (`fit.interval`, `many.intervals`) holds the true value, over {repeats} curves a line:
16 shear rates from 0.1 to 100 1/s (32 from 0.001 to 2000 1/s where Cross is to show both plateaus), noise in proportion to the stress,
relative weighting. All numbers are invented. The limits are those of the binomial distribution, between which 99.9 % of lines lie whose
intervals cover as stated; intervals drawn together to one part in 1.3 must fall below.

Listed here is what the data determine by the truth: an expected standard error of at most half the value, and for a plateau at high
rates a tenth of the viscosity at the last rate. `Not determined` counts the curves whose fit said so all the same; they have no interval.

{table}

The value with Student's t times its standard error alone covers less where a parameter multiplies the curve and is known poorly, since
its error is even in its logarithm; and where another parameter ends at its bound in many fits, since the standard error holds that one
there. `fit.interval` takes the logarithm for the one, and for the other follows the fit to where the other parameter leaves its bound.
There it may cover a little more than stated, since no best fit lies beyond the bound.

What the data do not determine by the truth, and how often a fit called it determined all the same:

{apart}

A plateau is called determined only where it would still be seen two standard errors farther off; by the best fit alone, noise of 5 %
would make one out of nothing in every fourth curve. The few that remain are those of an estimate far too high, so their intervals miss.

Made by

```sh
PYTHONPATH=tests python -m studies.fit_coverage --output docs/fit_coverage.md
```
"""


def main() -> int:
    """Run the study and write its page."""
    parser = argparse.ArgumentParser(description="Count how often the interval of a fitted parameter covers.")
    parser.add_argument("--repeats", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--output", type=Path, help="page to write")
    options = parser.parse_args()
    found = study(options.repeats, options.seed)
    page = PAGE.format(repeats=options.repeats, table=table(found), apart=table_apart(found))
    print(page)
    if options.output:
        options.output.write_text(page, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
