"""Choosing between laws: all of them fitted to one curve under one weighting, ranked by what they would say about new points.

Sources: Akaike weights and "not distinguishable" below a difference of 2, Burnham & Anderson, Model Selection and Multimodel Inference
(2002), sections 2.6 and 2.9 (from memory); small samples, Hurvich & Tsai, Biometrika 76 (1989) 297 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import HasFlow
from rheokit.base.errors import ComparisonError, FitError
from rheokit.base.look import HUES, INK, SOFT, TINT, dress, plain
from rheokit.base.show import Table, number, resolve_axes
from rheokit.fitting.fit import fit_flow_curve, fit_law, model_of
from rheokit.fitting.result import Fit, FlowFit
from rheokit.fitting.slope import ROUNDING
from rheokit.fitting.weighting import Scale
from rheokit.law import Law
from rheokit.models import MODELS
from rheokit.statistics.runs import runs_probability

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["DISTINGUISHABLE", "STREAKS", "Candidate", "Comparison", "compare_laws", "compare_models"]

Kind = TypeVar("Kind", bound=Fit)

DISTINGUISHABLE = 2.0
"""Difference of AICc below which two laws are not told apart: their Akaike weights then differ by less than a factor of e."""
STREAKS = 0.05
"""Probability of so few runs by chance below which residuals count as going in streaks."""
_LIKELIHOOD = {
    "estimated": "Gaussian likelihood under these deviations, their common scale estimated and counted; AICc by Hurvich & Tsai",
    "known": "Gaussian likelihood under the deviations given; AICc by Hurvich & Tsai",
}
# Residuals of data that lie on a curve to rounding are no measure of anything: they count as this large, relative.
_PERFECT = 64.0 * ROUNDING


@dataclass(frozen=True, kw_only=True, eq=False)
class Candidate(Carried, Generic[Kind]):
    """One law in a comparison.

    Attributes
    ----------
    name
        Of the law.
    fit
        What it found, or None where there is no fit.
    parameters
        How many are estimated, the scale of the deviations among them where the residuals give it.
    aicc, difference, weight
        Akaike's criterion for small samples, its excess over the best, and the Akaike weight; NaN where it is not ranked.
    runs
        Probability of so few runs of residuals of one sign by chance; NaN without a fit.
    reason
        Why it is not ranked, or nothing.
    """

    name: str
    fit: Kind | None
    parameters: int
    aicc: float = math.nan
    difference: float = math.nan
    weight: float = math.nan
    runs: float = math.nan
    reason: str = ""

    @property
    def remark(self) -> str:
        """What is to be known about it, in words."""
        if self.reason:
            return f"not ranked: {self.reason}"
        said = []
        if self.runs < STREAKS:
            said.append(f"residuals go in streaks (p = {number(self.runs, 2)}): the curve has another shape")
        if self.fit is not None:
            said += [f"{name.replace('_', ' ')} not determined" for name, held in self.fit.parameters.items() if not held.determined]
        return "; ".join(said)


@dataclass(frozen=True, kw_only=True, eq=False)
class Comparison(Carried, Generic[Kind]):
    """Laws fitted to the same points, the best first, those not ranked last.

    Attributes
    ----------
    candidates
        All laws, losers included.
    points
        How many were fitted.
    weighting
        In words; only laws under one and the same weighting are compared.
    likelihood
        That on which the criterion rests, in words.
    """

    candidates: tuple[Candidate[Kind], ...]
    points: int
    weighting: str
    likelihood: str

    @property
    def ranked(self) -> tuple[Candidate[Kind], ...]:
        """The laws that could be ranked, best first."""
        return tuple(candidate for candidate in self.candidates if not candidate.reason)

    @property
    def best(self) -> Kind:
        """The fit of the law with the lowest AICc.

        Raises
        ------
        ComparisonError
            When no law could be ranked; the message says why.
        """
        for candidate in self.ranked:
            if candidate.fit is not None:
                return candidate.fit
        reasons = "; ".join(f"{candidate.name}: {candidate.reason}" for candidate in self.candidates)
        raise ComparisonError(f"no law could be ranked ({reasons})")

    @property
    def conclusion(self) -> str:
        """What the comparison says, in a sentence or two."""
        if not self.ranked:
            return "no law could be ranked"
        first, *rest = self.ranked
        level = [_words(candidate.name) for candidate in rest if candidate.difference < DISTINGUISHABLE]
        said = f"{_words(first.name)} describes these points best"
        if level:
            said += f", but is not distinguishable from {' and '.join(level)} (AICc differs by less than {number(DISTINGUISHABLE, 1)})"
        if first.runs < STREAKS:
            said += "; even its residuals go in streaks, so none of these laws has the shape of the curve"
        return said

    def table(self) -> Table:
        """Return all laws, the best first, with what is to be known about each."""
        rows = tuple(
            (
                _words(one.name),
                str(one.parameters),
                *(_shown(value) for value in (one.aicc, one.difference)),
                *(_share(value) for value in (one.weight, one.runs)),
                one.remark,
            )
            for one in self.candidates
        )
        numbers = ("estimated", "AICc", "difference", "Akaike weight", "runs test p")
        notes = (self.conclusion, f"{self.points} points; {self.weighting}", self.likelihood)
        return Table(title="laws compared", columns=("law", *numbers, "remark"), rows=rows, notes=notes, right=numbers)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw how much worse each ranked law is than the best, on the axes given or new ones, and return the axes."""
        ax = resolve_axes(ax)
        dress(ax)
        ranked = self.ranked
        places = np.arange(len(ranked))
        ax.axvspan(0.0, DISTINGUISHABLE, color=HUES[0], alpha=TINT, linewidth=0.0, zorder=0)
        ax.set_xscale("symlog", linthresh=10.0)
        for place, one in zip(places, ranked, strict=True):
            hue = HUES[0] if one.difference < DISTINGUISHABLE else SOFT
            ax.plot([0.0, one.difference], [place, place], color=hue, linewidth=1.2, zorder=1)
            ax.plot(one.difference, place, "o", markersize=7, markerfacecolor="white", markeredgecolor=INK, zorder=3)
            ax.annotate(
                f"weight {_share(one.weight)}", (one.difference, float(place)), xytext=(9.0, 0.0), textcoords="offset points",
                verticalalignment="center", fontsize="small", color=INK,
            )  # fmt: skip
        ax.set_yticks(places, [_words(one.name) for one in ranked])
        ax.invert_yaxis()
        ax.grid(visible=False, axis="y")
        ax.xaxis.set_major_formatter(lambda value, _: plain(value))
        ax.set_xlabel(f"AICc above the best (tint: not distinguishable, below {number(DISTINGUISHABLE, 1)})")
        return ax


