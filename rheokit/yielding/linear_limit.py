"""Limit of the linear range: the strain at which the storage modulus has lost a stated part of its plateau."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.errors import FitError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.finding import Finding
from rheokit.base.look import HUES
from rheokit.base.run import Step
from rheokit.base.show import number
from rheokit.fitting import Fit, fit_law
from rheokit.law import Array, Law, Parameter
from rheokit.statistics.runs import runs_probability
from rheokit.yielding.drawing import stress_line
from rheokit.yielding.reading_off import not_determined, positive, stated
from rheokit.yielding.sweep import Sweep, SweepReading, sweep_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["SOFTENING", "LinearLimit", "linear_limit"]

SEEN = 0.7
"""The law is fitted to the points before G′ first falls below this part of its highest: it is the beginning of the fall that counts,
and any smooth fall begins as a power of the strain (our own setting)."""

_LEAST_BELOW, _LEAST_REACH, _FEWEST, _STREAKS = 3, 2.0, 6, 0.01


def modulus(strain: Array, plateau_modulus: Array | complex, half_strain: Array | complex, steepness: Array | complex) -> Array:
    """Return the storage modulus [Pa] at strain amplitudes."""
    return plateau_modulus / (1.0 + (strain / half_strain) ** steepness)


def jacobian(strain: Array, plateau_modulus: float, half_strain: float, steepness: float) -> Array:
    """Return the derivatives by the parameters."""
    power = (strain / half_strain) ** steepness
    share = power / (1.0 + power) ** 2
    by_half = plateau_modulus * share * steepness / half_strain
    return np.stack([1.0 / (1.0 + power), by_half, -plateau_modulus * share * np.log(strain / half_strain)], axis=-1)


def basis(strain: Array, half_strain: float, steepness: float) -> Array:
    """Return what the plateau modulus multiplies."""
    return np.asarray(1.0 / (1.0 + (strain / half_strain) ** steepness))[..., None]


def guess(strain: Array, storage: Array) -> dict[str, float]:
    """Return the highest modulus and a fall that begins at the last point."""
    part = min(max(float(storage.max() / storage[-1]) - 1.0, 1e-3), 10.0)
    return {"plateau_modulus": float(storage.max()), "half_strain": float(strain[-1]) / part ** (1.0 / 1.5), "steepness": 1.5}


SOFTENING = Law(
    name="softening",
    formula=r"G' = G'_0 / (1 + (\gamma/\gamma_h)^a)",
    parameters=(
        Parameter("plateau_modulus", symbol="G'_0", unit="Pa", lower=0.0, meaning="storage modulus at the smallest strains"),
        Parameter("half_strain", symbol=r"\gamma_h", unit="", lower=0.0, meaning="strain at which it would have fallen to half"),
        Parameter("steepness", symbol="a", unit="", lower=0.2, upper=8.0, meaning="how suddenly it falls"),
    ),
    value=modulus,
    jacobian=jacobian,
    guess=guess,
    linear=("plateau_modulus",),
    basis=basis,
    source="our own choice of a form: its beginning is a power of the strain, as that of any smooth fall",
)
"""Storage modulus over strain amplitude, at the beginning of its fall."""


@dataclass(frozen=True, kw_only=True, eq=False)
class LinearLimit(SweepReading):
    """The limit of the linear range: stress [Pa] and strain, and the fit it was read from."""

    fit: Fit

    @property
    def limit_strain(self) -> Estimate:
        """The strain at the limit."""
        return self.estimates[1]

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw both moduli, the fit and the limit on the axes given, else on a new figure, and return the axes."""
        ax = self._panel(ax)
        at = np.geomspace(self.fit.x.min(), self.fit.x.max(), 200)
        ax.plot(at, self.fit.value(at), color=HUES[0], linewidth=2.0, zorder=4)
        stress_line(ax, self.limit_strain, HUES[3], place=0.12)
        return ax


def linear_limit(step: Step, *, tolerance: float = 0.05, rest: float | None = None) -> LinearLimit:
    """Return the limit of the linear range of an amplitude sweep.

    Parameters
    ----------
    step
        With `shear_strain`, `storage_modulus` [Pa] and `loss_modulus` [Pa].
    tolerance
        Part of its plateau that the storage modulus has lost at the limit, between 0 and 0.25.
    rest
        How long the sample rested before [s].

    Returns
    -------
    LinearLimit
        Not determined, with the bound that the data give, where the modulus does not fall so far or shows no plateau.

    Raises
    ------
    FitError
        When there are too few points, the modulus never changes, or the tolerance is out of range.
    """
    if not 0.0 < tolerance <= 0.25:
        raise FitError(f"the tolerance of the linear range lies between 0 and 0.25, not {tolerance!r}")
    sweep = sweep_of(step)
    seen = _beginning(sweep)
    if np.ptp(sweep.storage) == 0.0:
        last = number(float(sweep.strain[-1]), 3)
        raise FitError(f"the storage modulus is one number up to the last strain, {last}: its fall is not seen; sweep further")
    fit = fit_law(sweep.strain[:seen], sweep.storage[:seen], SOFTENING, weighting="relative", other_solvers=False)
    conditions = {**stated("amplitude sweep, linear limit", rest=rest), "tolerance": Condition(value=tolerance, unit="1")}
    words = (
        f"storage modulus {number(100.0 * tolerance, 2)} % below its plateau, by a law of its beginning fall through {seen} points; "
        "error from their scatter about it"
    )
    estimates = _estimates(sweep, fit, tolerance, conditions, words)
    findings = (*estimates[0].findings, *_misfit(fit))
    return LinearLimit(
        estimates=(replace(estimates[0], findings=findings), estimates[1]), findings=findings, strain=sweep.strain, storage=sweep.storage,
        loss=sweep.loss, fit=fit,
    )  # fmt: skip


