"""An answer about the pen: one number for every draw of the refill's ranges and of the ink's errors, told as a middle and an interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.estimate import Condition, Estimate, Interval

__all__ = ["Answer"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Answer(Carried):
    """One number about the pen.

    Attributes
    ----------
    name, unit
        What it is.
    draws
        Its value for every draw, (S,); infinite where the pen stands still or the question has no end.
    method
        How it was obtained, with every extrapolation.
    meaning
        What it means for the pen, in a few words.
    """

    name: str
    unit: str
    draws: FloatArray
    method: str
    meaning: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "draws", read_only(self.draws, self.name))

    @property
    def middle(self) -> float:
        """Median of the draws."""
        return float(np.median(self.draws))

    def interval(self, level: float = 0.95) -> tuple[float, float]:
        """Return the ends between which the middle part of the draws lies; infinite ends stay infinite."""
        tails = (0.5 - 0.5 * level, 0.5 + 0.5 * level)
        ordered = np.sort(self.draws)
        # Not interpolated: between a number and infinity there is nothing.
        low, high = (ordered[min(int(tail * ordered.size), ordered.size - 1)] for tail in tails)
        return float(low), float(high)

    def share(self, *, above: float) -> float:
        """Return the share of the draws above a value."""
        return float((self.draws > above).mean())

    def estimate(self, **conditions: Condition) -> Estimate:
        """Return the answer as an Estimate whose interval holds the middle 95 % of the draws.

        Raises
        ------
        ValueError
            When the middle itself is infinite; the answer is then words, not a number.
        """
        low, high = self.interval()
        open_end = "" if np.isfinite([low, high]).all() else "in part of the draws there is no end"
        return Estimate(
            name=self.name,
            value=self.middle,
            unit=self.unit,
            standard_error=None,
            reason="an interval over ranges of dimensions, not a standard error",
            interval=Interval(lower=low, upper=high, level=0.95, reason=open_end),
            method=self.method,
            conditions=conditions,
        )
