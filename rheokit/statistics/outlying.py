"""Results that lie apart: Grubbs' test for a value, Cochran's for a scatter. They flag; nothing is ever dropped here."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.statistics.student import fisher_quantile, student_quantile

__all__ = ["Outlying", "cochran", "grubbs"]

STRAGGLER, OUTLIER = 0.05, 0.01
"""Probabilities at which the standard speaks of a straggler and of an outlier."""


@dataclass(frozen=True, kw_only=True)
class Outlying:
    """What a test for one outlying result saw.

    Attributes
    ----------
    test
        `Grubbs` (a value far from the others) or `Cochran` (a scatter larger than the others').
    index, name
        Place and name of the most extreme one.
    statistic, straggler, outlier
        The statistic, and the critical values at 5 % and at 1 %.
    """

    test: Literal["Grubbs", "Cochran"]
    index: int
    name: str
    statistic: float
    straggler: float
    outlier: float

    @property
    def verdict(self) -> str:
        """`outlier` beyond the critical value at 1 %, `straggler` beyond that at 5 %, else nothing."""
        if self.statistic > self.outlier:
            return "outlier"
        return "straggler" if self.statistic > self.straggler else ""

    def __str__(self) -> str:
        what = "value" if self.test == "Grubbs" else "scatter"
        limits = f"{number(self.straggler, 4)} at 5 %, {number(self.outlier, 4)} at 1 %"
        word = f"a{'n' if self.verdict == 'outlier' else ''} {self.verdict}" if self.verdict else "not outlying"
        test = "Grubbs' test" if self.test == "Grubbs" else "Cochran's test"
        return f"{self.name}: its {what} is {word} by {test} ({number(self.statistic, 4)}; critical {limits})"

    def finding(self) -> tuple[Finding, ...]:
        """Return a caution where something is outlying: it stays in, and a person looks for the cause."""
        if not self.verdict:
            return ()
        reason = f"{self}; it is kept: look for the cause"
        check = "outlying_value" if self.test == "Grubbs" else "outlying_scatter"
        return (Finding(check=check, severity="caution", reason=reason, value=self.statistic, limit=self.straggler, source=self.name),)


def grubbs(values: Sequence[float], names: Sequence[str]) -> Outlying | None:
    """Test whether the value farthest from the mean is outlying, on either side.

    Parameters
    ----------
    values, names
        At least three; with fewer, or with all of them equal, there is nothing to test and None is returned.

    References
    ----------
    ISO 5725-2:1994, 7.3.4 and table 5 (from memory; the critical values are recomputed from Student's t, each side taking half).
    """
    count = len(values)
    if count < 3:
        return None
    mean = math.fsum(values) / count
    away = [abs(value - mean) for value in values]
    scale = max(away)
    if not scale > 0.0:
        return None
    spread = scale * math.sqrt(math.fsum((one / scale) ** 2 for one in away) / (count - 1))
    index = away.index(scale)

    def critical(alpha: float) -> float:
        t = student_quantile(1.0 - alpha / (2 * count), count - 2)
        return (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))

    return Outlying(
        test="Grubbs",
        index=index,
        name=names[index],
        statistic=scale / spread,
        straggler=critical(STRAGGLER),
        outlier=critical(OUTLIER),
    )


def cochran(deviations: Sequence[float], freedoms: Sequence[float], names: Sequence[str]) -> Outlying | None:
    """Test whether the largest scatter is outlying.

    The statistic is the share of one sum of squares in all of them; for equal degrees of freedom that is Cochran's. For unequal ones
    each share has a critical value of its own, and the one that comes nearest to it, or exceeds it most, is reported.

    Parameters
    ----------
    deviations, freedoms, names
        Standard deviations and their degrees of freedom, at least two of them; infinite degrees of freedom are not tested. None where
        there is nothing to test.

    References
    ----------
    ISO 5725-2:1994, 7.3.3 and table 4; for unequal numbers: 't Lam, Anal. Chim. Acta 659 (2010) 68 (both from memory).
    """
    count = len(deviations)
    if count < 2 or not all(math.isfinite(freedom) for freedom in freedoms) or not max(deviations) > 0.0:
        return None
    scale = max(deviations)
    squares = [freedom * (deviation / scale) ** 2 for deviation, freedom in zip(deviations, freedoms, strict=True)]
    whole, everything = math.fsum(squares), math.fsum(freedoms)

    def critical(alpha: float, index: int) -> float:
        freedom, others = freedoms[index], everything - freedoms[index]
        ratio = fisher_quantile(1.0 - alpha / count, freedom, others)
        return 1.0 / (1.0 + others / (freedom * ratio))

    index = max(range(count), key=lambda place: squares[place] / whole / critical(STRAGGLER, place))
    return Outlying(
        test="Cochran",
        index=index,
        name=names[index],
        statistic=squares[index] / whole,
        straggler=critical(STRAGGLER, index),
        outlier=critical(OUTLIER, index),
    )
