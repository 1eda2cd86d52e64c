"""Probability that a true value lies inside its limits, given an estimate of it."""

from __future__ import annotations

import math

from rheokit.statistics.student import student_cdf

__all__ = ["conformity_probability"]


def conformity_probability(
    value: float, standard_error: float, degrees_of_freedom: float, *, lower: float = -math.inf, upper: float = math.inf
) -> float:
    """Return the probability that the measurand lies between the limits.

    The knowledge about the measurand is a Student distribution scaled by the standard error (normal for infinite degrees of freedom),
    with no prior information beyond the measurement.

    Parameters
    ----------
    value, standard_error, lower, upper
        All in the same unit; an absent limit is infinite.
    degrees_of_freedom
        Of the standard error; `inf` where it is known.

    Raises
    ------
    ValueError
        When the limits are the wrong way round or the standard error is not positive.

    References
    ----------
    JCGM 106:2012, 7.2 to 7.5 (conformance probability); JCGM 101:2008, 6.4.9 (scaled and shifted t distribution).
    """
    if not lower < upper:
        raise ValueError(f"the lower limit {lower!r} is not below the upper limit {upper!r}")
    if not standard_error > 0.0:
        raise ValueError(f"a standard error is positive, not {standard_error!r}")
    below = 0.0 if math.isinf(lower) else student_cdf((lower - value) / standard_error, degrees_of_freedom)
    # The upper tail is taken by symmetry, so that a tiny risk above does not vanish in 1 - 1.
    above = 0.0 if math.isinf(upper) else student_cdf((value - upper) / standard_error, degrees_of_freedom)
    return min(1.0, max(0.0, 1.0 - below - above))
