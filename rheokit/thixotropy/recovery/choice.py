"""Which recovery law is fitted: the one named, or the best by AICc, with the losers shown; and whether the points remember one another."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError, printable
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.fitting.fit import fit_law
from rheokit.fitting.result import Fit
from rheokit.fitting.selection import DISTINGUISHABLE, STREAKS, Comparison, compare_laws
from rheokit.law import Law
from rheokit.statistics.runs import runs_probability
from rheokit.statistics.scatter import scatter_about_neighbours
from rheokit.thixotropy.recovery.laws import RECOVERY_LAWS
from rheokit.thixotropy.recovery.unchanged import UNCHANGED

__all__ = ["MISSES", "Chosen", "choose"]

MISSES = 3.0
"""Scatter about the law over scatter about neighbours above which the law has not the shape of the curve: white noise gives 1, and half
of it a first-order autoregression of coefficient 0.8 gives 1.3."""
_ENOUGH = 12
# Akaike weight over that of the best below which a law has no say in the uncertainty.
_HEARD = 0.01
_OWN_UNIT = ("start_value", "plateau_value", "first_part", "second_part")


@dataclass(frozen=True, kw_only=True, eq=False)
class Chosen(Carried):
    """The law taken.

    Attributes
    ----------
    fit
        Of the law.
    comparison
        With the other laws, or None where the caller named one.
    rivals
        Weight and fit of the laws that have a say in the uncertainty, the one taken among them; none where the caller named one.
    widening
        Factor by which the memory of the points widens every standard error; 1 where none is seen.
    misfit
        Why the law does not describe the points, or nothing where it does.
    findings
        About all of it.
    """

    fit: Fit
    comparison: Comparison[Fit] | None
    rivals: tuple[tuple[float, Fit], ...]
    widening: float
    misfit: str
    findings: tuple[Finding, ...]


def choose(time: FloatArray, values: FloatArray, *, law: str | Law | None, weighting: str, unit: str) -> Chosen:
    """Fit one law or choose among all.

    Raises
    ------
    FitError
        When no law has that name, or none can be fitted.
    """
    findings: tuple[Finding, ...] = ()
    if weighting == "relative" and not (values > 0.0).all():
        weighting = "absolute"
        reason = "points at zero or below have no relative weight: all points weigh alike"
        findings = (Finding(check="weighting", severity="info", reason=reason, source="recovery step"),)
    comparison = None
    if law is None:
        laws = [_in_unit(one, unit) for one in (UNCHANGED, *RECOVERY_LAWS)]
        # Every one of them has a grid over all its decades; where a descent does not arrive, the points ask for no such law.
        comparison = compare_laws(time, values, laws, weighting=weighting, other_solvers=False)
        fit = _simplest(comparison)
    else:
        fit = fit_law(time, values, _in_unit(_named(law), unit), weighting=weighting, other_solvers=None if isinstance(law, Law) else False)
    widening, more = _memory(fit)
    misfit = _misfit(fit)
    return Chosen(
        fit=fit,
        comparison=comparison,
        rivals=_rivals(comparison) if comparison is not None else (),
        widening=widening,
        misfit=str(misfit[0]) if misfit else "",
        findings=findings + _of_the_curve(fit) + more + misfit,
    )


def _simplest(comparison: Comparison[Fit]) -> Fit:
    """Return the fit of the fewest parameters among those that the points do not tell from the best.

    Points that remember one another say less than they count: differences are held against as much more (see `_penalty`).
    """
    most = DISTINGUISHABLE * _penalty(comparison)
    level = [one for one in comparison.ranked if one.difference < most and one.fit is not None]
    fewest = min(level, key=lambda one: (one.parameters, one.aicc), default=None)
    return comparison.best if fewest is None or fewest.fit is None else fewest.fit


def _penalty(comparison: Comparison[Fit]) -> float:
    """Return the factor by which the memory of the points swells a sum of squares, at least 1, by the law of the lowest AICc.

    References
    ----------
    Burnham & Anderson, Model Selection and Multimodel Inference (2002), section 2.5, for the criterion over such a factor (from memory).
    """
    return _memory(comparison.best)[0] ** 2


def _rivals(comparison: Comparison[Fit]) -> tuple[tuple[float, Fit], ...]:
    """Return the laws that have a say, with their weights, which add up to 1."""
    penalty = _penalty(comparison)
    heard = [(math.exp(-0.5 * one.difference / penalty), one.fit) for one in comparison.ranked if one.fit is not None]
    heard = [(weight, fit) for weight, fit in heard if weight >= _HEARD]
    whole = math.fsum(weight for weight, _ in heard)
    return tuple((weight / whole, fit) for weight, fit in heard)


def _of_the_curve(fit: Fit) -> tuple[Finding, ...]:
    """Return what a fit saw of the whole curve; what it saw of single parameters matters to nobody who reads off the curve."""
    return tuple(finding for finding in fit.findings if not finding.check.startswith("parameter"))


def _named(law: str | Law) -> Law:
    if isinstance(law, Law):
        if "plateau_value" not in law.names:
            raise FitError(f"law: {printable(law.name)} has no parameter 'plateau_value', so nobody knows where its recovery ends")
        return law
    found = next((one for one in RECOVERY_LAWS if one.name == law), None)
    if found is None:
        raise FitError(
            f"law: unknown {printable(law)!r}; the laws are {', '.join(one.name for one in RECOVERY_LAWS)}; any Law serves as well"
        )
    return found


def _in_unit(law: Law, unit: str) -> Law:
    """Return the law with the unit of what is tracked; of two processes neither may fall, or noise would be taken for one."""
    parameters = tuple(
        replace(one, unit=unit, lower=0.0 if one.name.endswith("_part") else one.lower) if one.name in _OWN_UNIT else one
        for one in law.parameters
    )
    return replace(law, parameters=parameters)


def _misfit(fit: Fit) -> tuple[Finding, ...]:
    """Say that the points lie farther from the law than from their neighbours: then no noise explains it."""
    if fit.spread.scale == 0.0 or fit.x.size < _ENOUGH:
        return ()
    order = np.argsort(fit.x, kind="stable")
    seen = scatter_about_neighbours(fit.x[order], (fit.residuals / fit.deviations)[order])
    ratio = float(fit.spread.scale) / seen[0] if seen is not None and seen[0] > 0.0 else math.nan
    if not ratio > MISSES:
        return ()
    reason = (
        f"the {fit.law.name.replace('_', ' ')} law misses the curve: its points lie {number(ratio, 2)} times as far from it as from their "
        f"neighbours (limit {number(MISSES, 1)}); look at the figure, or name another law"
    )
    return (Finding(check="misfit", severity="caution", reason=reason, value=ratio, limit=MISSES, unit="1"),)


def _memory(fit: Fit) -> tuple[float, tuple[Finding, ...]]:
    """Return by what errors are widened where a residual resembles the one before it, and what is said of it.

    The variance of a mean of many points that remember one another is 1 + 2 Σ r_k times that of independent ones. The sum runs over
    pairs of lags as long as these are positive. Two standard errors of the autocorrelation of white noise, 1/√N each, are the limit.

    References
    ----------
    Bartlett, J. R. Stat. Soc. 98 (1935) 536; where the sum ends: Geyer, Statist. Sci. 7 (1992) 473 (both from memory).
    """
    if fit.spread.scale == 0.0:
        return 1.0, ()
    residuals = (fit.residuals / fit.deviations)[np.argsort(fit.x, kind="stable")]
    chance, limit = runs_probability(residuals), 2.0 / math.sqrt(residuals.size)
    whole = float(residuals @ residuals)
    memory = [float(residuals[lag:] @ residuals[: residuals.size - lag]) / whole for lag in range(residuals.size // 4 * 2)]
    if memory[1] <= limit:
        return 1.0, _streaks(chance) if chance < STREAKS else ()
    pairs = np.add(memory[::2], memory[1::2])
    ends = int(np.argmax(pairs <= 0.0)) if (pairs <= 0.0).any() else pairs.size
    widening = math.sqrt(max(2.0 * float(pairs[:ends].sum()) - 1.0, 1.0))
    reason = (
        f"neighbouring points resemble one another beyond the law (autocorrelation {number(memory[1], 2)}, limit {number(limit, 2)}): "
        f"noise with a memory, or a curve of another shape; every standard error is widened by {number(widening, 3)}"
    )
    return widening, (Finding(check="correlated_residuals", severity="caution", reason=reason, value=memory[1], limit=limit, unit="1"),)


def _streaks(chance: float) -> tuple[Finding, ...]:
    reason = f"residuals go in streaks (p = {number(chance, 2)}): the curve may have another shape"
    return (Finding(check="residuals_in_streaks", severity="info", reason=reason, value=chance, limit=STREAKS, unit="1"),)
