"""Drift over time on a logarithmic scale: of the product, of the retained standard, of the check oil, and which of them explains which."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import read_only
from rheokit.statistics.student import student_quantile

__all__ = ["PERIOD", "Drift", "drift", "drift_words"]

PERIOD = 30.0
"""Days for which a drift is stated."""
_LEAST = 4
_LEVEL = 0.95


@dataclass(frozen=True, kw_only=True)
class Drift:
    """A slope: relative change in thirty days with its interval, from so many values; None where they do not determine it.

    `of` says of what, `reason` why there is none.
    """

    of: str
    change: float | None
    interval: tuple[float, float] | None
    count: int
    reason: str = ""

    @property
    def seen(self) -> bool:
        """Whether the interval leaves out no drift."""
        return self.interval is not None and not self.interval[0] <= 0.0 <= self.interval[1]

    def __str__(self) -> str:
        if self.change is None or self.interval is None:
            return self.reason
        low, high = self.interval
        return f"{100.0 * self.change:+.2g} % in {PERIOD:g} days (95 %: {100.0 * low:+.2g} to {100.0 * high:+.2g} %)"


def drift(of: str, days: ArrayLike, values: ArrayLike) -> Drift:
    """Return the drift of values above zero, (N,), over the days at which they were measured, (N,).

    Ordinary least squares of ln value over time, with Student's interval of the slope: values that scatter independently.
    """
    x, y = read_only(days, "days"), read_only(values, "values")
    if x.size < _LEAST or np.unique(x).size < _LEAST:
        return Drift(of=of, change=None, interval=None, count=x.size, reason=f"{x.size} values at known times; a drift needs {_LEAST}")
    if not np.all(y > 0.0):
        return Drift(of=of, change=None, interval=None, count=x.size, reason="values that are not above zero have no relative drift")
    centred, levels = x - x.mean(), np.log(y)
    spread = float(centred @ centred)
    slope = float(centred @ levels) / spread
    rest = levels - levels.mean() - slope * centred
    error = math.sqrt(float(rest @ rest) / (x.size - 2) / spread)
    reach = student_quantile(0.5 + 0.5 * _LEVEL, x.size - 2) * error
    ends = math.expm1(PERIOD * (slope - reach)), math.expm1(PERIOD * (slope + reach))
    return Drift(of=of, change=math.expm1(PERIOD * slope), interval=ends, count=x.size)


def drift_words(found: Sequence[Drift]) -> str:
    """Return in plain words which drift is seen: instrument by the oil, the standard's age by standard over oil, the rest the product."""
    seen = {one.of: one for one in found if one.seen}
    said = []
    if (oil := seen.get("check oil")) is not None:
        said.append(f"the check oil drifts by {oil}: the instrument; mend that first, for it stands in every number")
    if (standard := seen.get("standard over check oil")) is not None:
        said.append(f"the retained standard drifts against the oil by {standard}: it ages, or its storage does; renew it")
    elif "standard" in seen and oil is None:
        said.append(f"the retained standard drifts by {seen['standard']}, and no drift of a check oil is seen: it may be ageing")
    if (product := seen.get("product over standard")) is not None:
        said.append(f"the product drifts against the standard by {product}")
    elif "product" in seen:
        known = next((one for one in found if one.of == "product over standard" and one.change is not None), None)
        why = "no standard tells it from the instrument" if known is None else "against the standard no drift is seen"
        said.append(f"the product drifts by {seen['product']}; {why}")
    return "; ".join(said) or "no drift is seen beyond the scatter"
