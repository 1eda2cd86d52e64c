"""Student's t, and the distributions of variances that go with it; the one place where their quantiles are taken from."""

from __future__ import annotations

import math

__all__ = [
    "chi_square_above",
    "chi_square_quantile",
    "fisher_cdf",
    "fisher_quantile",
    "noncentral_student_quantile",
    "student_cdf",
    "student_quantile",
]


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
    _check_probability(p)
    return float(ndtri(p)) if math.isinf(degrees_of_freedom) else float(stdtrit(degrees_of_freedom, p))


def chi_square_quantile(p: float, degrees_of_freedom: float) -> float:
    """Return the value that a sum of squares of so many standard normals does not exceed with probability `p`.

    Raises
    ------
    ValueError
        When `p` or the degrees of freedom lie outside their range, or these are infinite.
    """
    from scipy.special import gammaincinv  # noqa: PLC0415 - heavy, and only asked for when an interval is

    _check(degrees_of_freedom)
    _check_probability(p)
    if math.isinf(degrees_of_freedom):
        raise ValueError("a sum of infinitely many squares has no quantile")
    return 2.0 * float(gammaincinv(0.5 * degrees_of_freedom, p))


def chi_square_above(value: float, degrees_of_freedom: float) -> float:
    """Return the probability that a sum of squares of so many standard normals exceeds a value."""
    from scipy.special import chdtrc  # noqa: PLC0415 - heavy, and only asked for when an interval is

    _check(degrees_of_freedom)
    return float(chdtrc(degrees_of_freedom, value))


def noncentral_student_quantile(p: float, degrees_of_freedom: float, shift: float) -> float:
    """Return the value that a t whose numerator is shifted does not exceed with probability `p`.

    Raises
    ------
    ValueError
        When `p` or the degrees of freedom lie outside their range.
    """
    from scipy.special import nctdtrit  # noqa: PLC0415 - heavy, and only asked for when an interval is

    _check(degrees_of_freedom)
    _check_probability(p)
    return float(nctdtrit(degrees_of_freedom, shift, p))


def fisher_cdf(ratio: float, upper: float, lower: float) -> float:
    """Return the probability that a ratio of two mean squares of equal expectation does not exceed a value.

    Parameters
    ----------
    ratio
        From zero up.
    upper, lower
        Degrees of freedom of the one above and of the one below the line.
    """
    from scipy.special import fdtr  # noqa: PLC0415 - heavy, and only asked for when an interval is

    _check(upper)
    _check(lower)
    return float(fdtr(upper, lower, ratio))


def fisher_quantile(p: float, upper: float, lower: float) -> float:
    """Return the value that a ratio of two mean squares of equal expectation does not exceed with probability `p`.

    Parameters
    ----------
    p
        Between 0 and 1, both excluded.
    upper, lower
        Degrees of freedom of the one above and of the one below the line; infinite ones below give chi-square over its own.
    """
    from scipy.special import fdtri  # noqa: PLC0415 - heavy, and only asked for when an interval is

    _check(upper)
    _check(lower)
    _check_probability(p)
    return chi_square_quantile(p, upper) / upper if math.isinf(lower) else float(fdtri(upper, lower, p))


def _check_probability(p: float) -> None:
    if not 0.0 < p < 1.0:
        raise ValueError(f"a probability for a quantile lies between 0 and 1, not {p!r}")


def _check(degrees_of_freedom: float) -> None:
    if not degrees_of_freedom > 0.0:
        raise ValueError(f"degrees of freedom are positive, not {degrees_of_freedom!r}")
