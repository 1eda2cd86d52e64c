"""Which candidate to make next: the likeliest to meet every limit, and the one that would teach most; each with its reasons.

Both stay inside the region that was tried: a model says nothing beyond it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Estimate
from rheokit.base.show import Table, number
from rheokit.comparison.effect_terms import model_columns
from rheokit.comparison.effects import Effects
from rheokit.comparison.feasible import HardLimit

__all__ = ["NextCandidates", "Suggestion", "meeting_probability", "next_candidates"]

POINTS = 2000
"""Settings looked at, spread over the region."""
NEAR = (0.3, 0.1, 0.03)
"""How far from the best so far further settings lie, as a share of the way to those looked at before."""
DRAWS = 1000
APART = 0.25
"""How far a second suggestion lies from the first, in widths of the ranges: nearer, it would be the same recipe."""
WORTH_KNOWING = 0.05
"""Probability from which a setting counts to the region in which predictions are to be made sharper."""


@dataclass(frozen=True, kw_only=True)
class Suggestion(Carried):
    """One recipe to make: amounts or settings by name, why, how likely a run of it is to meet every limit, and every line predicted."""

    purpose: str
    setting: Mapping[str, float]
    reason: str
    probability: float
    predicted: Mapping[str, Estimate]


@dataclass(frozen=True, kw_only=True, repr=False)
class NextCandidates(Carried):
    """A few suggestions, the best first."""

    suggestions: tuple[Suggestion, ...]
    notes: tuple[str, ...]

    def table(self) -> Table:
        """Return the suggestions as a table."""
        names = tuple(self.suggestions[0].setting)
        lines = tuple(self.suggestions[0].predicted)
        rows = [
            (
                one.purpose,
                *(number(one.setting[name], 3) for name in names),
                *(_interval(one.predicted[line]) for line in lines),
                f"{one.probability:.2f}",
                one.reason,
            )
            for one in self.suggestions
        ]
        columns = ("make next", *names, *lines, "probability", "why")
        return Table(title="next candidates", columns=columns, rows=tuple(rows), notes=self.notes, right=columns[1:-1])

    def __str__(self) -> str:
        return str(self.table())

    __repr__ = __str__  # the fields themselves fill pages

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _interval(estimate: Estimate) -> str:
    held = estimate.interval
    assert held is not None  # a prediction carries one
    return f"{number(held.lower, 3)} to {number(held.upper, 3)}"


def next_candidates(
    models: Mapping[str, Effects],
    limits: Sequence[HardLimit],
    ranges: Mapping[str, tuple[float, float]] | None = None,
    *,
    seed: int = 0,
    points: int = POINTS,
) -> NextCandidates:
    """Suggest what to make next.

    Parameters
    ----------
    models
        Line to its model of effects; all over the same factors and runs.
    limits
        Hard limits of those lines.
    ranges
        Factor to (lowest, highest) that may be made; the tried range where not given.
    seed, points
        Of the settings that are looked at.

    Raises
    ------
    ComparisonError
        When models differ in their factors or runs, a limit has no model, or no setting in the ranges lies in the region that was tried.
    """
    first = _checked(models, limits)
    rng = np.random.default_rng(seed)
    settings = _settings(models, ranges or {}, rng, points)
    settings, probability = _closer(models, limits, settings, seed)
    best = int(np.argmax(_score(models, limits, settings, probability)))
    width = np.ptp(first.runs, axis=0) + 1e-12
    apart = (np.abs(settings - settings[best]) / width).max(axis=1) >= APART
    held = (models, limits, settings, probability)
    found = [_suggestion(held, best, "likeliest", "no setting that was looked at is likelier")]
    if apart.any():
        other = int(np.flatnonzero(apart)[np.argmax(probability[apart])])
        reason = f"the likeliest that differs by a quarter of a range or more; {probability[best] - probability[other]:.2f} less likely"
        found.append(_suggestion(held, other, "likeliest elsewhere", reason))
    region = settings[probability >= min(WORTH_KNOWING, float(probability.max()))]
    gained = _taught(models, settings, region)
    most = int(np.argmax(gained))
    reason = f"one run of it takes {100.0 * gained[most]:.0f} % off the mean variance of prediction where the limits may be met"
    found.append(_suggestion(held, most, "teaches most", reason))
    said = "probabilities are of one new run: the doubt of the model and the scatter of runs, lines correlated as their residuals are"
    kept = f"{len(settings)} settings inside the region that was tried were looked at (seed {seed})"
    return NextCandidates(suggestions=tuple(found), notes=(said, kept))


def _checked(models: Mapping[str, Effects], limits: Sequence[HardLimit]) -> Effects:
    if not models:
        raise ComparisonError("suggestions need at least one model of effects")
    first = next(iter(models.values()))
    for line, model in models.items():
        if model.factors != first.factors or model.runs.shape != first.runs.shape or not np.array_equal(model.runs, first.runs):
            raise ComparisonError(f"{line}: the models must rest on the same factors and runs")
        if not model.scatter > 0.0:
            raise ComparisonError(f"{line}: the model leaves no scatter, so nothing says how sure it is")
    without = [limit.line for limit in limits if limit.line not in models]
    if without or not limits:
        raise ComparisonError(f"no model of {', '.join(without) or 'anything'}; fit one for each limit")
    return first


def _settings(
    models: Mapping[str, Effects], ranges: Mapping[str, tuple[float, float]], rng: np.random.Generator, points: int
) -> FloatArray:
    """Return settings inside the ranges and the region that every model was fitted on, the tried runs among them."""
    first = next(iter(models.values()))
    unknown = [name for name in ranges if name not in first.factors]
    if unknown:
        raise ComparisonError(f"{', '.join(unknown)} is no factor; they are {', '.join(first.factors)}")
    ends = [ranges.get(name, (column.min(), column.max())) for name, column in zip(first.factors, first.runs.T, strict=True)]
    low, high = (np.array([end[side] for end in ends], dtype=np.float64) for side in (0, 1))
    if not np.all(low <= high):
        raise ComparisonError("a range ends below its beginning")
    low, high = np.maximum(low, first.runs.min(axis=0)), np.minimum(high, first.runs.max(axis=0))
    if first.model.startswith("mixture"):
        # Blends of tried mixtures close to one as they do.
        weights = rng.dirichlet(np.full(len(first.runs), 0.3), 4 * points)
        drawn = np.vstack([first.runs, weights @ first.runs])
    else:
        drawn = np.vstack([first.runs, low + np.clip(high - low, 0.0, None) * rng.random((4 * points, low.size))])
    allowed = ((drawn >= low - 1e-9) & (drawn <= high + 1e-9)).all(axis=1)
    for model in models.values():
        allowed &= model.inside(drawn)
    if not allowed.any():
        raise ComparisonError("no setting inside these ranges lies in the region that was tried; widen the ranges or make runs there")
    return np.asarray(drawn[allowed][:points])


def _closer(models: Mapping[str, Effects], limits: Sequence[HardLimit], settings: FloatArray, seed: int) -> tuple[FloatArray, FloatArray]:
    """Add settings ever nearer to the likeliest so far: on the way to others, so that ranges and a mixture's sum stay kept."""
    rng = np.random.default_rng(seed + 2)
    probability = meeting_probability(models, limits, settings, seed=seed)
    for step in NEAR:
        best = settings[int(np.argmax(_score(models, limits, settings, probability)))]
        others = settings[rng.integers(len(settings), size=300)]
        near = best + step * rng.random((300, 1)) * (others - best)
        near = near[np.all([model.inside(near) for model in models.values()], axis=0)]
        if len(near):
            settings = np.vstack([settings, near])
            probability = np.concatenate([probability, meeting_probability(models, limits, near, seed=seed)])
    return settings, probability


