"""What a step ends at: the line through its last part, read at its end, and whether it had become steady."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.statistics.student import student_quantile

__all__ = ["CLEAR", "DRIFTS", "STEADY", "SettledEnd", "settled_end"]

STEADY, DRIFTS = 0.02, 0.05
"""Change over the last third, relative to the value: steady up to the first, not steady above the second (common practice, no source)."""
CLEAR = 0.9973
"""Probability at which a change, or a difference, counts as seen: three standard errors, or more where these are themselves uncertain."""
_SHARE, _FEWEST = 1.0 / 3.0, 3
_ENOUGH = 5


@dataclass(frozen=True, kw_only=True)
class SettledEnd:
    """Where a step ends.

    Attributes
    ----------
    which
        `rest` or `shear`.
    value, standard_error
        Of the tracked quantity at the end of the step, in its unit; the error is 0 where the points lie on the line to rounding.
    degrees_of_freedom
        Of the error.
    leverage
        Standard error over the scatter of a point.
    points
        How many make the last part.
    drift
        Change over the last part, relative to the value.
    steady
        False when the change is clearly more than 5 %.
    findings
        Where it is clearly more than 2 %.
    """

    which: Literal["rest", "shear"]
    value: float
    standard_error: float
    degrees_of_freedom: float
    leverage: float
    points: int
    drift: float
    steady: bool
    findings: tuple[Finding, ...]


def settled_end(time: FloatArray, values: FloatArray, which: Literal["rest", "shear"]) -> SettledEnd | None:
    """Return where a step ends by the line through its last third (five points at least), or None for fewer than three usable points.

    A line and not a mean: a slow approach then leaves no bias, at the price of twice the standard error.
    """
    usable = np.isfinite(time) & np.isfinite(values)
    time, values = time[usable], values[usable]
    count = max(math.ceil(_SHARE * time.size), min(_ENOUGH, time.size))
    if count < _FEWEST:
        return None
    last, y = time[-count:] - time[-1], values[-count:]
    centre, spread = last - last.mean(), float(np.square(last - last.mean()).sum())
    slope = float(centre @ y) / spread if spread > 0.0 else 0.0
    value = float(y.mean()) - slope * float(last.mean())
    left = y - value - slope * last
    scatter = math.sqrt(float(left @ left) / (count - 2))
    if scatter <= 1e-13 * float(np.abs(y).max()):
        scatter = 0.0
    leverage = math.sqrt(1.0 / count + (float(last.mean()) ** 2 / spread if spread > 0.0 else 0.0))
    width = float(last[-1] - last[0])
    change, change_error = slope * width, scatter * width / math.sqrt(spread) if spread > 0.0 else 0.0
    drift = change / abs(value) if value else 0.0
    clear = abs(change) > student_quantile(0.5 + 0.5 * CLEAR, float(count - 2)) * change_error
    return SettledEnd(
        which=which,
        value=value,
        standard_error=leverage * scatter,
        degrees_of_freedom=float(count - 2),
        leverage=leverage,
        points=count,
        drift=drift,
        steady=not (clear and abs(drift) > DRIFTS),
        findings=_findings(which, drift) if clear and abs(drift) > STEADY else (),
    )


def _findings(which: Literal["rest", "shear"], drift: float) -> tuple[Finding, ...]:
    far = abs(drift) > DRIFTS
    remedy = "rest longer before the shear" if which == "rest" else "shear longer"
    said = f"the {which} step still {'rises' if drift > 0.0 else 'falls'} by {number(100.0 * abs(drift), 2)} % over its last third"
    return (
        Finding(
            check=f"{which}_not_settled",
            severity="invalid" if far else "caution",
            reason=f"{said} (limit {number(100.0 * (DRIFTS if far else STEADY), 2)} %); {remedy}",
            value=drift,
            limit=DRIFTS if far else STEADY,
            unit="1",
            source=f"{which} step",
        ),
    )
