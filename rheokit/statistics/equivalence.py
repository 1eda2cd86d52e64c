"""Equivalence by two one-sided tests: whether a difference lies inside bounds, not whether it is seen."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import read_only
from rheokit.statistics.student import student_cdf, student_quantile

__all__ = ["Equivalence", "two_one_sided_tests", "two_samples"]


@dataclass(frozen=True, kw_only=True)
class Equivalence:
    """A difference, its standard error and degrees of freedom, both one-sided probabilities, and the interval at 1 - 2 alpha.

    `equivalent` is whether both probabilities lie below alpha; the interval then lies inside the bounds.
    """

    difference: float
    standard_error: float
    degrees_of_freedom: float
    bounds: tuple[float, float]
    above_lower: float
    below_upper: float
    interval: tuple[float, float]
    alpha: float

    @property
    def probability(self) -> float:
        """The larger of the two: what the whole test rests on."""
        return max(self.above_lower, self.below_upper)

    @property
    def equivalent(self) -> bool:
        """Whether the difference is shown to lie inside the bounds."""
        return self.probability < self.alpha


def two_one_sided_tests(
    difference: float, standard_error: float, degrees_of_freedom: float, *, bounds: tuple[float, float], alpha: float = 0.05
) -> Equivalence:
    """Return the two one-sided tests of a difference that is known with a standard error.

    Raises
    ------
    ValueError
        When the bounds are the wrong way round, or the standard error is not positive.

    References
    ----------
    Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657 (from memory).
    """
    if not bounds[0] < bounds[1] or not standard_error > 0.0:
        raise ValueError(f"two one-sided tests need bounds in order and a positive standard error, not {bounds} and {standard_error!r}")
    above = student_cdf((bounds[0] - difference) / standard_error, degrees_of_freedom)
    below = student_cdf((difference - bounds[1]) / standard_error, degrees_of_freedom)
    reach = student_quantile(1.0 - alpha, degrees_of_freedom) * standard_error
    return Equivalence(
        difference=difference,
        standard_error=standard_error,
        degrees_of_freedom=degrees_of_freedom,
        bounds=bounds,
        above_lower=above,
        below_upper=below,
        interval=(difference - reach, difference + reach),
        alpha=alpha,
    )


def two_samples(one: ArrayLike, other: ArrayLike, *, bounds: tuple[float, float], pooled: bool, alpha: float = 0.05) -> Equivalence:
    """Return the two one-sided tests of the difference of the means of two samples, (N,) and (M,).

    Parameters
    ----------
    one, other
        Two values or more each.
    bounds
        Of `mean(one) - mean(other)`.
    pooled
        One scatter for both (their degrees of freedom add up), or each its own (Welch).
    alpha
        Of each one-sided test.

    Raises
    ------
    ValueError
        When a sample has fewer than two values, or there is no scatter.
    """
    first, second = read_only(one, "one"), read_only(other, "other")
    if min(first.size, second.size) < 2:
        raise ValueError("two samples need two values or more each")
    parts = [float(np.var(sample, ddof=1)) for sample in (first, second)]
    sizes = (first.size, second.size)
    if pooled:
        freedom = float(sum(sizes) - 2)
        variance = sum(part * (size - 1) for part, size in zip(parts, sizes, strict=True)) / freedom
        error = math.sqrt(variance * (1.0 / sizes[0] + 1.0 / sizes[1]))
    else:
        shares = [part / size for part, size in zip(parts, sizes, strict=True)]
        error = math.sqrt(sum(shares))
        spent = sum((share**2) / (size - 1) for share, size in zip(shares, sizes, strict=True))
        freedom = error**4 / spent if spent > 0.0 else math.inf
    return two_one_sided_tests(float(first.mean() - second.mean()), error, freedom, bounds=bounds, alpha=alpha)
