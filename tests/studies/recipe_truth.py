"""The truth of the studies about recipes: what amounts do to an ink of the virtual rheometer, and what a load of it reads.

It shares no code with what is judged: numpy and `rheokit.virtual` alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from rheokit.virtual import Ink, slate_grey_ink

LINES = {"stress-1": 1.0, "viscosity-10": 10.0, "viscosity-100": 100.0}
"""Line to its shear rate [1/s]: a stress [Pa] and two viscosities [Pa·s], after shearing for ever."""
LOAD, POINT = 0.0185, 0.0072
"""Relative scatter of a load, common to its lines, and of a point: the figures of the demo scenario."""


@dataclass(frozen=True, kw_only=True)
class Truth:
    """True effects: exponents of silica and slopes of the logarithm by resin [1/wt %], and what the batch itself is off by."""

    silica_yield: float = 4.0
    silica_thickness: float = 0.8
    resin_yield: float = 0.116
    resin_thickness: float = 0.0923
    yielding: float = 1.0
    thickness: float = 1.0

    def ink(self, silica: float, resin: float) -> Ink:
        """Return the ink of amounts [wt %]."""
        share, more = silica / 3.0, resin - 22.0
        yielding = self.yielding * share**self.silica_yield * np.exp(self.resin_yield * more)
        thick = self.thickness * share**self.silica_thickness * np.exp(self.resin_thickness * more)
        standard = slate_grey_ink()
        return replace(
            standard,
            broken_yield_stress=standard.broken_yield_stress * yielding,
            structure_yield_stress=standard.structure_yield_stress * yielding,
            broken_consistency=standard.broken_consistency * thick,
            structure_consistency=standard.structure_consistency * thick,
            infinite_shear_viscosity=standard.infinite_shear_viscosity * self.thickness * np.exp(0.5 * self.resin_thickness * more),
        )

    def lines(self, silica: float, resin: float) -> np.ndarray:
        """Return the true value of every line, (3,)."""
        rates = np.array(list(LINES.values()))
        stress = self.ink(silica, resin).equilibrium_stress(rates)
        return stress / np.where(rates == 1.0, 1.0, rates)


def some_truth(rng: np.random.Generator) -> Truth:
    """Return effects about those of the demo scenario."""
    return Truth(
        silica_yield=rng.uniform(3.0, 5.0),
        silica_thickness=rng.uniform(0.5, 1.1),
        resin_yield=rng.uniform(0.06, 0.17),
        resin_thickness=rng.uniform(0.06, 0.13),
    )


def load_factors(rng: np.random.Generator, count: int) -> np.ndarray:
    """Return what loads read over the truth, (count, 3): a factor common to the lines of a load, and one of each point."""
    return (1.0 + LOAD * rng.standard_normal((count, 1))) * (1.0 + POINT * rng.standard_normal((count, 3)))


def binomial_limits(repeats: int, share: float = 0.95) -> tuple[int, int]:
    """Return between which a count at a share lies but for once in a thousand on either side (exact binomial)."""
    return int(stats.binom.ppf(0.001, repeats, share)), int(stats.binom.ppf(0.999, repeats, share))
