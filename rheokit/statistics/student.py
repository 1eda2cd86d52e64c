"""Student's t distribution; the one place where its quantiles are taken from."""

from __future__ import annotations

import math

__all__ = ["student_cdf", "student_quantile"]


def student_cdf(t: float, degrees_of_freedom: float) -> float:
    """Return the probability that Student's t does not exceed a value.

    Parameters
    ----------
    t
        The value.
    degrees_of_freedom
        Positive, not necessarily whole; `inf` gives the normal distribution.

    Raises
    ------
    ValueError
        When the degrees of freedom are not positive.
    """
    from scipy.special import ndtr, stdtr  # noqa: PLC0415 - heavy, and only asked for when an interval is

    _check(degrees_of_freedom)
    return float(ndtr(t)) if math.isinf(degrees_of_freedom) else float(stdtr(degrees_of_freedom, t))


def student_quantile(p: float, degrees_of_freedom: float) -> float:
    """Return the value that Student's t does not exceed with probability `p`.

    Parameters
    ----------
    p
        Between 0 and 1, both excluded.
    degrees_of_freedom
        Positive, not necessarily whole; `inf` gives the normal distribution.

    Raises
    ------
    ValueError
        When `p` or the degrees of freedom lie outside their range.
    """
    from scipy.special import ndtri, stdtrit  # noqa: PLC0415 - heavy, and only asked for when an interval is

    _check(degrees_of_freedom)
    if not 0.0 < p < 1.0:
        raise ValueError(f"a probability for a quantile lies between 0 and 1, not {p!r}")
    return float(ndtri(p)) if math.isinf(degrees_of_freedom) else float(stdtrit(degrees_of_freedom, p))


def _check(degrees_of_freedom: float) -> None:
    if not degrees_of_freedom > 0.0:
        raise ValueError(f"degrees of freedom are positive, not {degrees_of_freedom!r}")
