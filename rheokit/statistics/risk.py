"""Global risk: how often a process and a measurement together accept a bad batch or reject a good one."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np

from rheokit.base.curve import FloatArray

__all__ = ["Risk", "Zone", "global_risk", "normal_cdf"]

REACH = 9.0
"""Standard deviations to which the process is looked at: beyond them lie 2e-19 of it."""
NODES, PANEL = 24, 0.5
"""Gauss-Legendre nodes in a panel, and its width in units of the narrower of the two standard deviations."""
MOST_PANELS = 4000

Zone = tuple[float, float]
"""A lower and an upper end; an open end is infinite."""


@dataclass(frozen=True, kw_only=True)
class Risk:
    """Probabilities, over all batches of a process: outside the limits and accepted; inside them and rejected."""

    false_accept: float
    false_reject: float


def normal_cdf(z: float) -> float:
    """Return the probability that a standard normal does not exceed a value; a small tail keeps its digits."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def global_risk(*, mean: float, process_sd: float, uncertainty: float, limits: Zone, accepted: Zone, kept: Zone | None = None) -> Risk:
    """Return the global risk of a normal process that is measured with a normal error.

    Parameters
    ----------
    mean, process_sd
        Of the true values of the batches.
    uncertainty
        Standard uncertainty of one result.
    limits
        Between which a true value conforms.
    accepted
        Between which a result is accepted; the same as `limits` for simple acceptance.
    kept
        Beyond which a result is rejected; `accepted` where nothing lies between accepting and rejecting.

    Returns
    -------
    Risk
        By Gauss-Legendre quadrature over the true value, to about 1e-12.

    Raises
    ------
    ValueError
        When a standard deviation is not positive, or two ends are the wrong way round.

    References
    ----------
    JCGM 106:2012, 9.4 (global consumer's and producer's risk).
    """
    kept = accepted if kept is None else kept
    for low, high in (limits, accepted, kept):
        if not low < high:
            raise ValueError(f"the lower end {low!r} is not below the upper end {high!r}")
    if not (0.0 < process_sd < math.inf and 0.0 < uncertainty < math.inf and math.isfinite(mean)):
        raise ValueError("a process and a measurement have a mean and positive standard deviations")
    low, high = mean - REACH * process_sd, mean + REACH * process_sd
    edges = (*limits, *accepted, *kept)

    def joint(zone: Callable[[float], float], start: float, end: float) -> float:
        start, end = max(start, low), min(end, high)
        if not start < end:
            return 0.0
        true, weights = _nodes(start, end, edges, min(process_sd, uncertainty))
        density = np.exp(-0.5 * ((true - mean) / process_sd) ** 2) / (process_sd * math.sqrt(2.0 * math.pi))
        chance = np.array([zone(value) for value in true.tolist()])
        return float(weights @ (density * chance))

    def accept(value: float) -> float:
        return _between(value, uncertainty, accepted)

    def reject(value: float) -> float:
        return normal_cdf((kept[0] - value) / uncertainty) + normal_cdf((value - kept[1]) / uncertainty)

    return Risk(
        false_accept=joint(accept, -math.inf, limits[0]) + joint(accept, limits[1], math.inf),
        false_reject=joint(reject, *limits),
    )


def _between(value: float, sd: float, zone: Zone) -> float:
    """Return the probability of a result in a zone; the smaller tails are subtracted, so that a tiny one keeps its digits."""
    below, above = (zone[0] - value) / sd, (zone[1] - value) / sd
    return normal_cdf(-below) - normal_cdf(-above) if below > 0.0 else normal_cdf(above) - normal_cdf(below)


def _nodes(start: float, end: float, edges: tuple[float, ...], width: float) -> tuple[FloatArray, FloatArray]:
    """Return nodes and weights on panels that end at every edge and are narrow beside what is integrated."""
    ends = sorted({start, end, *(edge for edge in edges if start < edge < end)})
    panels = [np.linspace(a, b, 1 + min(MOST_PANELS, max(1, math.ceil((b - a) / (PANEL * width))))) for a, b in pairwise(ends)]
    cuts = np.unique(np.concatenate(panels))
    half, middle = 0.5 * np.diff(cuts)[:, None], 0.5 * (cuts[1:] + cuts[:-1])[:, None]
    places, weights = _gauss_legendre()
    return (middle + half * places).ravel(), (half * weights).ravel()


@cache
def _gauss_legendre() -> tuple[FloatArray, FloatArray]:
    places, weights = np.polynomial.legendre.leggauss(NODES)
    return places, weights
