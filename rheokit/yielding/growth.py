"""How the static yield stress grows at rest: a straight line of the start-up peaks over the logarithm of the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError, RangeError
from rheokit.base.estimate import Condition, Estimate, Interval
from rheokit.base.finding import Finding
from rheokit.base.look import HUES, INK, TINT
from rheokit.base.show import number, value_and_error
from rheokit.fitting import Fit, fit_law
from rheokit.law import Array, Law, Parameter
from rheokit.yielding.drawing import panel
from rheokit.yielding.reading_off import LEVEL, YieldReading, interval_of, stated

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["GROWTH", "StaticYieldGrowth", "static_yield_growth"]

_FEWEST = 3
_METHOD = "straight line of the start-up peaks over the logarithm of the rest; error from the peaks' scatter about it, loads included"


def _line(rest: Array, at_one_second: Array | complex, growth_per_decade: Array | complex) -> Array:
    return at_one_second + growth_per_decade * np.log10(rest)


def _jacobian(rest: Array, at_one_second: float, growth_per_decade: float) -> Array:
    return np.asarray(np.stack([np.ones_like(rest), np.log10(rest)], axis=-1)) + 0.0 * (at_one_second + growth_per_decade)


def _basis(rest: Array) -> Array:
    return np.stack([np.ones_like(rest), np.log10(rest)], axis=-1)


GROWTH = Law(
    name="growth_at_rest",
    formula=r"\tau_s = \tau_1 + b\,\lg(t_r/\mathrm{s})",
    parameters=(
        Parameter("at_one_second", symbol=r"\tau_1", unit="Pa", meaning="static yield stress after a rest of one second, by the line"),
        Parameter("growth_per_decade", symbol="b", unit="Pa", meaning="what a tenfold rest adds"),
    ),
    value=_line,
    jacobian=_jacobian,
    linear=("at_one_second", "growth_per_decade"),
    basis=_basis,
    source="common practice, no source",
)
"""Static yield stress over rest."""


@dataclass(frozen=True, kw_only=True, eq=False)
class StaticYieldGrowth(YieldReading):
    """The line of static yield stresses over the logarithm of the rest.

    `estimates` holds the growth per decade of rest [Pa]; `rest` [s] and `peaks` [Pa] are what it goes through, (N,), with the ends of
    the peaks' own intervals; `fit` is the line.
    """

    rest: FloatArray
    peaks: FloatArray
    lower: FloatArray
    upper: FloatArray
    fit: Fit

    def at_rest(self, rest: float) -> Estimate:
        """Return the static yield stress [Pa] of the line after a rest [s] inside those measured.

        Raises
        ------
        RangeError
            When the rest lies outside those measured: beyond them a gel need not go on as a line.
        """
        first, last = float(self.rest.min()), float(self.rest.max())
        if not first <= rest <= last:
            raise RangeError(f"a rest of {number(rest, 3)} s lies outside the {number(first, 3)} to {number(last, 3)} s measured")
        value = float(self.fit.value(np.array([rest]))[0])
        common = {"name": "static_yield_stress_peak", "value": value, "unit": "Pa", "method": _METHOD}
        conditions = stated("start-up peak, line over rest", rest=rest)
        if self.fit.no_scatter:
            return Estimate(**common, standard_error=None, reason=self.fit.no_scatter, conditions=conditions)  # type: ignore[arg-type]
        band = self.fit.band([rest], LEVEL)
        error = float(band.upper[0] - value) / self.fit.quantile(LEVEL)
        return Estimate(
            **common, standard_error=error, degrees_of_freedom=float(self.fit.degrees_of_freedom), conditions=conditions,  # type: ignore[arg-type]
            interval=Interval(lower=float(band.lower[0]), upper=float(band.upper[0]), level=LEVEL), components={"fit": error},
        )  # fmt: skip

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the peaks with their intervals, the line and its band on the axes given, else on a new figure; return the axes."""
        ax = panel(ax, ("time", "shear_stress"), logarithmic="x")
        ax.set_xlabel("rest before start-up [s]")
        ax.set_ylabel("static yield stress, start-up peak [Pa]")
        at = np.geomspace(self.rest.min(), self.rest.max(), 100)
        line = self.fit.value(at)
        spread = float(np.ptp(self.peaks)) or float(self.peaks.mean())
        if not self.fit.no_scatter:
            lower, upper = self.fit.band(at, LEVEL)
            ends = float(self.peaks.min()) - spread, float(self.peaks.max()) + spread
            ax.fill_between(at, np.clip(lower, *ends), np.clip(upper, *ends), color=HUES[0], alpha=TINT, linewidth=0.0)
        ax.plot(at, line, color=HUES[0], linewidth=1.8)
        ax.vlines(self.rest, self.lower, self.upper, color=INK, linewidth=1.2)
        ax.plot(self.rest, self.peaks, "o", markersize=6.0, markerfacecolor="white", markeredgecolor=INK, linestyle="none")
        value, error = value_and_error(self.stress.value, self.stress.standard_error)
        words = f"+{value}{f' ± {error}' if error else ''} Pa a decade of rest"
        ax.text(0.03, 0.96, words, transform=ax.transAxes, color=HUES[0], fontweight="bold", verticalalignment="top")
        return ax


def static_yield_growth(peaks: Sequence[Estimate]) -> StaticYieldGrowth:
    """Return the line of start-up peaks over the logarithm of the rest.

    Parameters
    ----------
    peaks
        Estimates of `static_yield_stress_peak` with their rest; those that are not determined are left out, and a finding says so.

    Raises
    ------
    FitError
        When fewer than three determined peaks have a rest, or all rests are alike.
    ComparisonError
        When peaks were measured at unlike rates.
    """
    used = [peak for peak in peaks if peak.determined and "rest" in peak.conditions]
    rest = np.array([float(peak.conditions["rest"].value) for peak in used])
    if len(used) < _FEWEST or np.ptp(np.log(rest)) == 0.0:
        raise FitError(f"{len(used)} determined peaks with a rest; a line over the rest needs {_FEWEST} at unlike rests")
    for peak in used[1:]:
        used[0].require_comparable(_same_rest(peak, used[0]))
    fit = fit_law(rest, [peak.value for peak in used], GROWTH, weighting="relative", other_solvers=False)
    slope = fit.parameters["growth_per_decade"]
    left = len(peaks) - len(used)
    found: tuple[Finding, ...] = fit.findings
    if left:
        said = f"{left} of {len(peaks)} peaks are not determined or have no rest and are left out of the line"
        found += (Finding(check="peaks_left_out", severity="caution", reason=said, value=float(left), unit="1"),)
    ends = [held or Interval(lower=peak.value, upper=peak.value, level=LEVEL) for peak in used for held in (interval_of(peak),)]
    growth = Estimate(
        name="static_yield_stress_growth", value=slope.value, unit="Pa", standard_error=slope.standard_error, method=_METHOD,
        degrees_of_freedom=slope.degrees_of_freedom, components=slope.components, reason=slope.reason, determined=slope.determined,
        conditions={**stated("start-up peaks over rest"), "decades": Condition(value=1.0)}, findings=found,
    )  # fmt: skip
    return StaticYieldGrowth(
        estimates=(growth,), findings=found, rest=rest, peaks=np.array([peak.value for peak in used]), fit=fit,
        lower=np.array([end.lower for end in ends]), upper=np.array([end.upper for end in ends]),
    )  # fmt: skip


def _same_rest(peak: Estimate, other: Estimate) -> Estimate:
    """Return a peak as if its rest were that of another, so that everything else is compared."""
    return replace(peak, conditions={**peak.conditions, "rest": other.conditions["rest"]})
