"""Precision of repeat loads: what is stated of a reported number's scatter, and the critical range of a few of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["CRITICAL_RANGE_FACTORS", "StatedUncertainty", "critical_range"]

CRITICAL_RANGE_FACTORS = {2: 2.8, 3: 3.3, 4: 3.6, 5: 3.9, 6: 4.0, 7: 4.2, 8: 4.3, 9: 4.4, 10: 4.5}
"""95 % points of the range of n normal results in units of their standard deviation (ISO 5725-6:1994, table 1; from memory,
recomputed by the studentised range in the tests)."""


@dataclass(frozen=True, kw_only=True)
class StatedUncertainty:
    """A standard deviation of a REPORTED number that is known beforehand: relative to the number or absolute [its SI unit], not both.

    As a repeatability it is that between loads and contains the scatter of the points and of the fit, so that neither is added again.
    """

    relative: float | None = None
    absolute: float | None = None
    degrees_of_freedom: float = math.inf

    def __post_init__(self) -> None:
        given = [size for size in (self.relative, self.absolute) if size is not None]
        if len(given) != 1 or not (math.isfinite(given[0]) and given[0] > 0.0):
            raise ValueError("a stated uncertainty is one positive number, relative or absolute")
        if not self.degrees_of_freedom > 0.0:
            raise ValueError(f"degrees of freedom are positive, not {self.degrees_of_freedom!r}")

    def standard_deviation(self, value: float) -> float:
        """Return the standard deviation at this value, in the unit of the value."""
        return self.absolute if self.absolute is not None else (self.relative or 0.0) * abs(value)


def critical_range(values: Sequence[float], standard_deviation: float) -> tuple[float, float]:
    """Return the range of some loads' results and the range that repeatable loads exceed once in twenty.

    Raises
    ------
    ValueError
        For fewer than 2 or more than 10 results.

    References
    ----------
    ISO 5725-6:1994, 5.2 (critical range at 95 % probability).
    """
    if len(values) not in CRITICAL_RANGE_FACTORS:
        raise ValueError(f"a critical range is for 2 to 10 results, not {len(values)}")
    return max(values) - min(values), CRITICAL_RANGE_FACTORS[len(values)] * standard_deviation
