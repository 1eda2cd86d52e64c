"""What a history of batches allows to say: on which scale it is even, which limits it proposes, and the global risk of those in force."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.statistics.capability import one_sided_tolerance_factor, tolerance_factor
from rheokit.statistics.risk import Risk, global_risk

__all__ = ["LEAST_BATCHES", "ProposedLimits", "Scale", "history_risk", "proposed_limits", "scale_of"]

LEAST_BATCHES = 20
"""Batches below which no limits are proposed and no risk is computed (common practice, no source)."""
SHARE, CONFIDENCE = 0.99, 0.95
"""Proposed limits hold this share of such batches with this confidence (our own setting)."""
_SKEWED = 2.0
"""Standard errors of a sample skewness of normal values beyond which it counts as seen."""


@dataclass(frozen=True, kw_only=True)
class Scale:
    """The scale on which values are charted: as they are, or their logarithms; `reason` says why."""

    logarithmic: bool
    reason: str

    @property
    def to(self) -> Callable[[float], float]:
        """From a value to the scale; a limit that a logarithm does not reach is open."""
        return _logarithm if self.logarithmic else _same

    @property
    def back(self) -> Callable[[float], float]:
        """From the scale to a value."""
        return math.exp if self.logarithmic else _same


def _logarithm(value: float) -> float:
    return math.log(value) if value > 0.0 else -math.inf


def _same(value: float) -> float:
    return value


@dataclass(frozen=True, kw_only=True)
class ProposedLimits:
    """Limits from history [unit of the values], None where the requirement has none on that side, and how they were found."""

    lower: float | None
    upper: float | None
    count: int
    method: str


def scale_of(values: FloatArray) -> Scale:
    """Return the scale on which values (N,) are the more even.

    Logarithmic where their skewness is more than two standard errors above zero and that of their logarithms is less.

    References
    ----------
    Standard error of the skewness of N normal values: sqrt(6 N (N-1) / ((N-2) (N+1) (N+3))) (from memory).
    """
    count = values.size
    if count < 8 or not np.all(values > 0.0):
        return Scale(logarithmic=False, reason="values as they are")
    error = math.sqrt(6.0 * count * (count - 1) / ((count - 2) * (count + 1) * (count + 3)))
    plain, logs = _skewness(values), _skewness(np.log(values))
    if plain > _SKEWED * error and abs(logs) < plain:
        return Scale(logarithmic=True, reason=f"logarithms: the values are skewed ({plain:.2f}, their logarithms {logs:.2f})")
    return Scale(logarithmic=False, reason="values as they are: no skewness is seen")


def _skewness(values: FloatArray) -> float:
    rest = values - values.mean()
    count = values.size
    spread = float((rest**2).mean())
    return 0.0 if spread == 0.0 else float((rest**3).mean()) / spread**1.5 * math.sqrt(count * (count - 1)) / (count - 2)


def proposed_limits(values: FloatArray, scale: Scale, *, sides: tuple[bool, bool]) -> ProposedLimits:
    """Return tolerance limits of a history (N,): what holds `SHARE` of such batches with `CONFIDENCE`, exact for normal values.

    Raises
    ------
    ValueError
        When there are too few batches.

    References
    ----------
    ISO 16269-6 (statistical tolerance intervals).
    """
    if values.size < LEAST_BATCHES:
        raise ValueError(f"{values.size} batches; limits are proposed from {LEAST_BATCHES} on")
    held = np.log(values) if scale.logarithmic else values
    mean, deviation = float(held.mean()), float(held.std(ddof=1))
    find = tolerance_factor if all(sides) else one_sided_tolerance_factor
    factor = find(values.size, share=SHARE, confidence=CONFIDENCE)
    ends = (scale.back(mean - factor * deviation), scale.back(mean + factor * deviation))
    said = f"{100 * SHARE:g} % of such batches with {100 * CONFIDENCE:g} % confidence, {values.size} batches, {scale.reason.split(':')[0]}"
    return ProposedLimits(lower=ends[0] if sides[0] else None, upper=ends[1] if sides[1] else None, count=values.size, method=said)


def history_risk(values: FloatArray, errors: FloatArray, scale: Scale, *, limits: tuple[float, float], reach: float) -> Risk:
    """Return the global risk of a process as its history shows it, measured as it was.

    Parameters
    ----------
    values, errors
        Of the batches and their standard uncertainties, (N,) each.
    scale
        On which they are normal.
    limits
        In force, an open one infinite.
    reach
        Standard uncertainties by which a result must lie inside a limit to be accepted, and outside to be rejected.

    Raises
    ------
    ValueError
        When there are too few batches, or their scatter is no larger than their uncertainty.
    """
    if values.size < LEAST_BATCHES:
        raise ValueError(f"{values.size} batches; a global risk needs {LEAST_BATCHES}")
    held, size = (np.log(values), errors / values) if scale.logarithmic else (values, errors)
    seen, uncertainty = float(held.var(ddof=1)), math.sqrt(float((size**2).mean()))
    own = seen - uncertainty**2
    if not own > 0.0:
        raise ValueError("the batches scatter no more than their measurement: nothing is known of the process itself")
    lower, upper = (scale.to(end) for end in limits)
    guard = reach * uncertainty
    if not lower + guard < upper - guard:
        raise ValueError("the guard band leaves nothing between the limits")
    return global_risk(
        mean=float(held.mean()), process_sd=math.sqrt(own), uncertainty=uncertainty, limits=(lower, upper),
        accepted=(lower + guard, upper - guard), kept=(lower - guard, upper + guard),
    )  # fmt: skip
