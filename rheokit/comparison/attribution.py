"""Why a batch differs from its standard: causes that a chemist can act on, told apart only as far as the flow curve can.

Each cause changes the flow curve in its own shape. Causes of one shape are one class: nothing in the curve tells them apart, and what
would is said. A cause is named only when every other explains the difference clearly worse.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, FlowCurve
from rheokit.base.errors import FitError
from rheokit.base.show import Table
from rheokit.comparison.curve_ratio import CurveRatio
from rheokit.fitting import fit_flow_curve
from rheokit.statistics.student import chi_square_above, student_quantile

__all__ = ["CAUSES", "CLEARLY_WORSE", "Attribution", "Cause", "attribute"]

CLEARLY_WORSE = 5.0
"""By how much chi-square must rise with the next cause before one is named: a wrong name then needs 2.2 standard deviations."""
SEEN = 0.05
"""Probability below which a difference counts as seen, and an explanation as failed (a hundredth of it for the latter)."""
_FAILED = 0.005
GAS_CONSTANT = 8.314462618
_INEXACT, _ALIKE = 0.10, 0.5
"""By what share of the difference a shape may miss, and over how many decades it misses alike (our own setting)."""
_LEAST_PART = 0.01
_TURNS = 30
_LARGEST = {"%": 95.0, "K": 60.0}
"""Sizes beyond which a cause is not followed."""


@dataclass(frozen=True, kw_only=True)
class Cause:
    """A class of causes with one shape: what they are, the unit of their size, and the measurement that tells its members apart."""

    name: str
    members: str
    unit: str
    separate: str


_LIST = (
    Cause(
        name="level",
        members="solids or let-down; cone trim or gap",
        unit="%",
        separate="read the check oil (trim, gap) and measure solids; reload once",
    ),
    Cause(
        name="temperature",
        members="sample temperature",
        unit="K",
        separate="read the sample's temperature with a probe; repeat after a soak",
    ),
    Cause(
        name="network",
        members="gellant network (yield part)",
        unit="%",
        separate="compare the yield stress by creep or stress ramp, and the recovery",
    ),
    Cause(
        name="vehicle",
        members="vehicle viscosity (high-rate plateau)",
        unit="%",
        separate="measure the vehicle alone, or higher rates",
    ),
)
CAUSES: Mapping[str, Cause] = MappingProxyType({cause.name: cause for cause in _LIST})
"""The causes, each listed once."""


@dataclass(frozen=True, kw_only=True)
class _Explained:
    """One cause fitted alone: size in its unit, standard error, and the chi-square that it leaves."""

    cause: Cause
    size: float
    standard_error: float
    left: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Attribution(Carried):
    """What the difference from the standard looks like.

    Attributes
    ----------
    verdict
        `no difference`, `named`, `cannot tell` or `none of these`.
    named
        The cause, where one is named.
    candidates
        Causes that explain the difference about as well, the best first.
    size, interval
        Of the best one in its unit, 95 %.
    seen
        Probability of so large a difference by chance.
    explained
        Cause to the chi-square it leaves, and its size; all of them, losers shown.
    sentence
        Plain words, with the measurement that would tell more.
    """

    verdict: str
    named: Cause | None
    candidates: tuple[Cause, ...]
    size: float
    interval: tuple[float, float]
    seen: float
    explained: tuple[tuple[str, float, float, float], ...]
    sentence: str

    def table(self) -> Table:
        """Return the causes as a table, the best first."""
        rows = tuple(
            (name, CAUSES[name].members, f"{size:+.3g} ± {error:.2g} {CAUSES[name].unit}", f"{left:.1f}")
            for name, size, error, left in self.explained
        )
        columns = ("cause", "what it may be", "size if it is this alone", "chi-square left")
        return Table(title="why it differs", columns=columns, rows=rows, notes=(self.sentence,), right=columns[2:])

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def attribute(ratio: CurveRatio, *, temperature: float = 296.15, activation_energy: float = 50e3, yield_scale: float = 60.0) -> Attribution:
    """Return which single cause the difference from the standard looks like.

    Parameters
    ----------
    ratio
        Batch over standard along the flow curve.
    temperature
        [K] of the measurement.
    activation_energy, yield_scale
        [J/mol] of the viscous part and [K] of the yield part of a gel ink: defaults are common practice, no source; give the ink's own.

    Raises
    ------
    FitError
        When the standard's curve cannot be divided into its parts.
    """
    effects = _effects(ratio, temperature, activation_energy, yield_scale)
    inverse = np.linalg.inv(ratio.covariance)
    whole = float(ratio.log_ratio @ inverse @ ratio.log_ratio)
    seen = chi_square_above(whole, ratio.log_ratio.size)
    # The parts of the standard's curve are a law's, so every shape is only nearly right: the larger the difference, the more it may miss.
    loose = np.asarray(np.linalg.inv(ratio.covariance + _inexact(ratio)), dtype=np.float64)
    left = float(ratio.log_ratio @ loose @ ratio.log_ratio)
    tried = sorted((_explain(CAUSES[name], effect, ratio, loose) for name, effect in effects.items()), key=lambda one: one.left)
    best = tried[0]
    reach = student_quantile(0.975, ratio.degrees_of_freedom) * best.standard_error
    candidates = tuple(one.cause for one in tried if one.left - best.left < CLEARLY_WORSE)
    failed = chi_square_above(best.left, ratio.log_ratio.size - 1) < _FAILED
    verdict = "no difference" if seen > SEEN and left - best.left < CLEARLY_WORSE else "none of these" if failed else (
        "named" if len(candidates) == 1 else "cannot tell")  # fmt: skip
    interval = (best.size - reach, best.size + reach)
    return Attribution(
        verdict=verdict,
        named=best.cause if verdict == "named" else None,
        candidates=candidates,
        size=best.size,
        interval=interval,
        seen=seen,
        explained=tuple((one.cause.name, one.size, one.standard_error, one.left) for one in tried),
        sentence=_sentence(verdict, best, interval, candidates),
    )


Effect = Callable[[float], FloatArray]
"""Size of a cause in its unit to ln of the stress it makes over that of the standard, (N,)."""


def _effects(ratio: CurveRatio, temperature: float, energy: float, scale: float) -> dict[str, Effect]:
    """Return what each cause of a size does to the standard's curve, from the parts of that curve."""
    fit = fit_flow_curve(FlowCurve(ratio.shear_rate, ratio.standard), "herschel_bulkley_plateau")
    values = {name: estimate.value for name, estimate in fit.parameters.items()}
    whole = fit.stress(ratio.shear_rate)
    yielding = values["yield_stress"] / whole
    plateau = values["infinite_shear_viscosity"] * ratio.shear_rate / whole
    viscous = 1.0 - yielding
    if not yielding.max() > 0.0:
        raise FitError("the standard's curve shows no yield stress: a network cannot be told from a vehicle; measure lower rates")
    thinned = plateau if plateau.max() > _LEAST_PART else viscous

    def warmed(kelvin: float) -> FloatArray:
        factor = np.exp(energy / GAS_CONSTANT * (1.0 / (temperature + kelvin) - 1.0 / temperature))
        return np.asarray(np.log(yielding * np.exp(-kelvin / scale) + viscous * factor))

    def part(share: FloatArray) -> Effect:
        # A part cannot fall below nothing.
        return lambda per_cent: np.log1p(np.maximum(0.01 * per_cent, -0.99) * share)

    return {"level": part(np.ones_like(whole)), "temperature": warmed, "network": part(yielding), "vehicle": part(thinned)}


