"""Intervals of sums and differences of mean squares: variance components known to few degrees of freedom."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rheokit.statistics.student import chi_square_quantile, fisher_quantile

__all__ = ["MeanSquare", "component_interval", "satterthwaite"]


@dataclass(frozen=True, kw_only=True)
class MeanSquare:
    """A mean square with its degrees of freedom, and the factor with which it enters a component (negative: it is taken away)."""

    value: float
    degrees_of_freedom: float
    factor: float = 1.0

    @property
    def share(self) -> float:
        """What it adds to the component."""
        return self.factor * self.value


def satterthwaite(parts: Sequence[MeanSquare]) -> float:
    """Return the effective degrees of freedom of a sum of mean squares, infinite where nothing is left.

    References
    ----------
    Satterthwaite, Biometrics Bulletin 2 (1946) 110 (from memory); JCGM 100:2008, G.4.1.
    """
    total = math.fsum(part.share for part in parts)
    if not total > 0.0:
        return math.inf
    spent = math.fsum((part.share / total) ** 2 / part.degrees_of_freedom for part in parts)
    return math.inf if spent == 0.0 else 1.0 / spent


def component_interval(parts: Sequence[MeanSquare], level: float) -> tuple[float, float]:
    """Return an interval of a sum of mean squares with factors of either sign; ends below zero become zero.

    Modified large-sample limits: exact for one mean square, and where all degrees of freedom are infinite.

    References
    ----------
    Graybill & Wang, J. Am. Stat. Assoc. 75 (1980) 869 for sums; Ting, Burdick, Graybill, Jeyaratnam & Lu, J. Stat. Comput. Simul. 35
    (1990) 135 for differences (both from memory; the coverage is simulated in the tests).
    """
    tail = 0.5 * (1.0 - level)
    total = math.fsum(part.share for part in parts)
    added = [part for part in parts if part.factor > 0.0]
    taken = [part for part in parts if part.factor < 0.0]
    lower = total - math.sqrt(max(0.0, _spread(added, taken, 1.0 - tail)))
    upper = total + math.sqrt(max(0.0, _spread(added, taken, tail)))
    return max(0.0, lower), max(0.0, upper)


def _spread(added: Sequence[MeanSquare], taken: Sequence[MeanSquare], p: float) -> float:
    """Return the square of the distance to one end: the lower for a probability `p` above one half, the upper below it."""
    own = math.fsum((_one(part, p) * part.share) ** 2 for part in added)
    other = math.fsum((_one(part, 1.0 - p) * part.share) ** 2 for part in taken)
    mixed = math.fsum(_two(plus, minus, p) * plus.share * -minus.share for plus in added for minus in taken)
    # Pairs of one sign are corrected where they pull towards the end: added ones for the lower, taken ones for the upper end.
    alike = (added if p > 0.5 else taken) if added and taken else []
    pairs = [(one, two) for place, one in enumerate(alike) for two in alike[place + 1 :]]
    corrected = math.fsum(_pair(one, two, max(p, 1.0 - p)) * one.share * two.share for one, two in pairs)
    return own + other + mixed + (corrected / (len(alike) - 1) if len(alike) > 1 else 0.0)


def _ratio(part: MeanSquare, p: float) -> float:
    return chi_square_quantile(p, part.degrees_of_freedom) / part.degrees_of_freedom


def _one(part: MeanSquare, p: float) -> float:
    """Return by which part of itself one mean square may lie off the expected."""
    return 1.0 - 1.0 / _ratio(part, p)


def _two(plus: MeanSquare, minus: MeanSquare, p: float) -> float:
    ratio = fisher_quantile(p, plus.degrees_of_freedom, minus.degrees_of_freedom)
    return ((ratio - 1.0) ** 2 - (_one(plus, p) * ratio) ** 2 - _one(minus, 1.0 - p) ** 2) / ratio


def _pair(one: MeanSquare, two: MeanSquare, p: float) -> float:
    first, second = one.degrees_of_freedom, two.degrees_of_freedom
    joint = MeanSquare(value=1.0, degrees_of_freedom=first + second)
    return (
        (_one(joint, p) ** 2) * (first + second) ** 2 / (first * second)
        - _one(one, p) ** 2 * first / second
        - _one(two, p) ** 2 * second / first
    )
