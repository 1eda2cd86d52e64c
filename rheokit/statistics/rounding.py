"""Rounding of a reported value to a decimal place: half to even, on decimals, never on floats."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Context, Decimal

__all__ = ["as_written", "round_to_digits", "round_to_place", "written_place"]

_HELD = Context(prec=15, rounding=ROUND_HALF_EVEN)
"""Decimal digits that a float always holds. What stands beyond them was made by conversions and must not decide where a half goes."""
_WIDE = Context(prec=400, rounding=ROUND_HALF_EVEN)


def round_to_place(value: float, place: Decimal) -> Decimal:
    """Return a number rounded half to even to a decimal place.

    A float that is written 2.45 lies a little above 2.45; it is rounded as it is written, to 15 digits: to 2.4 and not to 2.5.

    Parameters
    ----------
    value
        Finite.
    place
        A power of ten, as `Decimal("0.1")`.

    Raises
    ------
    ValueError
        When the value is no number.

    References
    ----------
    ASTM E29, rounding procedure (a half goes to the even digit; from memory, without the clause).
    """
    if not math.isfinite(value):
        raise ValueError(f"{value!r} is no number to round")
    rounded = as_written(value).quantize(place, context=_WIDE)
    return rounded.copy_abs() if rounded.is_zero() else rounded


def round_to_digits(value: float, digits: int) -> Decimal:
    """Return a number rounded half to even to so many significant digits.

    Raises
    ------
    ValueError
        When the value is no number or there is less than one digit.
    """
    if digits < 1:
        raise ValueError(f"a number has at least one significant digit, not {digits!r}")
    if value == 0.0:
        return Decimal(0)
    if not math.isfinite(value):
        raise ValueError(f"{value!r} is no number to round")
    return as_written(value).normalize(Context(prec=digits, rounding=ROUND_HALF_EVEN))


def written_place(written: Decimal) -> Decimal:
    """Return the place of the last digit that is written: 0.1 for 3.4, 0.01 for 3.40, 1 for 120."""
    exponent = written.as_tuple().exponent
    assert isinstance(exponent, int)  # a parsed number is finite
    return Decimal(1).scaleb(exponent)


def as_written(value: float) -> Decimal:
    """Return a number as decimals, to the 15 digits that a float always holds."""
    return _HELD.create_decimal(repr(float(value)))