def _score(models: Mapping[str, Effects], limits: Sequence[HardLimit], settings: FloatArray, probability: FloatArray) -> FloatArray:
    """Return the probability and, among settings that the draws do not tell apart, the least distance to a limit in standard errors."""
    room = np.full(len(settings), np.inf)
    for limit in limits:
        model = models[limit.line]
        mean, variance = model.mean_and_variance(settings)
        for end, sign in zip(_ends(model, limit), (1.0, -1.0), strict=True):
            room = np.minimum(room, sign * (mean - end) / np.sqrt(variance + model.scatter**2))
    return np.asarray(probability + np.tanh(room / 4.0) / np.sqrt(DRAWS), dtype=np.float64)


def _ends(model: Effects, limit: HardLimit) -> tuple[float, float]:
    """Return the limits on the scale of the model."""
    if model.scale == "linear":
        return limit.lower, limit.upper
    low, high = (float(np.log(end)) if end > 0.0 else -np.inf for end in (limit.lower, limit.upper))
    return low, high


def meeting_probability(
    models: Mapping[str, Effects], limits: Sequence[HardLimit], settings: FloatArray, *, seed: int = 0, new_run: bool = True
) -> FloatArray:
    """Return the probability that a run at each setting (M, k) meets every limit, (M,).

    The lines are drawn together, correlated as the residuals of their models are, from Student's t of each model.
    """
    lines = [limit.line for limit in limits]
    held = [models[line] for line in lines]
    residuals = np.array([model.observed - model.fitted for model in held])
    correlation = np.atleast_2d(np.corrcoef(residuals)) if len(held) > 1 else np.ones((1, 1))
    correlation = 0.999 * correlation + 0.001 * np.eye(len(held))
    rng = np.random.default_rng(seed + 1)
    drawn = rng.standard_normal((DRAWS, len(held))) @ np.linalg.cholesky(correlation).T
    freedom = min(model.degrees_of_freedom for model in held)
    drawn = drawn / np.sqrt(rng.chisquare(freedom, DRAWS) / freedom)[:, None]
    met = np.ones((len(settings), DRAWS), dtype=bool)
    for index, (limit, model) in enumerate(zip(limits, held, strict=True)):
        met &= _met(model, limit, settings, drawn[:, index], new_run)
    return np.asarray(met.mean(axis=1), dtype=np.float64)


