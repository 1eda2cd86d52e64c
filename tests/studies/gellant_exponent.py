"""How often the 95 % interval of a gellant's exponent holds the true one.

    PYTHONPATH=tests python -m studies.gellant_exponent --output docs/gellant_exponent.md

Series of six candidates on the virtual rheometer: silica from 2.4 to 3.6 wt %, every stress in proportion to silica^4.0, so that the
exponent of any yield value is 4.0 exactly. Each is loaded once, with the scenario's scatter of loads and points, its yield stress fitted
by the Herschel-Bulkley law, and the power law fitted to the six. Negative control on the same series: the interval divided by 1.3.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from rheokit.base.estimate import Estimate
from rheokit.comparison.gellant import fit_gellant
from rheokit.fitting.many import fit_many
from rheokit.virtual import ConePlate, Faults, measure, slate_grey_ink, steady_protocol
from rheokit.virtual.simulation import simulate
from studies.recipe_truth import binomial_limits

SILICA = np.array([2.4, 2.6, 2.8, 3.0, 3.3, 3.6])
EXPONENT = 4.0
SHRUNK = 1.3
FAULTS = Faults(load_factor_sd=0.0185, point_noise_sd=0.006, correlated_noise_sd=0.004, torque_floor=2e-7)


@dataclass(frozen=True, kw_only=True)
class Coverage:
    """In how many of the repeats each interval held the true exponent, and the median half width."""

    weighting: str
    repeats: int
    held: int
    held_shrunk: int
    half_width: float


def series(repeats: int, seed: int) -> np.ndarray:
    """Return fitted yield stresses [Pa], (repeats, levels)."""
    ink = slate_grey_ink()
    rates, stresses = [], []
    for place, silica in enumerate(SILICA):
        factor = (silica / 3.0) ** EXPONENT
        names = ("broken_yield_stress", "structure_yield_stress", "broken_consistency", "structure_consistency", "infinite_shear_viscosity")
        made = replace(ink, **{name: getattr(ink, name) * factor for name in names})
        history = simulate(made, steady_protocol())
        for repeat in range(repeats):
            run = measure(made, steady_protocol(), ConePlate(), FAULTS, (seed * repeats + repeat) * SILICA.size + place, history=history)
            rows = run.rows(3)
            rates.append(run.shear_rate[rows])
            stresses.append(run.shear_stress[rows])
    fitted = fit_many(np.array(rates), np.array(stresses), "herschel_bulkley", weighting="relative")
    return np.asarray(fitted.parameters["yield_stress"], dtype=float).reshape(SILICA.size, repeats).T


def study(repeats: int, seed: int) -> list[Coverage]:
    """Return the coverage by either weighting."""
    yields = series(repeats, seed)
    return [_coverage(way, yields) for way in ("relative", "logarithmic")]


def _estimates(row: np.ndarray) -> list[Estimate]:
    return [Estimate(name="yield_stress", value=float(y), unit="Pa", standard_error=None, reason="of one load", method="fit") for y in row]


def _coverage(weighting: str, yields: np.ndarray) -> Coverage:
    held = held_shrunk = 0
    halves = []
    for row in yields:
        found = fit_gellant(SILICA, _estimates(row), weighting=weighting).exponent
        half = found.interval.upper - found.value
        held += abs(found.value - EXPONENT) <= half
        held_shrunk += abs(found.value - EXPONENT) <= half / SHRUNK
        halves.append(half)
    return Coverage(
        weighting=weighting, repeats=len(yields), held=int(held), held_shrunk=int(held_shrunk), half_width=float(np.median(halves))
    )


def table(found: list[Coverage]) -> str:
    """Return the coverage as Markdown."""
    lines = ["| weighting | repeats | covered | interval / 1.3 | median half width |", "|---|---|---|---|---|"]
    for one in found:
        shares = (f"{100.0 * held / one.repeats:.1f} %" for held in (one.held, one.held_shrunk))
        lines.append(f"| {one.weighting} | {one.repeats} | {' | '.join(shares)} | {one.half_width:.2f} |")
    return "\n".join(lines)


PAGE = """\
# The exponent of a gellant

How often the 95 % interval of `rk.fit_gellant` holds the true exponent. All data are invented: series of six candidates on the virtual
rheometer, silica 2.4 to 3.6 wt %, every stress in proportion to silica^4.0, one load each (loads scatter by 1.85 %, points by 0.7 %), the
yield stress by the Herschel-Bulkley law. A count at 95 % lies between {low:.1f} and {high:.1f} % but for once in a thousand on either side.

{table}

Divided by 1.3 the interval covers too little: the study sees an error bar that is a quarter short.

Made by

```sh
PYTHONPATH=tests python -m studies.gellant_exponent --output docs/gellant_exponent.md
```
"""


def main() -> int:
    """Run the study and write its page."""
    parser = argparse.ArgumentParser(description="Count how often the interval of a gellant's exponent holds the true one.")
    parser.add_argument("--repeats", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--output", type=Path, help="page to write")
    options = parser.parse_args()
    found = study(options.repeats, options.seed)
    print(table(found))
    if options.output:
        low, high = (100.0 * count / options.repeats for count in binomial_limits(options.repeats))
        options.output.write_text(PAGE.format(low=low, high=high, table=table(found)), encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
