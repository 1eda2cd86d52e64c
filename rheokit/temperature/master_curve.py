"""Flow curves at several temperatures on one master curve: horizontal and vertical factors with intervals, and whether it fits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, HasFlow
from rheokit.base.errors import FitError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.finding import Finding
from rheokit.base.look import HUES, INK, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number, resolve_axes, value_and_error
from rheokit.statistics.scatter import scatter_about_neighbours

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["MasterCurve", "master_curve"]

_DEGREE = 5
"""Of the polynomial in ln rate that the master curve is: enough for a yield plateau, a power law and the bend to a high-rate plateau."""
_MOST_STEPS = 60
_SAME = 1e-10
_WORSE = 3.0
"""Factor of scatter about the master curve over that of the points about their neighbours above which it is no master curve."""
_LEAST_OVERLAP = 0.3
"""Decades of shifted rate that a curve must share with the others for its factor to be more than a guess (our own setting)."""
_ICE = 273.15

IndexArray = NDArray[np.intp]


@dataclass(frozen=True, kw_only=True, eq=False)
class MasterCurve(Carried):
    """Flow curves shifted onto that of a reference temperature.

    Attributes
    ----------
    reference_temperature
        [K]
    horizontal, vertical
        Temperature [K] to Estimate: a curve's rates times the horizontal factor and stresses over the vertical one lie on the master
        curve. Those of the reference are 1 and have no error.
    shear_rate, shear_stress, temperature
        All shifted points: [1/s], [Pa], and the temperature [K] each came from, (N,).
    scatter, own_scatter
        Relative scatter of the points about the master curve, and about their own neighbours.
    findings
        Whether it is one curve; what does not overlap.
    """

    reference_temperature: float
    horizontal: Mapping[float, Estimate]
    vertical: Mapping[float, Estimate]
    shear_rate: FloatArray
    shear_stress: FloatArray
    temperature: FloatArray
    scatter: float
    own_scatter: float | None
    findings: tuple[Finding, ...]

    def table(self) -> Table:
        """Return the factors as a table, temperature by temperature."""
        rows = []
        for kelvin in self.horizontal:
            both = [value_and_error(held.value, held.standard_error) for held in (self.horizontal[kelvin], self.vertical[kelvin])]
            rows.append((f"{kelvin - _ICE:.4g}", *(cell for value, error in both for cell in (value, error or "none"))))
        names = ("temperature [°C]", "horizontal factor", "standard error", "vertical factor", "standard error ")
        notes = (
            f"reference {self.reference_temperature - _ICE:.4g} °C; scatter about the master curve {self.scatter:.2%}"
            + ("" if self.own_scatter is None else f", of the points about their neighbours {self.own_scatter:.2%}"),
            *(f"{finding.severity}: {finding}" for finding in self.findings),
        )
        return Table(title="master curve", columns=names, rows=tuple(rows), notes=notes, right=names)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the shifted points, one colour a temperature, on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        marks = "osD^vP"
        for index, kelvin in enumerate(self.horizontal):
            here = self.temperature == kelvin
            colour = HUES[index % len(HUES)]
            ax.plot(
                self.shear_rate[here], self.shear_stress[here], color=colour, linestyle="", marker=marks[index % len(marks)],
                markerfacecolor="white", markersize=4.5, label=f"{kelvin - _ICE:.4g} °C",
            )  # fmt: skip
        ax.set_xlabel(f"{quantity('shear_rate').label} × horizontal factor")
        ax.set_ylabel(f"{quantity('shear_stress').label} / vertical factor")
        ax.legend(frameon=False, labelcolor=INK, title=f"master curve at {self.reference_temperature - _ICE:.4g} °C")
        dress(ax, logarithmic="both")
        return ax


def master_curve(curves: Mapping[float, HasFlow], *, reference_temperature: float, vertical: bool = True) -> MasterCurve:
    """Shift flow curves at several temperatures onto that of a reference temperature.

    The master curve is a polynomial of ln stress over ln rate; polynomial and vertical factors are solved for in closed form inside a
    Gauss-Newton search over the horizontal ones, all points counting alike in relative deviation.

    Parameters
    ----------
    curves
        Temperature [K] to a flow curve (rates [1/s] and stresses [Pa], positive, five points or more each).
    reference_temperature
        [K], one of them.
    vertical
        Whether stresses are shifted too. A gel needs it: its yield stress and its viscosity go with temperature in different ways.

    Raises
    ------
    FitError
        When there are fewer than two curves, the reference is none of them, or a curve has too few usable points.

    References
    ----------
    Variable projection: Golub & Pereyra, SIAM J. Numer. Anal. 10 (1973) 413 (from memory).
    """
    if len(curves) < 2 or reference_temperature not in curves:
        raise FitError(f"a master curve needs two temperatures or more, the reference {reference_temperature:.5g} K among them")
    kelvins = (reference_temperature, *sorted(kelvin for kelvin in curves if kelvin != reference_temperature))
    points = [_points(kelvin, curves[kelvin]) for kelvin in kelvins]
    which = np.repeat(np.arange(len(kelvins)), [x.size for x, _ in points])
    problem = _Shifting(
        x=np.concatenate([x for x, _ in points]),
        y=np.concatenate([y for _, y in points]),
        which=which,
        count=len(kelvins),
        vertical=vertical,
    )
    shifts = problem.search()
    linear, residual, covariance = problem.solved(shifts)
    own = _own_scatter(points)
    others = len(kelvins) - 1
    horizontal = {reference_temperature: _unmoved("horizontal", reference_temperature)}
    upright = {kelvin: _unmoved("vertical", kelvin) for kelvin in kelvins}
    for index, kelvin in enumerate(kelvins[1:]):
        spread = (covariance[index, index], problem.freedom)
        horizontal[kelvin] = _factor(_unmoved("horizontal", kelvin), shifts[index], *spread)
        if vertical:
            place = _DEGREE + 1 + index
            spread = (covariance[others + place, others + place], problem.freedom)
            upright[kelvin] = _factor(_unmoved("vertical", kelvin), linear[place], *spread)
    moved = problem.x + np.concatenate([[0.0], shifts])[which]
    lifted = problem.y - np.array([np.log(upright[kelvin].value) for kelvin in kelvins])[which]
    scatter = float(np.sqrt(residual @ residual / problem.freedom))
    order = sorted(kelvins)
    return MasterCurve(
        reference_temperature=reference_temperature,
        horizontal={kelvin: horizontal[kelvin] for kelvin in order},
        vertical={kelvin: upright[kelvin] for kelvin in order},
        shear_rate=np.exp(moved),
        shear_stress=np.exp(lifted),
        temperature=np.array(kelvins)[which],
        scatter=scatter,
        own_scatter=own,
        findings=(*_one_curve(scatter, own), *_overlaps(kelvins, which, moved)),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Shifting:
    """ln stress of all points as one polynomial of the shifted ln rate plus one step a curve."""

    x: FloatArray
    y: FloatArray
    which: IndexArray
    count: int
    vertical: bool

    @property
    def freedom(self) -> int:
        others = self.count - 1
        return self.x.size - (_DEGREE + 1 + others + (others if self.vertical else 0))

    def _columns(self, shifts: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the columns of the linear problem, and the slope of each polynomial column by the shift of its point."""
        moved = self.x + np.concatenate([[0.0], shifts])[self.which]
        middle, half = 0.5 * (moved.max() + moved.min()), 0.5 * (moved.max() - moved.min())
        place = (moved - middle) / half
        powers = np.polynomial.chebyshev.chebvander(place, _DEGREE)
        slopes = (
            np.column_stack([np.polynomial.chebyshev.chebval(place, np.polynomial.chebyshev.chebder(row)) for row in np.eye(_DEGREE + 1)])
            / half
        )
        steps = (self.which[:, None] == np.arange(1, self.count)).astype(np.float64) if self.vertical else np.empty((self.x.size, 0))
        return np.hstack([powers, steps]), slopes

    def solved(self, shifts: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return linear coefficients, residuals and the covariance of shifts and coefficients."""
        columns, slopes = self._columns(shifts)
        linear = np.asarray(np.linalg.lstsq(columns, self.y, rcond=None)[0], dtype=np.float64)
        residual = self.y - columns @ linear
        by_shift = (self.which[:, None] == np.arange(1, self.count)) * (slopes @ linear[: _DEGREE + 1])[:, None]
        whole = np.hstack([by_shift, columns])
        variance = residual @ residual / max(self.freedom, 1)
        covariance = np.linalg.pinv(whole.T @ whole, rcond=1e-14) * variance
        return linear, residual, np.asarray(covariance, dtype=np.float64)

    def search(self) -> FloatArray:
        """Return the ln horizontal factors, curve by curve but the reference."""
        best = min((self._descend(start) for start in self._starts()), key=lambda end: end[1])
        return best[0]

    def _starts(self) -> list[FloatArray]:
        """Return no shift, and the shift by the level of each curve at the slope of all: viscosity against viscosity."""
        level = [float(np.mean((self.y - self.x)[self.which == index])) for index in range(self.count)]
        return [np.zeros(self.count - 1), np.array(level[1:]) - level[0], 0.5 * (np.array(level[1:]) - level[0])]

    def _descend(self, shifts: FloatArray) -> tuple[FloatArray, float]:
        damping, cost = 1e-3, np.inf
        for _ in range(_MOST_STEPS):
            columns, slopes = self._columns(shifts)
            linear = np.linalg.lstsq(columns, self.y, rcond=None)[0]
            residual = self.y - columns @ linear
            here = float(residual @ residual)
            by_shift = (self.which[:, None] == np.arange(1, self.count)) * (slopes @ linear[: _DEGREE + 1])[:, None]
            whole = np.hstack([by_shift, columns])
            square = whole.T @ whole
            step = np.linalg.solve(square + damping * np.diag(np.diag(square) + 1e-300), whole.T @ residual)[: self.count - 1]
            trial = shifts + step
            after = self.solved(trial)[1]
            if after @ after <= here:
                damping, shifts = damping * 0.2, trial
                if np.abs(step).max() < _SAME:
                    return shifts, float(after @ after)
            else:
                damping *= 8.0
            cost = min(here, float(after @ after))
            if damping > 1e12:
                break
        return shifts, cost


def _points(kelvin: float, curve: HasFlow) -> tuple[FloatArray, FloatArray]:
    rate, stress = np.asarray(curve.shear_rate, dtype=np.float64), np.asarray(curve.shear_stress, dtype=np.float64)
    kept = np.isfinite(rate) & np.isfinite(stress) & (rate > 0.0) & (stress > 0.0)
    if kept.sum() < 5:
        raise FitError(f"the flow curve at {kelvin - _ICE:.4g} °C has {int(kept.sum())} usable points; a master curve needs five or more")
    order = np.argsort(rate[kept], kind="stable")
    return np.log(rate[kept][order]), np.log(stress[kept][order])


def _unmoved(which: str, kelvin: float) -> Estimate:
    return Estimate(
        name=f"{which}_factor",
        value=1.0,
        unit="1",
        standard_error=None,
        method=f"{which} shift onto the master curve",
        conditions={"temperature": Condition(value=kelvin, unit="K")},
        reason="1 by definition",
    )


def _factor(unmoved: Estimate, logarithm: float, variance: float, freedom: int) -> Estimate:
    value = float(np.exp(logarithm))
    if not variance > 0.0:
        return replace(unmoved, value=value, reason="the points lie on one curve: no scatter is seen")
    error = value * float(np.sqrt(variance))
    return replace(unmoved, value=value, standard_error=error, degrees_of_freedom=float(freedom), components={"fit": error}, reason="")


def _own_scatter(points: list[tuple[FloatArray, FloatArray]]) -> float | None:
    seen = [found[0] for x, y in points if (found := scatter_about_neighbours(x, y)) is not None]
    return float(np.sqrt(np.mean(np.square(seen)))) if seen else None


def _one_curve(scatter: float, own: float | None) -> tuple[Finding, ...]:
    if own is None or scatter <= _WORSE * max(own, 1e-4):
        return ()
    reason = (
        f"the points lie {scatter:.2%} off the master curve and only {own:.2%} off their own neighbours: the curves have different shapes, "
        "so one factor each does not carry one onto the other"
    )
    return (Finding(check="master_curve", severity="caution", value=scatter / own, limit=_WORSE, unit="1", reason=reason),)


def _overlaps(kelvins: tuple[float, ...], which: IndexArray, moved: FloatArray) -> tuple[Finding, ...]:
    found = []
    for index, kelvin in enumerate(kelvins):
        mine, others = moved[which == index], moved[which != index]
        shared = (min(mine.max(), others.max()) - max(mine.min(), others.min())) / np.log(10.0)
        if shared < _LEAST_OVERLAP:
            reason = (
                f"the curve at {kelvin - _ICE:.4g} °C shares {number(max(shared, 0.0), 2)} decades of rate with the others: "
                "its factor is a guess"
            )
            found.append(
                Finding(check="master_curve_overlap", severity="caution", value=shared, limit=_LEAST_OVERLAP, unit="1", reason=reason)
            )
    return tuple(found)