def _beginning(sweep: Sweep) -> int:
    """Return how many points come before G′ first falls below SEEN of its highest, by medians of three."""
    padded = np.concatenate([sweep.storage[:1], sweep.storage, sweep.storage[-1:]])
    medians = np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0)
    fallen = np.flatnonzero((medians < SEEN * medians.max()) & (np.arange(medians.size) > np.argmax(medians)))
    return max(_FEWEST, int(fallen[0]) if fallen.size else medians.size)


def _estimates(sweep: Sweep, fit: Fit, tolerance: float, conditions: dict[str, Condition], words: str) -> tuple[Estimate, Estimate]:
    _, half, steepness = (float(value) for value in fit.values)
    lost = tolerance / (1.0 - tolerance)
    limit = half * lost ** (1.0 / steepness) if half > 0.0 else math.inf
    first, last = float(sweep.strain[0]), float(sweep.strain[-1])
    reason, low, high = _why_not(sweep, limit, fit, tolerance)
    inside = min(max(limit, first), last)
    log_stress = np.interp(math.log(inside), np.log(sweep.strain), np.log(sweep.stress))
    if reason:
        ends = (_stress_at(sweep, low), math.inf if math.isinf(high) else _stress_at(sweep, high))
        common = {"reason": reason, "method": words, "conditions": conditions}
        return (
            not_determined("linear_limit_stress", math.exp(log_stress), "Pa", lower=ends[0], upper=ends[1], **common),  # type: ignore[arg-type]
            not_determined("linear_limit_strain", inside, "1", lower=low, upper=high, **common),  # type: ignore[arg-type]
        )
    by = np.array([0.0, 1.0 / half, -math.log(lost) / steepness**2])
    variance = float(by @ fit.covariance @ by)
    freedom = float(fit.degrees_of_freedom)
    # The stress goes as the strain here, and its own reading adds the scatter of a point of the curve through two.
    stress_error = math.sqrt(variance + 0.5 * fit.spread.scale**2)
    return tuple(
        positive(name, value, unit, relative_error=error, degrees_of_freedom=freedom, method=words, conditions=conditions)
        for name, value, unit, error in (
            ("linear_limit_stress", math.exp(log_stress), "Pa", stress_error),
            ("linear_limit_strain", limit, "1", math.sqrt(variance)),
        )
    )  # type: ignore[return-value]  # two of them


def _stress_at(sweep: Sweep, strain: float) -> float:
    """Return the stress [Pa] at a strain, that of the nearest point beyond the ends, nothing at no strain."""
    return 0.0 if strain <= 0.0 else float(np.exp(np.interp(math.log(strain), np.log(sweep.strain), np.log(sweep.stress))))


def _why_not(sweep: Sweep, limit: float, fit: Fit, tolerance: float) -> tuple[str, float, float]:
    """Return why there is no limit, or nothing, and the bounds on its strain that the points give."""
    first, last = float(sweep.strain[0]), float(sweep.strain[-1])
    if not limit < last:
        part = number(100.0 * tolerance, 2)
        return f"the storage modulus does not fall by {part} % up to the last strain, {number(last, 3)}; sweep further", last, math.inf
    if limit < _LEAST_REACH * first or int((sweep.strain < limit).sum()) < _LEAST_BELOW:
        return f"no plateau is seen: the modulus falls from the first strain on, {number(first, 3)}; begin lower", 0.0, max(limit, first)
    if fit.spread.scale > tolerance:
        said = f"a point scatters by {fit.spread.scale:.1%}, more than the {tolerance:.0%} that are looked for"
        return said, 0.0, math.inf
    if not np.isfinite(fit.covariance).all():
        return "the points do not determine where the modulus begins to fall", 0.0, math.inf
    return "", 0.0, math.inf


def _misfit(fit: Fit) -> tuple[Finding, ...]:
    chance = runs_probability(fit.residuals)
    if chance >= _STREAKS:
        return ()
    said = "the storage modulus does not fall as the law does (its residuals go in streaks): the limit depends on the law"
    return (Finding(check="law_does_not_follow", severity="caution", reason=said, value=chance, limit=_STREAKS, unit="1"),)
