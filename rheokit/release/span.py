"""A span of time between two ends, as a specification writes it: `1 d to 7 d`, `at least 4 h`, `at most 30 min`."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from rheokit.base.errors import UnitError, printable
from rheokit.base.quantities import Amount, parse_amount
from rheokit.base.show import number

__all__ = ["DAY", "Span", "shown_time", "span_of_time"]

DAY = 86_400.0
"""Seconds."""


@dataclass(frozen=True, kw_only=True)
class Span:
    """From one time to another [s], both included; an open end is infinite."""

    lower: float
    upper: float
    text: str

    def holds(self, time: float) -> bool:
        """Tell whether a time [s] lies in the span."""
        slack = 1e-9 * max(1.0, abs(time))
        return self.lower - slack <= time <= self.upper + slack

    @property
    def in_whole_days(self) -> bool:
        """Whether a date without a time of day is enough to tell."""
        return all(math.isinf(end) or end % DAY == 0.0 for end in (self.lower, self.upper))


def span_of_time(text: str) -> Span:
    """Return the span that a text describes.

    Raises
    ------
    UnitError
        When it is none, an end is negative or carries a tolerance, or the ends are the wrong way round.
    """
    written = text.strip()
    one = re.fullmatch(r"at (?P<which>least|most)\s+(?P<end>.+)", written)
    if one:
        end = _end(one["end"], text)
        lower, upper = (end.value, math.inf) if one["which"] == "least" else (0.0, end.value)
    else:
        ends = re.split(r"\s+to\s+", written)
        if len(ends) != 2:
            raise UnitError(f"{printable(text)!r} is no span of time; write for example '1 d to 7 d', 'at least 4 h' or 'at most 30 min'")
        last = _end(ends[1], text)
        first = _end(ends[0] if re.search(r"[^\d.\s]", ends[0]) else f"{ends[0]} {last.unit.symbol}", text)
        lower, upper = first.value, last.value
    if not lower < upper:
        raise UnitError(f"{printable(text)!r}: a span of time goes from a shorter to a longer one")
    return Span(lower=lower, upper=upper, text=written)


def _end(text: str, whole: str) -> Amount:
    amount = parse_amount(text, "time")
    if amount.value < 0.0 or amount.tolerance is not None:
        raise UnitError(f"{printable(whole)!r}: the ends of a span of time are plain numbers from zero up")
    return amount


def shown_time(seconds: float) -> str:
    """Return a time in the unit in which a person says it."""
    for size, unit in ((DAY, "d"), (3600.0, "h"), (60.0, "min")):
        if abs(seconds) >= size:
            return f"{_plain(seconds / size)} {unit}"
    return f"{_plain(seconds)} s"


def _plain(amount: float) -> str:
    return f"{amount:.0f}" if amount == round(amount) else number(amount, 3)
