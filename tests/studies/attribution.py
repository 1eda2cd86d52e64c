"""How often the cause of a difference from the standard is named rightly, wrongly or not at all.

`python tests/studies/attribution.py --repeats 2000 --seed 1` prints the confusion table as it stands in docs/attribution.md.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace

import numpy as np

from rheokit.base.curve import FlowCurve
from rheokit.comparison.attribution import CAUSES, attribute
from rheokit.comparison.curve_ratio import curve_ratio
from rheokit.virtual import slate_grey_ink

RATES = np.geomspace(0.1, 500.0, 20)
LOADS, LOAD_SCATTER, NOISE = 3, 0.015, 0.005
LARGEST = {"level": 0.30, "temperature": 4.0, "network": 0.5, "vehicle": 0.8}


def changed(cause: str, size: float) -> np.ndarray:
    """Return the true stresses [Pa] of the ink after one cause of a size (relative, or kelvin)."""
    ink = slate_grey_ink()
    if cause == "level":
        return ink.equilibrium_stress(RATES) * (1.0 + size)
    if cause == "temperature":
        return ink.at_temperature(ink.reference_temperature + size).equilibrium_stress(RATES)
    if cause == "network":
        ink = replace(
            ink,
            broken_yield_stress=ink.broken_yield_stress * (1.0 + size),
            structure_yield_stress=ink.structure_yield_stress * (1.0 + size),
        )
    if cause == "vehicle":
        ink = replace(ink, infinite_shear_viscosity=ink.infinite_shear_viscosity * (1.0 + size))
    return ink.equilibrium_stress(RATES)


def truth_shapes() -> dict[str, np.ndarray]:
    """Return the true change of ln stress for a small size of each cause."""
    return {cause: np.log(changed(cause, 1e-4 * top) / changed("none", 0.0)) for cause, top in LARGEST.items()}


def separability(effect: np.ndarray, cause: str, shapes: dict[str, np.ndarray]) -> float:
    """Return by how many standard deviations the best other cause fails to explain an effect, at most those by which it is seen."""
    share = 2.0 / LOADS
    inverse = np.linalg.inv(share * (LOAD_SCATTER**2 * np.ones((RATES.size,) * 2) + NOISE**2 * np.eye(RATES.size)))
    left = [effect @ inverse @ effect]
    for other, shape in shapes.items():
        if other != cause:
            size = shape @ inverse @ effect / (shape @ inverse @ shape)
            rest = effect - size * shape
            left.append(rest @ inverse @ rest)
    return float(np.sqrt(min(left)))


def loads(stress: np.ndarray, rng: np.random.Generator) -> list[FlowCurve]:
    """Return so many loads of a true curve, each with its own factor and points that scatter."""
    return [
        FlowCurve(RATES, stress * np.exp(LOAD_SCATTER * rng.standard_normal() + NOISE * rng.standard_normal(RATES.size)))
        for _ in range(LOADS)
    ]


def study(repeats: int, seed: int, *, scatter: float = LOAD_SCATTER) -> dict[str, dict[str, int]]:
    """Return counts of outcomes by class of separability: `clear` above 3 standard deviations, `close` below."""
    rng = np.random.default_rng(seed)
    shapes = truth_shapes()
    counts: dict[str, dict[str, int]] = {}
    for _ in range(repeats):
        cause = str(rng.choice(list(CAUSES)))
        size = (
            LARGEST[cause] * float(rng.choice((-1.0, 1.0))) * 0.02 ** rng.uniform(0.0, 1.0)
        )  # from a fiftieth of it, evenly in the logarithm
        effect = np.log(changed(cause, size) / changed("none", 0.0))
        clear = separability(effect, cause, shapes) > 3.0
        found = attribute(curve_ratio(loads(changed(cause, size), rng), loads(changed("none", 0.0), rng), load_scatter=scatter))
        outcome = found.verdict if found.named is None else "right" if found.named.name == cause else "wrong"
        for key in ("clear" if clear else "close", f"{'clear' if clear else 'close'}, {cause}"):
            row = counts.setdefault(key, dict.fromkeys(("right", "wrong", "cannot tell", "no difference", "none of these"), 0))
            row[outcome] += 1
    return counts


def page(counts: dict[str, dict[str, int]]) -> str:
    """Return the table as Markdown."""
    heads = list(next(iter(counts.values())))
    lines = ["| separable by | " + " | ".join(heads) + " | batches |", "|---" * (len(heads) + 2) + "|"]
    for key in sorted(counts):
        total = sum(counts[key].values())
        lines.append(f"| {key} | " + " | ".join(f"{100.0 * counts[key][head] / total:.1f} %" for head in heads) + f" | {total} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Print the table of a run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    sys.stdout.write(page(study(given.repeats, given.seed)))


if __name__ == "__main__":
    main()
