"""How often a rework does what its probability says.

    PYTHONPATH=tests python -m studies.rework --output docs/rework.md

The truth is an ink of the virtual rheometer with effects of its own. Twelve pilot runs on a standard batch (silica 0, 0.1, 0.2 wt % more;
let-down with solvent 0, 3, 6 %; the middle four times) give the sensitivities. Then a batch that is off in yield and thickness is measured
twice, and the advice asked for. What it says is held against the TRUE values after the addition: success is every line inside its limits.
Negative control: the same claims with every error taken three times too small.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy import stats

from rheokit.base.estimate import Estimate
from rheokit.comparison.addition import Addition, Sensitivity, fitted_addition
from rheokit.comparison.effects import fit_effects
from rheokit.comparison.feasible import HardLimit
from rheokit.comparison.rework import advise_rework
from studies.recipe_truth import LINES, LOAD, POINT, Truth, load_factors, some_truth

UNITS = {"stress-1": "Pa", "viscosity-10": "Pa·s", "viscosity-100": "Pa·s"}
WIDTH = 0.13
"""Half width of the limits about the standard, relative."""
BINS = (0.0, 0.2, 0.5, 0.8, 0.95, 1.0)
PILOT = [(a, b) for a in (0.0, 0.1, 0.2) for b in (0.0, 3.0, 6.0)] + [(0.1, 3.0)] * 3
FREEDOM = 24.0
OVERSURE = 3.0


@dataclass(frozen=True, kw_only=True)
class Bin:
    """Claims between two probabilities: how many, what they claim on average, and in how many all lines came to lie inside."""

    low: float
    high: float
    count: int
    claimed: float
    held: int


def study(repeats: int, seed: int, *, oversure: float = 1.0) -> list[Bin]:
    """Return claims and successes by bin of the claimed probability; every error is divided by `oversure`."""
    found = np.array([_one(np.random.default_rng([seed, repeat]), oversure) for repeat in range(repeats)])
    claimed, held = found.T
    bins = []
    for low, high in itertools.pairwise(BINS):
        inside = (claimed >= low) & ((claimed < high) | (high == 1.0))
        mean = float(claimed[inside].mean()) if inside.any() else float("nan")
        bins.append(Bin(low=low, high=high, count=int(inside.sum()), claimed=mean, held=int(held[inside].sum())))
    return bins


def added(truth: Truth, silica: float, solvent: float) -> np.ndarray:
    """Return the true lines of a batch of 3 % silica and 22 % resin after additions [wt % of the batch]."""
    thinner = 1.0 / (1.0 + (silica + solvent) / 100.0)
    return truth.lines((3.0 + silica) * thinner, 22.0 * thinner)


def _one(rng: np.random.Generator, oversure: float) -> tuple[float, float]:
    """Return what is claimed for one batch, and whether it came true."""
    standard = some_truth(rng)
    models = _models(standard, rng)
    limits = [
        HardLimit(line=line, lower=value * (1.0 - WIDTH), upper=value * (1.0 + WIDTH), unit=UNITS[line])
        for line, value in zip(LINES, added(standard, 0.0, 0.0), strict=True)
    ]
    off = replace(standard, yielding=float(np.exp(rng.uniform(-0.35, 0.35))), thickness=float(np.exp(rng.uniform(-0.25, 0.25))))
    read = (added(off, 0.0, 0.0) * load_factors(rng, 2)).mean(axis=0)
    # The scatter of the mean of two loads, as a laboratory knows it from 24 degrees of freedom.
    error = np.hypot(LOAD, POINT) / np.sqrt(2.0) * np.sqrt(rng.chisquare(FREEDOM) / FREEDOM) / oversure
    batch = {
        line: Estimate(
            name=line, value=float(y), unit=UNITS[line], standard_error=float(y * error), degrees_of_freedom=FREEDOM, method="two loads"
        )
        for line, y in zip(LINES, read, strict=True)
    }
    additions = [
        _surer(fitted_addition("silica", models, present=3.0, largest=0.2), oversure),
        _surer(fitted_addition("let-down", models, present=55.0, largest=6.0), oversure),
    ]
    found = advise_rework(batch, limits, additions, seed=int(rng.integers(2**31)))
    amounts = {"silica": 0.0, "let-down": 0.0} | ({found.addition: found.amount} if found.addition else {})
    true = added(off, amounts["silica"], amounts["let-down"])
    return found.probability, float(all(one.lower <= y <= one.upper for one, y in zip(limits, true, strict=True)))


def _estimate(line: str, value: float, relative: float) -> Estimate:
    error = value * relative
    return Estimate(name=line, value=value, unit=UNITS[line], standard_error=error, degrees_of_freedom=FREEDOM, method="two loads")


def _models(standard: Truth, rng: np.random.Generator) -> dict:
    amounts = np.array(PILOT)
    read = np.array([added(standard, *pair) for pair in PILOT]) * load_factors(rng, len(PILOT))
    runs = {"silica": amounts[:, 0], "let-down": amounts[:, 1]}
    return {line: fit_effects(runs, read[:, index], response=line) for index, line in enumerate(LINES)}


def _surer(addition: Addition, oversure: float) -> Addition:
    effects = {
        line: Sensitivity(
            kind=one.kind,
            size=one.size,
            standard_error=one.standard_error / oversure,
            degrees_of_freedom=one.degrees_of_freedom,
            source=one.source,
        )
        for line, one in addition.effects.items()
    }
    return replace(addition, effects=effects)


def too_few(one: Bin) -> bool:
    """Tell whether a count of successes is lower than its claims allow but for once in a thousand (exact binomial)."""
    return one.count > 0 and one.held < stats.binom.ppf(0.001, one.count, max(one.claimed, one.low))


def table(found: list[Bin]) -> str:
    """Return the bins as Markdown."""
    lines = ["| claimed | batches | claimed on average | all lines inside |", "|---|---|---|---|"]
    for one in found:
        seen = f"{100.0 * one.held / one.count:.1f} %" if one.count else "–"
        mean = f"{100.0 * one.claimed:.1f} %" if one.count else "–"
        lines.append(f"| {one.low:g} to {one.high:g} | {one.count} | {mean} | {seen} |")
    return "\n".join(lines)


PAGE = """\
# Rework

How often `rk.advise_rework` does what its probability says. All data are invented: {repeats} batches of the virtual rheometer's ink, off in
yield by up to 40 % and in thickness by up to 28 %, each with effects of its own; sensitivities from twelve pilot runs with silica and
let-down; two loads; limits of ±13 % on three lines. Success is that every TRUE value lies inside its limits after the addition.

{table}

With every error taken three times too small:

{control}

Claims are a little cautious, because the lines are taken one by one while a load moves all of them together.

Made by

```sh
PYTHONPATH=tests python -m studies.rework --output docs/rework.md
```
"""


def main() -> int:
    """Run the study and write its page."""
    parser = argparse.ArgumentParser(description="Hold the probabilities of rework against what comes true.")
    parser.add_argument("--repeats", type=int, default=3000)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--output", type=Path, help="page to write")
    options = parser.parse_args()
    found = study(options.repeats, options.seed)
    print(table(found))
    if options.output:
        control = study(options.repeats, options.seed, oversure=OVERSURE)
        page = PAGE.format(repeats=options.repeats, table=table(found), control=table(control))
        options.output.write_text(page, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