def _inexact(ratio: CurveRatio) -> FloatArray:
    """Return the covariance of what shapes miss: a share of the difference itself, alike at neighbouring rates."""
    x = np.log10(ratio.shear_rate)
    alike = np.exp(-np.abs(x[:, None] - x[None, :]) / _ALIKE)
    return np.asarray(_INEXACT**2 * np.outer(ratio.log_ratio, ratio.log_ratio) * alike)


def _explain(cause: Cause, effect: Effect, ratio: CurveRatio, inverse: FloatArray) -> _Explained:
    """Fit the size of one cause alone by Gauss and Newton; each effect is nearly linear in it."""
    step = 1e-3 if cause.unit == "%" else 1e-4
    size, strength = 0.0, 1.0
    for _ in range(_TURNS):
        slope = (effect(size + step) - effect(size - step)) / (2.0 * step)
        strength = float(slope @ inverse @ slope)
        move = float(slope @ inverse @ (ratio.log_ratio - effect(size))) / strength
        reach = _LARGEST[cause.unit]
        size = float(np.clip(size + move, -reach, reach))
        if abs(move) < 1e-9:
            break
    rest = ratio.log_ratio - effect(size)
    return _Explained(cause=cause, size=size, standard_error=strength**-0.5, left=float(rest @ inverse @ rest))


def _sentence(verdict: str, best: _Explained, interval: tuple[float, float], candidates: tuple[Cause, ...]) -> str:
    amount = f"{best.size:+.2g} {best.cause.unit} (95 %: {interval[0]:+.2g} to {interval[1]:+.2g})"
    if verdict == "no difference":
        return "no difference from the standard is seen beyond the scatter of loads and points"
    if verdict == "none of these":
        return "the difference has the shape of none of these causes alone: look for two at once, or for a fault of the measurement"
    if verdict == "named":
        return f"the difference has the shape of {best.cause.members}: {amount}; within that, {best.cause.separate}"
    names = "; or ".join(cause.members for cause in candidates)
    return f"the curve cannot tell {names}; as {best.cause.members} it would be {amount}; to tell them apart: {candidates[0].separate}"