def _met(model: Effects, limit: HardLimit, settings: FloatArray, drawn: FloatArray, new_run: bool) -> NDArray[np.bool_]:
    mean, variance = model.mean_and_variance(settings)
    error = np.sqrt(variance + (model.scatter**2 if new_run else 0.0))
    low, high = _ends(model, limit)
    values = mean[:, None] + error[:, None] * drawn
    return np.asarray((values >= low) & (values <= high))


def _taught(models: Mapping[str, Effects], settings: FloatArray, region: FloatArray) -> FloatArray:
    """Return which share of the mean variance of prediction over a region one run at each setting takes away, (M,)."""
    taken, whole = np.zeros(len(settings)), 0.0
    for model in models.values():
        rows, _ = model_columns(settings, model.factors, model.model)
        there, _ = model_columns(region, model.factors, model.model)
        across = rows @ model.inverse @ there.T
        own = np.einsum("ij,jk,ik->i", rows, model.inverse, rows)
        # One more row x changes r'Vr by (r'Vx)^2 / (1 + x'Vx): Sherman and Morrison. Each line counts in units of its own scatter.
        taken += (across**2).mean(axis=1) / (1.0 + own)
        whole += float(np.einsum("ij,jk,ik->i", there, model.inverse, there).mean())
    return np.asarray(taken / whole)


def _suggestion(
    held: tuple[Mapping[str, Effects], Sequence[HardLimit], FloatArray, FloatArray], index: int, purpose: str, reason: str
) -> Suggestion:
    models, limits, settings, probability = held
    first = next(iter(models.values()))
    point = dict(zip(first.factors, (float(value) for value in settings[index]), strict=True))
    predicted = {limit.line: models[limit.line].predict(point) for limit in limits}
    return Suggestion(purpose=purpose, setting=point, reason=reason, probability=float(probability[index]), predicted=predicted)
