"""A batch over its retained standard along the whole flow curve: the ratio at every rate, with a band that holds for all of them at once.

Measured in one session, most of what a day does to an instrument (temperature, gap, radius) stands in both and leaves the ratio.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, HasFlow, read_only
from rheokit.base.errors import ComparisonError
from rheokit.base.look import HUES, INK, SOFT, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number, resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["CurveRatio", "curve_ratio"]

_LEAST_POINTS = 4
_LEAST_SPAN = 0.5
"""Decades of rate that batch and standard must share."""
_DRAWS = 20_000


@dataclass(frozen=True, kw_only=True, eq=False)
class CurveRatio(Carried):
    """Stress of a batch over that of its standard, at common rates.

    Attributes
    ----------
    shear_rate
        [1/s], (N,).
    log_ratio
        ln of the ratio, (N,).
    covariance
        Of the log ratio, (N, N): loads move a whole curve, points scatter on their own.
    degrees_of_freedom
        Of both.
    standard
        Mean curve of the standard [Pa], (N,).
    loads
        How many of the batch and of the standard.
    method
        Where the two scatters come from.
    names
        Of what stands above the line and below it.
    """

    shear_rate: FloatArray
    log_ratio: FloatArray
    covariance: FloatArray
    degrees_of_freedom: float
    standard: FloatArray
    loads: tuple[int, int]
    method: str
    names: tuple[str, str] = ("batch", "standard")

    def band(self, level: float = 0.95, *, seed: int = 0) -> tuple[FloatArray, FloatArray]:
        """Return the ends of a band of the ratio that holds at ALL rates at once with this probability, (N,) each.

        The reach is the quantile of the largest of the correlated t values, by seeded draws.
        """
        deviations = np.sqrt(np.diag(self.covariance))
        rng = np.random.default_rng(seed)
        root = np.linalg.cholesky(self.covariance + 1e-12 * np.diag(np.diag(self.covariance)))
        drawn = np.abs(rng.standard_normal((_DRAWS, deviations.size)) @ root.T / deviations).max(axis=1)
        if np.isfinite(self.degrees_of_freedom):
            drawn /= np.sqrt(rng.chisquare(self.degrees_of_freedom, _DRAWS) / self.degrees_of_freedom)
        reach = float(np.quantile(drawn, level)) * deviations
        return np.exp(self.log_ratio - reach), np.exp(self.log_ratio + reach)

    def table(self) -> Table:
        """Return ratio and band at each rate as a table."""
        low, high = self.band()
        rows = tuple(
            (number(rate), f"{ratio:.3f}", f"{one:.3f} to {other:.3f}", "differs" if not one <= 1.0 <= other else "")
            for rate, ratio, one, other in zip(self.shear_rate, np.exp(self.log_ratio), low, high, strict=True)
        )
        columns = ("shear rate [1/s]", " / ".join(self.names), "95 % for all rates at once", "remark")
        above, below = self.names
        note = f"{self.loads[0]} loads of {above}, {self.loads[1]} of {below}; {self.method}"
        return Table(title=f"{above} over {below}", columns=columns, rows=rows, notes=(note,), right=columns[:3])

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw ratio and band over the rate on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        low, high = self.band()
        ratio = np.exp(self.log_ratio)
        ax.axhline(1.0, color=SOFT, linewidth=1.0)
        ax.fill_between(self.shear_rate, low, high, color=HUES[0], alpha=TINT, linewidth=0.0)
        ax.plot(self.shear_rate, ratio, color=HUES[0], linewidth=1.2, marker="o", markerfacecolor="white", markersize=5.0)
        apart = (low > 1.0) | (high < 1.0)
        ax.plot(self.shear_rate[apart], ratio[apart], color=HUES[3], linestyle="", marker="o", markersize=5.0)
        ax.annotate(
            " = ".join(self.names), (self.shear_rate[0], 1.0), xytext=(2.0, 4.0), textcoords="offset points", color=SOFT, fontsize="small"
        )
        said = "filled: differs at 95 %, all rates at once" if apart.any() else "no rate differs at 95 %, all at once"
        ax.text(0.99, 0.03, said, transform=ax.transAxes, color=INK, fontsize="small", horizontalalignment="right")
        ax.set_xlabel(quantity("shear_rate").label)
        ax.set_ylabel(f"shear stress, {' / '.join(self.names)}")
        dress(ax, logarithmic="x")
        return ax


def curve_ratio(
    batch: Sequence[HasFlow],
    standard: Sequence[HasFlow],
    *,
    load_scatter: float | None = None,
    degrees_of_freedom: float = np.inf,
    names: tuple[str, str] = ("batch", "standard"),
) -> CurveRatio:
    """Return the stress of a batch over that of its standard along the flow curve.

    Parameters
    ----------
    batch, standard
        Flow curves of their loads, measured in one session.
    load_scatter
        Relative standard deviation between loads, as known beforehand; without it the loads themselves give it, and two loads each know
        it badly: the band says so by its width.
    degrees_of_freedom
        Of `load_scatter`.
    names
        Of the two, as table and figure shall say.

    Raises
    ------
    ComparisonError
        When the curves share too little of the rate, or no scatter between loads can be known.
    """
    if not batch or not standard:
        raise ComparisonError("a ratio needs at least one load of the batch and one of the standard")
    curves = [_logarithms(curve) for curve in (*batch, *standard)]
    rates = _common_rates(curves)
    levels = np.array([np.interp(rates, x, y) for x, y in curves])
    ours, theirs = levels[: len(batch)], levels[len(batch) :]
    noise = _point_scatter(levels, rates)
    scatter, freedom, said = _load_scatter(ours, theirs, load_scatter, degrees_of_freedom)
    share = 1.0 / len(batch) + 1.0 / len(standard)
    return CurveRatio(
        shear_rate=read_only(np.exp(rates), "shear_rate"),
        log_ratio=read_only(ours.mean(axis=0) - theirs.mean(axis=0), "log_ratio"),
        covariance=share * (scatter**2 * np.ones((rates.size, rates.size)) + noise**2 * np.eye(rates.size)),
        degrees_of_freedom=freedom,
        standard=read_only(np.exp(theirs.mean(axis=0)), "standard"),
        loads=(len(batch), len(standard)),
        method=f"{said}; points scatter by {noise:.2%}",
        names=names,
    )


def _logarithms(curve: HasFlow) -> tuple[FloatArray, FloatArray]:
    rate, stress = np.asarray(curve.shear_rate, dtype=np.float64), np.asarray(curve.shear_stress, dtype=np.float64)
    kept = np.isfinite(rate) & np.isfinite(stress) & (rate > 0.0) & (stress > 0.0)
    order = np.argsort(rate[kept], kind="stable")
    x, place = np.unique(np.log(rate[kept][order]), return_inverse=True)
    if x.size < _LEAST_POINTS:
        raise ComparisonError(f"a flow curve has {x.size} usable points; a ratio over rate needs {_LEAST_POINTS} or more")
    return x, np.bincount(place, weights=np.log(stress[kept][order])) / np.bincount(place)


def _common_rates(curves: Sequence[tuple[FloatArray, FloatArray]]) -> FloatArray:
    """Return the ln rates of the first curve inside the range of all."""
    low, high = max(float(x[0]) for x, _ in curves), min(float(x[-1]) for x, _ in curves)
    if high - low < _LEAST_SPAN * np.log(10.0):
        raise ComparisonError("the curves share less than half a decade of shear rate; measure them over the same rates")
    rates = curves[0][0]
    inside = rates[(rates >= low - 1e-9) & (rates <= high + 1e-9)]
    if inside.size < _LEAST_POINTS:
        raise ComparisonError(f"the curves share {inside.size} points; a ratio over rate needs {_LEAST_POINTS} or more")
    return inside


def _point_scatter(levels: FloatArray, rates: FloatArray) -> float:
    """Return the relative standard deviation of single points: of second differences of each curve less those of the mean curve.

    The shape of the curve is common to all loads and drops out of the difference; with a single curve it stays in and errs high.
    """
    differences = levels if len(levels) == 1 else levels - levels.mean(axis=0)
    bends = differences[:, 2:] - 2.0 * differences[:, 1:-1] + differences[:, :-2]
    lost = 1.0 if len(levels) == 1 else 1.0 - 1.0 / len(levels)
    return float(np.sqrt(max((bends**2).mean() / (6.0 * lost), 1e-12))) if rates.size > 2 else 0.0


def _load_scatter(ours: FloatArray, theirs: FloatArray, stated: float | None, freedom: float) -> tuple[float, float, str]:
    if stated is not None:
        if not stated > 0.0:
            raise ComparisonError(f"the scatter between loads is {stated!r}; it must be above zero")
        return stated, freedom, f"loads scatter by {stated:.2%} as stated"
    own = len(ours) + len(theirs) - 2
    if own < 1:
        raise ComparisonError("one load each says nothing of the scatter between loads; state it, or measure two loads")
    means = [levels.mean(axis=1) for levels in (ours, theirs)]
    variance = sum(float(((mean - mean.mean()) ** 2).sum()) for mean in means) / own
    return float(np.sqrt(variance)), float(own), f"loads scatter by {np.sqrt(variance):.2%} by themselves ({own} degrees of freedom)"
