"""Capability of a process against its limits, with intervals; and tolerance intervals, which limits proposed from history rest on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rheokit.statistics.student import chi_square_above, chi_square_quantile, noncentral_student_quantile, student_quantile

__all__ = ["Capability", "capability", "one_sided_tolerance_factor", "tolerance_factor"]


@dataclass(frozen=True, kw_only=True)
class Capability:
    """Cp (None with one limit) and Cpk with their intervals at a level; indices of the process as it was, not of one batch."""

    cp: float | None
    cp_interval: tuple[float, float] | None
    cpk: float
    cpk_interval: tuple[float, float]
    level: float
    count: int


def capability(
    mean: float, standard_deviation: float, count: int, *, lower: float = -math.inf, upper: float = math.inf, level: float = 0.95
) -> Capability:
    """Return the capability of a process.

    Parameters
    ----------
    mean, standard_deviation, count
        Of the batches, their scatter with `count - 1` degrees of freedom.
    lower, upper
        Limits; one may be infinite.
    level
        Of the intervals.

    Raises
    ------
    ValueError
        When there is no limit, they are the wrong way round, or there are too few batches to know a scatter.

    References
    ----------
    NIST/SEMATECH e-Handbook, 6.1.6; interval of Cp by chi-square, of Cpk by the normal approximation of Bissell, Applied Statistics 39
    (1990) 331 (from memory).
    """
    if not (standard_deviation > 0.0 and count >= 2):
        raise ValueError(f"a capability needs two batches or more that differ, not {count}")
    if not lower < upper or (math.isinf(lower) and math.isinf(upper)):
        raise ValueError(f"a capability needs limits, the lower below the upper, not {lower!r} and {upper!r}")
    freedom, tail = count - 1, 0.5 - 0.5 * level
    both = math.isfinite(lower) and math.isfinite(upper)
    cp = (upper - lower) / (6.0 * standard_deviation) if both else None
    ends = tuple(math.sqrt(chi_square_quantile(p, freedom) / freedom) for p in (tail, 1.0 - tail))
    cpk = min(upper - mean, mean - lower) / (3.0 * standard_deviation)
    reach = student_quantile(1.0 - tail, math.inf) * math.sqrt(1.0 / (9.0 * count) + cpk**2 / (2.0 * freedom))
    return Capability(
        cp=cp,
        cp_interval=None if cp is None else (cp * ends[0], cp * ends[1]),
        cpk=cpk,
        cpk_interval=(cpk - reach, cpk + reach),
        level=level,
        count=count,
    )


def one_sided_tolerance_factor(count: int, *, share: float, confidence: float) -> float:
    """Return k so that mean + k s lies above `share` of a normal population with `confidence`.

    References
    ----------
    ISO 16269-6 (exact, by the non-central t distribution).
    """
    _check(count, share, confidence)
    shift = math.sqrt(count) * student_quantile(share, math.inf)
    return noncentral_student_quantile(confidence, count - 1, shift) / math.sqrt(count)


def tolerance_factor(count: int, *, share: float, confidence: float) -> float:
    """Return k so that mean ± k s holds `share` of a normal population with `confidence`.

    Exact: the confidence is integrated over where the mean may lie, and k found by halving.

    References
    ----------
    ISO 16269-6, two-sided with unknown mean and standard deviation (definition; factors computed here).
    """
    _check(count, share, confidence)
    nodes, weights = np.polynomial.hermite_e.hermegauss(64)
    weights = weights / weights.sum()
    reaches = np.array([_reach(z / math.sqrt(count), share) for z in nodes])
    low, high = 0.0, 100.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        held = sum(
            weight * chi_square_above((count - 1) * (reach / middle) ** 2, count - 1)
            for weight, reach in zip(weights, reaches, strict=True)
        )
        low, high = (middle, high) if held < confidence else (low, middle)
    return 0.5 * (low + high)


def _reach(offset: float, share: float) -> float:
    """Return r so that a standard normal lies within r of an offset with this probability."""
    low, high = 0.0, 20.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        held = 0.5 * (math.erf((offset + middle) / math.sqrt(2.0)) - math.erf((offset - middle) / math.sqrt(2.0)))
        low, high = (middle, high) if held < share else (low, middle)
    return 0.5 * (low + high)


def _check(count: int, share: float, confidence: float) -> None:
    if count < 2 or not (0.0 < share < 1.0 and 0.0 < confidence < 1.0):
        raise ValueError("a tolerance factor needs two values or more, and share and confidence between 0 and 1")
