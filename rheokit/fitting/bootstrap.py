"""Bootstrap: what the parameters would have been with other scatter, by fitting resampled points again, all at once where the law allows.

Sources: residuals divided by the root of one less their leverage, Davison & Hinkley, Bootstrap Methods and their Application (1997),
section 6.2; percentile intervals, Efron & Tibshirani, An Introduction to the Bootstrap (1993), chapter 13 (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError, printable
from rheokit.base.estimate import Interval
from rheokit.base.finding import Finding
from rheokit.base.show import Table, number, value_and_error
from rheokit.fitting.bands import Band
from rheokit.fitting.engine import solve
from rheokit.fitting.fitted import Fitted
from rheokit.fitting.identify import extrapolation
from rheokit.fitting.many_chunk import solve_chunk
from rheokit.fitting.many_plan import Plan
from rheokit.fitting.request import BoolArray

__all__ = ["Bootstrap", "Kind", "bootstrap"]

Kind = Literal["residual", "case"]
"""`residual`: the scatter is dealt anew to the same x; `case`: whole points are drawn anew, which trusts neither law nor weights."""

_LEAST_REPEATS = 100
# Share of the fits that may fail before it is worth a word.
_MANY_FAILED = 0.02
# Least part of a residual that a point may keep from its own pull on the curve, so that one it follows closely is not divided by zero.
_LEAST_FREEDOM = 1e-3


@dataclass(frozen=True, kw_only=True, eq=False)
class Bootstrap(Carried):
    """The parameters of many resampled curves.

    Attributes
    ----------
    fitted
        The fit to the points as measured.
    draws
        Parameters in the order of the law, one row for each resampled curve whose fit arrived, (R, p).
    repeats
        How many curves were resampled.
    kind, seed
        How, and from which seed of numpy's generator.
    findings
        Fits that failed.
    """

    fitted: Fitted
    draws: FloatArray
    repeats: int
    kind: Kind
    seed: int
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        self.draws.setflags(write=False)

    def __getitem__(self, name: str) -> FloatArray:
        """Return the draws of one parameter, (R,)."""
        names = self.fitted.law.names
        if name not in names:
            raise FitError(f"{self.fitted.law.name} has no parameter {printable(name)!r}; it has {', '.join(names)}")
        if not self.fitted.request.free[names.index(name)]:
            raise FitError(f"{name} was fixed by the caller, so it has no draws")
        drawn: FloatArray = self.draws[:, names.index(name)]
        return drawn

    def standard_error(self, name: str) -> float:
        """Return the standard deviation of the draws of one parameter."""
        return float(np.std(self[name], ddof=1))

    def interval(self, name: str, level: float = 0.95) -> Interval:
        """Return the percentile interval of one parameter; it ends at a bound where draws lie there."""
        lower, upper = np.quantile(self[name], _tails(level), method="weibull")
        return Interval(lower=float(lower), upper=float(upper), level=level)

    def band(self, x: ArrayLike, level: float = 0.95) -> Band:
        """Return the percentile band of the curve at x, (N, …), point by point."""
        at, law = np.asarray(x, dtype=np.float64), self.fitted.law
        if law.broadcasts:
            curves = law.value(at, *(values[:, None] for values in self.draws.T))
        else:
            curves = np.stack([law.value(at, *point) for point in self.draws])
        lower, upper = np.quantile(curves, _tails(level), axis=0, method="weibull")
        return Band(lower=lower, upper=upper, level=level, findings=extrapolation(self.fitted.x, at))

    def table(self) -> Table:
        """Return value, standard error by resampling and by the derivatives, and 95 % interval of each parameter."""
        rows = []
        for name, estimate in self.fitted.parameters.items():
            if not self.fitted.request.free[self.fitted.law.names.index(name)]:
                continue
            interval = self.interval(name)
            value, error = value_and_error(estimate.value, self.standard_error(name))
            usual = value_and_error(estimate.value, estimate.standard_error)[1] if estimate.standard_error else "not determined"
            ends = f"{number(interval.lower)} to {number(interval.upper)}"
            rows.append((name.replace("_", " "), value, error, usual, ends, estimate.unit))
        columns = ("parameter", "value", "error by resampling", "by derivatives", "95 % interval", "unit")
        notes = (
            f"{len(self.draws)} of {self.repeats} {self.kind} resamples, seed {self.seed}; percentile intervals",
            *(f"{finding.severity}: {finding}" for finding in self.findings),
        )
        title = f"{self.fitted.law.name.replace('_', ' ')}, resampled"
        return Table(title=title, columns=columns, rows=tuple(rows), notes=notes, right=columns[1:4])

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _tails(level: float) -> tuple[float, float]:
    if not 0.0 < level < 1.0:
        raise FitError(f"level: {level!r} does not lie between 0 and 1")
    return 0.5 - 0.5 * level, 0.5 + 0.5 * level


def bootstrap(fitted: Fitted, repeats: int, kind: Kind, seed: int) -> Bootstrap:
    """Return the parameters of many resampled curves.

    Raises
    ------
    FitError
        When there is no scatter to deal anew, or too few repeats for an interval.
    """
    if kind not in get_args(Kind):
        raise FitError(f"kind: {printable(kind)!r} is neither 'residual' nor 'case'")
    if repeats < _LEAST_REPEATS:
        raise FitError(f"repeats: {repeats} curves say nothing about an interval; take {_LEAST_REPEATS} or more")
    if fitted.no_scatter:
        raise FitError(f"{fitted.law.name} cannot be resampled: {fitted.no_scatter}")
    generator = np.random.default_rng(seed)
    x, y, deviations = _residuals(fitted, repeats, generator) if kind == "residual" else _cases(fitted, repeats, generator)
    values, arrived = _fit_all(fitted, x, y, deviations)
    failed = repeats - int(arrived.sum())
    findings: tuple[Finding, ...] = ()
    if failed:
        reason = f"{failed} of {repeats} resampled curves could not be fitted and are left out"
        many = failed > _MANY_FAILED * repeats
        findings = (Finding(check="resamples_failed", severity="caution" if many else "info", reason=reason, value=float(failed)),)
    if failed > repeats // 2:
        raise FitError(f"{fitted.law.name} cannot be resampled: {failed} of {repeats} resampled curves could not be fitted")
    return Bootstrap(fitted=fitted, draws=values[arrived], repeats=repeats, kind=kind, seed=seed, findings=findings)


Sample = tuple[FloatArray, FloatArray, FloatArray | None]
"""x (N, …) or (R, N, …), y (R, N) and the deviations given, (N,) or (R, N), or None."""


def _residuals(fitted: Fitted, repeats: int, generator: np.random.Generator) -> Sample:
    """Deal the scatter anew: residuals over their deviations and the root of one less their leverage, centred."""
    jacobian = fitted.law.jacobian(fitted.x, *fitted.values) / (fitted.deviations * fitted.spread.scale)[:, None]
    leverage = np.einsum("np,pq,nq->n", jacobian, fitted.spread.seen, jacobian)
    scatter = fitted.residuals / fitted.deviations / np.sqrt(np.maximum(1.0 - leverage, _LEAST_FREEDOM))
    scatter -= scatter.mean()
    dealt = scatter[generator.integers(fitted.y.size, size=(repeats, fitted.y.size))]
    return fitted.x, fitted.value(fitted.x) + fitted.deviations * dealt, fitted.weighting.given


def _cases(fitted: Fitted, repeats: int, generator: np.random.Generator) -> Sample:
    """Draw whole points anew, in the order of x."""
    drawn = np.sort(generator.integers(fitted.y.size, size=(repeats, fitted.y.size)), axis=1)
    given = fitted.weighting.given
    return fitted.x[drawn], fitted.y[drawn], None if given is None else given[drawn]


def _fit_all(fitted: Fitted, x: FloatArray, y: FloatArray, deviations: FloatArray | None) -> tuple[FloatArray, BoolArray]:
    """Return the parameters of every curve (R, p), begun at those of the fit, and whether it arrived, (R,)."""
    request, weighting = fitted.request, fitted.weighting
    start = np.where(request.free, fitted.values, np.nan)
    if request.x.ndim == 1 and (request.x > 0.0).all():
        plan = Plan(
            law=fitted.law, lower=request.lower, upper=request.upper, fixed=request.fixed, start=start,
            follows=weighting.follows_fit, floor=weighting.floor, scale=weighting.scale,
        )  # fmt: skip
        answer = solve_chunk(plan, x, y, deviations)
        return answer.values, answer.converged
    values, arrived = np.full((len(y), start.size), np.nan), np.zeros(len(y), dtype=bool)
    for row in range(len(y)):
        at = x if x.ndim == request.x.ndim else x[row]
        given = deviations if deviations is None or deviations.ndim == 1 else deviations[row]
        try:
            with np.errstate(all="ignore"):
                one = solve(replace(request, x=at, y=y[row], start=start), replace(weighting, given=given))
        except FitError:
            continue
        values[row], arrived[row] = one.point, one.converged
    return values, arrived
