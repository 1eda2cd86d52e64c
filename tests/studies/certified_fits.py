"""How many certified digits a fit reaches over the NIST nonlinear sets, beside a plain default fit of lmfit.

    PYTHONPATH=tests python -m studies.certified_fits --output docs/certified_fits.md

Each of the 27 sets is fitted from both published starts, with the derivatives of the law and nothing else: no bounds, no options. The
number of digits is the log relative error -log10(|found - certified| / |certified|) of the worst parameter, at most 11, the digits
certified; none where there is no number.
"""

from __future__ import annotations

import argparse
import math
import sys
import warnings
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import lmfit
import numpy as np

import rheokit as rk

from .nist_laws import SETS, law, points, start

CERTIFIED_DIGITS = 11


@dataclass(frozen=True, kw_only=True)
class Reached:
    """Digits reached in parameters and standard deviations from one start; `said` is what was said about it."""

    name: str
    which: int
    parameters: float
    deviations: float
    said: tuple[str, ...] = ()


def digits(found: Iterable[float | None], certified: Iterable[float]) -> float:
    """Return the log relative error of the worst number, 0 where one is missing."""
    worst = float(CERTIFIED_DIGITS)
    for got, known in zip(found, certified, strict=True):
        error = math.inf if got is None or not math.isfinite(got) else abs(got - known) / abs(known)
        worst = min(worst, -math.log10(error) if error > 0.0 else worst)
    return max(worst, 0.0)


def ours(name: str, which: int) -> Reached:
    """Fit one set from one start."""
    fit = rk.fit_law(*points(name), law(name), start=start(name, which))
    found = fit.parameters.values()
    return Reached(
        name=name,
        which=which,
        parameters=digits([estimate.value for estimate in found], SETS[name]["certified"]),
        deviations=digits([estimate.standard_error for estimate in found], SETS[name]["certified_sd"]),
        said=tuple(finding.check for finding in fit.findings),
    )


def plain(name: str, which: int) -> Reached:
    """Fit one set from one start with lmfit as it comes."""
    x, y = points(name)
    model, parameters = law(name), lmfit.Parameters()
    for parameter, value in start(name, which).items():
        parameters.add(parameter, value=value)
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            found = lmfit.minimize(lambda moved: model.value(x, *(moved[one].value for one in model.names)) - y, parameters)
    except ValueError as error:
        return Reached(name=name, which=which, parameters=0.0, deviations=0.0, said=(type(error).__name__,))
    return Reached(
        name=name,
        which=which,
        parameters=digits([found.params[one].value for one in model.names], SETS[name]["certified"]),
        deviations=digits([found.params[one].stderr for one in model.names], SETS[name]["certified_sd"]),
        said=() if found.success else ("no success",),
    )


def study() -> list[tuple[Reached, Reached]]:
    """Return for every set and start what was reached here and by a plain fit."""
    return [(ours(name, which), plain(name, which)) for name in SETS for which in (1, 2)]


def counts(reached: Iterable[Reached], least: float = 6.0) -> tuple[int, int]:
    """Return how often so many digits were reached in the parameters and in the standard deviations."""
    kept = list(reached)
    return sum(one.parameters >= least for one in kept), sum(one.deviations >= least for one in kept)


def summary(pairs: list[tuple[Reached, Reached]]) -> str:
    """Return the counts side by side."""
    rows = ["| six digits or more, of 54 | parameters | standard deviations |", "|---|---|---|"]
    for index, who in enumerate(("rheokit", "lmfit as it comes")):
        rows.append("| {} | {} | {} |".format(who, *counts(pair[index] for pair in pairs)))
    return "\n".join(rows)


def details(pairs: list[tuple[Reached, Reached]]) -> str:
    """Return one row for each set and start."""
    rows = [
        "| set | start | parameters | standard deviations | lmfit: parameters | standard deviations | said |",
        "|---|---|---|---|---|---|---|",
    ]
    for here, there in pairs:
        said = ", ".join(check.replace("_", " ") for check in here.said)
        numbers = " | ".join(f"{value:.1f}" for value in (here.parameters, here.deviations, there.parameters, there.deviations))
        rows.append(f"| {here.name} | {here.which} | {numbers} | {said} |")
    return "\n".join(rows)


PAGE = """# Certified fits

The 27 nonlinear sets of the NIST Statistical Reference Datasets, each fitted from both published starts with the derivatives of its law
and no option set. Digits are the log relative error of the worst parameter, at most the 11 certified.

{summary}

Lanczos1 is made of numbers exact to 14 digits: what is left over is rounding, and so are the last digits of its standard deviations in
double precision.

{details}

Made by

```sh
PYTHONPATH=tests python -m studies.certified_fits --output docs/certified_fits.md
```
"""


def main() -> int:
    """Run the study and write its page."""
    parser = argparse.ArgumentParser(description="Count the certified digits that fits reach.")
    parser.add_argument("--output", type=Path, help="page to write")
    options = parser.parse_args()
    pairs = study()
    print(summary(pairs))
    if options.output:
        options.output.write_text(PAGE.format(summary=summary(pairs), details=details(pairs)), encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