def compare_models(
    curve: HasFlow,
    *,
    models: Iterable[str | Law] | None = None,
    weighting: str | ArrayLike = "relative",
    floor: float = 0.0,
    scale: Scale = "estimated",
) -> Comparison[FlowFit]:
    """Fit several laws to one flow curve under one weighting and rank them by AICc.

    A law is not ranked when its fit did not converge, or when there are no more points than its estimated numbers and one.

    Parameters
    ----------
    curve
        Anything with `shear_rate` [1/s] and `shear_stress` [Pa], both (N,).
    models
        Names or Laws; all in `MODELS` when left out.
    weighting, floor, scale
        As in `fit_flow_curve`, the same for all. Under relative weights the likelihood is Gaussian with standard deviations in
        proportion to each law's own fitted stress, so that the logarithms of these belong to it.

    Returns
    -------
    Comparison
        All laws with criterion, weight and runs test, losers shown.

    Raises
    ------
    FitError
        When there is no law to compare, or the weighting or the points make no sense for any of them.
    """
    laws = [model_of(model) for model in (MODELS.values() if models is None else models)]
    if not laws:
        raise FitError("models is empty; name at least one, or leave it out to compare all")
    return _compared(laws, lambda law: fit_flow_curve(curve, law, weighting=weighting, floor=floor, scale=scale), scale)


