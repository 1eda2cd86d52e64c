"""The runs test: whether the signs of residuals change as often as chance would have it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

__all__ = ["runs_probability"]


def runs_probability(residuals: ArrayLike) -> float:
    """Return the probability of so few runs of one sign, or fewer, if the signs came in random order.

    Small where residuals go in streaks, as they do when a curve of the wrong shape is fitted. The distribution is exact; zeros are
    left out.

    Parameters
    ----------
    residuals
        In the order of x, (N,).

    References
    ----------
    Wald & Wolfowitz, Ann. Math. Statist. 11 (1940) 147 (from memory).
    """
    signs = np.sign(np.asarray(residuals, dtype=np.float64))
    signs = signs[signs != 0.0]
    above, below = int((signs > 0.0).sum()), int((signs < 0.0).sum())
    if not above or not below:
        return 1.0  # given the counts, there is one order only
    runs = 1 + int((signs[1:] != signs[:-1]).sum())
    return min(1.0, math.fsum(_chance(count, above, below) for count in range(2, runs + 1)))


def _chance(runs: int, above: int, below: int) -> float:
    """Return the probability of exactly so many runs, given how many signs there are of each kind."""
    half, odd = divmod(runs, 2)
    ways = [(half, half - 1), (half - 1, half)] if odd else [(half - 1, half - 1)] * 2
    whole = _log_choose(above + below, above)
    return math.fsum(math.exp(_log_choose(above - 1, one) + _log_choose(below - 1, other) - whole) for one, other in ways)


def _log_choose(count: int, chosen: int) -> float:
    if not 0 <= chosen <= count:
        return -math.inf
    return math.lgamma(count + 1) - math.lgamma(chosen + 1) - math.lgamma(count - chosen + 1)
