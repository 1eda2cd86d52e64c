"""What looking again costs: how often a batch exactly at a limit is accepted when its mean is judged after every further load."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rheokit.statistics.risk import normal_cdf

__all__ = ["LookRisk", "repeated_looks"]

DRAWS = 200_000
"""Batches drawn; the standard error of a share of 5 % is then 0.05 %."""


@dataclass(frozen=True, kw_only=True)
class LookRisk:
    """Share of batches exactly at a limit that are accepted: by the first look alone (exact), and by any look of the rule.

    `standard_error` is that of `accepted`, from the number of draws; `draws` and `seed` make the numbers again.
    """

    first: float
    accepted: float
    standard_error: float
    draws: int
    seed: int

    def __str__(self) -> str:
        return (
            f"at a limit {100.0 * self.first:.1f} % are accepted by the first look and {100.0 * self.accepted:.1f} % by the whole rule "
            f"(simulated, {self.draws} draws, seed {self.seed})"
        )


def repeated_looks(
    loads: Sequence[int], *, reach: float, rejects: bool = True, common: float = 0.0, draws: int = DRAWS, seed: int = 1
) -> LookRisk:
    """Return the false acceptance of a rule that looks again.

    Parameters
    ----------
    loads
        Loads in all at each look, rising: (2, 4) judges the mean of two, then that of all four.
    reach
        By how many of its own standard uncertainties a mean must lie inside the limit to be accepted.
    rejects
        Whether a mean as far outside it ends the matter; otherwise only the last look ends it.
    common
        Standard uncertainty of what no further load makes smaller, over the standard deviation between loads.
    draws, seed
        Of the simulation.

    Raises
    ------
    ValueError
        When the loads do not rise, or a size is out of range.

    Notes
    -----
    Every load counts: each look judges the mean of all loads so far. Looking at the last loads alone would raise the risk more, and is
    not offered.

    References
    ----------
    Repeated significance tests on accumulating data: Armitage, McPherson & Rowe, J. R. Stat. Soc. A 132 (1969) 235 (from memory).
    """
    if not loads or loads[0] < 1 or any(later <= earlier for earlier, later in pairwise(loads)):
        raise ValueError(f"the loads of each look rise from at least one, not {tuple(loads)}")
    if not (math.isfinite(reach) and reach >= 0.0 and common >= 0.0 and draws >= 100):
        raise ValueError("reach and common are not negative, and there are 100 draws or more")
    rng = np.random.default_rng(seed)
    shared = common * rng.standard_normal(draws)
    total, before = np.zeros(draws), 0
    accepted, settled = np.zeros(draws, dtype=bool), np.zeros(draws, dtype=bool)
    for count in loads:
        total += math.sqrt(count - before) * rng.standard_normal(draws)
        before = count
        distance = (total / count + shared) / math.hypot(1.0 / math.sqrt(count), common)
        accepted |= ~settled & (distance >= reach)
        settled = accepted | (settled | (distance < -reach) if rejects else accepted)
    share = float(accepted.mean())
    error = math.sqrt(share * (1.0 - share) / draws)
    return LookRisk(first=normal_cdf(-reach), accepted=share, standard_error=error, draws=draws, seed=seed)