def compare_laws(
    x: ArrayLike,
    y: ArrayLike,
    laws: Iterable[Law],
    *,
    weighting: str | ArrayLike = "absolute",
    floor: float = 0.0,
    scale: Scale = "estimated",
    other_solvers: bool | None = None,
) -> Comparison[Fit]:
    """Fit several laws to the same points under one weighting and rank them by AICc, as `compare_models` does for flow curves.

    Parameters
    ----------
    x
        Shape (N,).
    y
        Shape (N,).
    laws
        At least one, each with a guess.
    weighting, floor, scale, other_solvers
        As in `fit_law`, the same for all.

    Returns
    -------
    Comparison
        All laws with criterion, weight and runs test, losers shown.

    Raises
    ------
    FitError
        When there is no law to compare, or the weighting or the points make no sense for any of them.
    """
    held = list(laws)
    if not held:
        raise FitError("laws is empty; name at least one")
    return _compared(
        held, lambda law: fit_law(x, y, law, weighting=weighting, floor=floor, scale=scale, other_solvers=other_solvers), scale
    )


def _compared(laws: Sequence[Law], fit: Callable[[Law], Kind], scale: Scale) -> Comparison[Kind]:
    """Fit every law and rank those that can be ranked; the first refusal is raised where no law can be fitted."""
    candidates: list[Candidate[Kind]] = []
    refusals: list[FitError] = []
    for law in laws:
        try:
            found = fit(law)
        except FitError as error:
            refusals.append(error)
            candidates.append(Candidate(name=law.name, fit=None, parameters=len(law.names) + (scale != "known"), reason=str(error)))
        else:
            candidates.append(_candidate(found))
    fits = [one.fit for one in candidates if one.fit is not None]
    if not fits:
        raise refusals[0]
    text, points = fits[0].weighting.text, fits[0].y.size
    return Comparison(candidates=_ranked(candidates), points=points, weighting=text, likelihood=_LIKELIHOOD[scale])


def _candidate(fit: Kind) -> Candidate[Kind]:
    """Return a fit with its criterion, where it has one."""
    known = fit.weighting.scale == "known"
    count, points = int(fit.request.free.sum()) + (not known), fit.y.size
    order = np.argsort(fit.x, kind="stable")
    runs = runs_probability(np.round(fit.residuals / fit.deviations / _PERFECT)[order])
    reason = ""
    if not fit.converged:
        reason = "the fit did not converge"
    elif points <= count + 1:
        reason = f"{points} points are too few for {count} estimated numbers"
    aicc = math.nan
    if not reason:
        aicc = _deviance(fit) + 2.0 * count + 2.0 * count * (count + 1) / (points - count - 1)
    return Candidate(name=fit.law.name, fit=fit, parameters=count, aicc=aicc, runs=runs, reason=reason)


def _deviance(fit: Fit) -> float:
    """Return minus twice the logarithm of the greatest likelihood under Gaussian deviations."""
    points, weighted = fit.y.size, fit.y / fit.deviations
    logarithms = 2.0 * float(np.log(fit.deviations).sum()) + points * math.log(2.0 * math.pi)
    if fit.weighting.scale == "known":
        return fit.sum_of_squares + logarithms
    # Points that are all zero leave no scale at all to hold a perfect fit against.
    squares = max(fit.sum_of_squares, _PERFECT**2 * float(weighted @ weighted), float(np.finfo(np.float64).tiny))
    return points * (math.log(squares / points) + 1.0) + logarithms


def _ranked(candidates: Sequence[Candidate[Kind]]) -> tuple[Candidate[Kind], ...]:
    """Return the candidates, best first and those not ranked last, with their differences and weights."""
    counted = sorted((one for one in candidates if not one.reason), key=lambda one: one.aicc)
    if not counted:
        return tuple(candidates)
    differences = [one.aicc - counted[0].aicc for one in counted]
    total = math.fsum(math.exp(-0.5 * difference) for difference in differences)
    placed = [
        Candidate(**{**vars(one), "difference": difference, "weight": math.exp(-0.5 * difference) / total})
        for one, difference in zip(counted, differences, strict=True)
    ]
    return (*placed, *(one for one in candidates if one.reason))


def _words(name: str) -> str:
    return name.replace("_", " ")


def _shown(value: float) -> str:
    if math.isnan(value):
        return "none"
    return f"{value:.3f}" if abs(value) < 10.0 else f"{value:.1f}"


def _share(value: float) -> str:
    return "none" if math.isnan(value) else "<0.001" if value < 0.001 else f"{value:.3f}"
