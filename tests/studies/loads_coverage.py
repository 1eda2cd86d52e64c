"""How often the interval of combined loads holds the batch value, beside two ways that look right and are not.

    PYTHONPATH=tests python -m studies.loads_coverage --output docs/loads_coverage.md

Loads scatter about the batch value by a scatter between them, and their numbers by an unequal scatter inside, drawn by numpy alone. The
error inside a load is known, or estimated to ten degrees of freedom as a fit estimates it. Two negative controls are counted on the same
loads: the interval divided by 1.3, and what the scatter inside alone would give.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import stats

from rheokit.statistics.combination import combine_loads

INSIDE = {2: (0.5, 1.0), 3: (0.5, 1.0, 2.0), 4: (0.5, 1.0, 2.0, 1.0)}
"""Unequal scatter inside two, three and four loads."""
BETWEEN = (0.0, 1.0, 3.0, 30.0)
"""Scatter between loads, in the same unit."""
FREEDOM = 10
"""Degrees of freedom of an error that is estimated."""
SHRUNK = 1.3


@dataclass(frozen=True, kw_only=True)
class Coverage:
    """In how many of the repeats each interval held the batch value."""

    loads: int
    between: float
    estimated: bool
    repeats: int
    held: int
    held_shrunk: int
    held_inside: int


def study(repeats: int, seed: int) -> list[Coverage]:
    """Return the coverage for every number of loads, scatter between them and knowledge of the scatter inside."""
    cases = [(count, between, estimated) for estimated in (False, True) for count in INSIDE for between in BETWEEN]
    return [_coverage(*case, repeats, seed + place) for place, case in enumerate(cases)]


def _coverage(count: int, between: float, estimated: bool, repeats: int, seed: int) -> Coverage:
    generator = np.random.default_rng(seed)
    inside = np.array(INSIDE[count])
    held = held_shrunk = held_inside = 0
    for _ in range(repeats):
        values = between * generator.standard_normal(count) + inside * generator.standard_normal(count)
        errors = inside * np.sqrt(generator.chisquare(FREEDOM, count) / FREEDOM) if estimated else inside
        found = combine_loads(values, errors)
        half = found.interval()[1] - found.value
        held += abs(found.value) <= half
        held_shrunk += abs(found.value) <= half / SHRUNK
        weights = errors**-2.0
        held_inside += abs(weights @ values) / weights.sum() <= stats.norm.ppf(0.975) / np.sqrt(weights.sum())
    return Coverage(
        loads=count,
        between=between,
        estimated=estimated,
        repeats=repeats,
        held=int(held),
        held_shrunk=int(held_shrunk),
        held_inside=int(held_inside),
    )


def limits(repeats: int) -> tuple[int, int]:
    """Return between which a count at 95 % lies but for once in a thousand on either side (exact binomial)."""
    return int(stats.binom.ppf(0.001, repeats, 0.95)), int(stats.binom.ppf(0.999, repeats, 0.95))


def table(found: list[Coverage]) -> str:
    """Return the coverage as Markdown."""
    lines = ["| loads | error inside | scatter between | covered | interval / 1.3 | scatter inside alone |", "|---|---|---|---|---|---|"]
    for one in found:
        shares = (f"{100.0 * held / one.repeats:.1f} %" for held in (one.held, one.held_shrunk, one.held_inside))
        known = f"{FREEDOM} d.f." if one.estimated else "known"
        lines.append(f"| {one.loads} | {known} | {one.between:g} | {' | '.join(shares)} |")
    return "\n".join(lines)


PAGE = """\
# Coverage of combined loads

How often the 95 % interval that `rk.combine_loads` gives of two, three or four loads holds the batch value: {repeats} simulated batches a
line, the scatter inside the loads unequal (0.5, 1, 2 and 1), known or estimated to ten degrees of freedom. A count at 95 % lies between
{low:.1f} and {high:.1f} % but for once in a thousand on either side.

{table}

Where the scatter between loads rules, the interval covers 95 %. Where it does not, it covers more: a few loads that agree do not show
that loads do not scatter. Divided by 1.3 it covers too little where the scatter between three or four loads rules; of two loads, whose
one degree of freedom makes it wide, the count hardly moves. What the points inside the loads alone give covers two thirds of the batches
as soon as loads scatter as much as their numbers do, and next to none where they scatter more.

Made by

```sh
PYTHONPATH=tests python -m studies.loads_coverage --output docs/loads_coverage.md
```
"""


def main() -> int:
    """Run the study and write its page."""
    parser = argparse.ArgumentParser(description="Count how often the interval of combined loads holds the batch value.")
    parser.add_argument("--repeats", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--output", type=Path, help="page to write")
    options = parser.parse_args()
    found = study(options.repeats, options.seed)
    print(table(found))
    if options.output:
        low, high = (100.0 * count / options.repeats for count in limits(options.repeats))
        page = PAGE.format(repeats=options.repeats, low=low, high=high, table=table(found))
        options.output.write_text(page, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
