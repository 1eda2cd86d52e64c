"""How strongly a gellant builds the yield stress: yield = yield_0 (c / c_0)^exponent over a series of candidates.

It says nothing outside the series, nor of a series whose other components move as well: those belong in a model of effects.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import FitError, RangeError
from rheokit.base.estimate import Estimate, Interval, estimates_table
from rheokit.base.look import HUES, INK, TINT, dress
from rheokit.base.show import Table, number, resolve_axes, value_and_error
from rheokit.comparison.feasible import require_one_kind
from rheokit.fitting import fit_law
from rheokit.law import Array, Law, Parameter
from rheokit.statistics.student import student_quantile

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["GELLANT_POWER_LAW", "GellantPowerLaw", "fit_gellant"]

GellantWeighting = Literal["logarithmic", "relative"]
LEAST_LEVELS = 3
"""Two amounts lie on every power law."""


def value(share: Array, strength: Array | complex, exponent: Array | complex) -> Array:
    """Return the response at an amount over the reference amount."""
    return np.asarray(strength * np.power(share, exponent))


def jacobian(share: Array, strength: Array | float, exponent: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    term = np.power(share, exponent)
    return np.column_stack([term, strength * term * np.log(share)])


def basis(share: Array, exponent: Array | float) -> Array:
    """Return what the strength multiplies."""
    return np.power(share, exponent)[:, None]


def guess(share: Array, response: Array) -> dict[str, float]:
    """Return the line of the logarithms."""
    slope, level = np.polyfit(np.log(share), np.log(response), 1)
    return {"strength": math.exp(float(level)), "exponent": float(slope)}


GELLANT_POWER_LAW = Law(
    name="gellant_power_law",
    formula=r"\tau_y = \tau_0 (c / c_0)^p",
    parameters=(
        Parameter("strength", symbol=r"\tau_0", unit="Pa", lower=0.0, upper=math.inf, meaning="response at the reference amount"),
        Parameter("exponent", symbol="p", unit="", lower=-math.inf, upper=math.inf, meaning="change of ln response with ln amount"),
    ),
    value=value,
    jacobian=jacobian,
    basis=basis,
    guess=guess,
    linear=("strength",),
    source="yield stress of silica networks grows as c^4.0: Nanoscale Res. Lett. 6:114",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class GellantPowerLaw(Carried):
    """A fitted power law: exponent and response at the reference amount [wt %], with the series it rests on.

    `scatter` is the relative standard deviation about the law, `covariance` that of (ln strength, exponent).
    """

    exponent: Estimate
    strength: Estimate
    reference: float
    amounts: FloatArray
    responses: FloatArray
    covariance: FloatArray
    scatter: float
    degrees_of_freedom: int

    def predict(self, amount: float, *, level: float = 0.95, new_run: bool = True) -> Estimate:
        """Return the response at an amount [wt %], with the interval of one new run there or of the mean.

        Raises
        ------
        RangeError
            Outside the amounts of the series: a power law says nothing there.
        """
        low, high = float(self.amounts.min()), float(self.amounts.max())
        if not low <= amount <= high:
            raise RangeError(f"{number(amount)} wt % lies outside the {number(low)} to {number(high)} wt % that was tried")
        row = np.array([1.0, math.log(amount / self.reference)])
        error = math.sqrt(float(row @ self.covariance @ row) + (self.scatter**2 if new_run else 0.0))
        centre = math.log(self.strength.value) + self.exponent.value * row[1]
        reach = student_quantile(0.5 + 0.5 * level, self.degrees_of_freedom) * error
        found = math.exp(centre)
        return Estimate(
            name=self.strength.name,
            value=found,
            unit=self.strength.unit,
            standard_error=found * error,
            degrees_of_freedom=float(self.degrees_of_freedom),
            interval=Interval(lower=math.exp(centre - reach), upper=math.exp(centre + reach), level=level),
            method=f"gellant power law at {number(amount)} wt %; {'one new run' if new_run else 'mean'}",
        )

    def table(self) -> Table:
        """Return exponent and strength as a table."""
        interval = self.exponent.interval
        assert interval is not None  # made with it
        note = (
            f"95 % interval of the exponent {number(interval.lower)} to {number(interval.upper)}; {self.amounts.size} candidates from "
            f"{number(self.amounts.min())} to {number(self.amounts.max())} wt %, scatter {100.0 * self.scatter:.1f} %"
        )
        held = estimates_table((self.exponent, self.strength), title="gellant power law")
        return Table(title=held.title, columns=held.columns, rows=held.rows, notes=(note,), right=held.right)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw series, law and the 95 % band of a new candidate on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        grid = np.geomspace(self.amounts.min(), self.amounts.max(), 60)
        held = [self.predict(float(min(max(amount, self.amounts.min()), self.amounts.max()))) for amount in grid]
        ends = [one.interval for one in held if one.interval is not None]
        ax.fill_between(grid, [end.lower for end in ends], [end.upper for end in ends], color=HUES[0], alpha=TINT, linewidth=0.0)
        ax.plot(grid, [one.value for one in held], color=HUES[0], linewidth=1.4)
        ax.plot(self.amounts, self.responses, linestyle="", marker="o", markerfacecolor="white", markeredgecolor=HUES[0], markersize=5.5)
        shown, error = value_and_error(self.exponent.value, self.exponent.standard_error)
        ax.text(0.03, 0.94, f"exponent {shown} ± {error}", transform=ax.transAxes, color=INK, verticalalignment="top")
        ax.set_xlabel("gellant, c / wt %")
        ax.set_ylabel(f"{self.strength.name.replace('_', ' ')} / {self.strength.unit}")
        dress(ax, logarithmic="both")
        return ax


def fit_gellant(amounts: ArrayLike, responses: Sequence[Estimate], *, weighting: GellantWeighting = "relative") -> GellantPowerLaw:
    """Fit the power law of a gellant to a series of candidates that differ in nothing else.

    Parameters
    ----------
    amounts
        Of the gellant [wt %], (N,), above zero.
    responses
        One comparable Estimate of each, (N,): yield stresses by one method.
    weighting
        `relative` (standard deviation in proportion to the law) or `logarithmic` (a line of logarithms).

    Raises
    ------
    FitError
        With fewer than three different amounts, or no degree of freedom left.
    ComparisonError
        When the responses are not one kind of number.
    """
    require_one_kind(responses)
    c = read_only(amounts, "amounts")
    undetermined = [index + 1 for index, one in enumerate(responses) if not one.determined]
    if undetermined:
        raise FitError(f"number {undetermined[0]} of the series is not determined; leave it out")
    y = np.array([one.value for one in responses])
    if c.size != y.size or not (np.all(c > 0.0) and np.all(y > 0.0)):
        raise FitError(f"{c.size} amounts and {y.size} responses; a power law needs one above zero of each")
    if np.unique(c).size < LEAST_LEVELS or c.size <= 2:
        raise FitError(f"{np.unique(c).size} different amounts; an exponent with its interval needs {LEAST_LEVELS} or more")
    share = c / _reference(c)
    if weighting == "relative":
        fit = fit_law(share, y, GELLANT_POWER_LAW, weighting="relative")
        held = {name: one.value for name, one in fit.parameters.items()}
    elif weighting == "logarithmic":
        held = guess(share, y)
    else:
        raise FitError(f"{weighting!r} is no weighting of a gellant law; they are relative, logarithmic")
    return _answer(c, y, held, responses[0], weighting)


def _reference(amounts: FloatArray) -> float:
    """Return the geometric mean of the amounts [wt %]: there strength and exponent do not pull at each other."""
    return float(np.exp(np.log(amounts).mean()))


def _answer(c: FloatArray, y: FloatArray, held: dict[str, float], like: Estimate, way: str) -> GellantPowerLaw:
    reference, strength, exponent = _reference(c), held["strength"], held["exponent"]
    law = strength * (c / reference) ** exponent
    residual = y / law - 1.0 if way == "relative" else np.log(y / law)
    freedom = c.size - 2
    scatter = math.sqrt(float(residual @ residual) / freedom)
    rows = np.column_stack([np.ones(c.size), np.log(c / reference)])
    covariance = scatter**2 * np.linalg.inv(rows.T @ rows)
    error = math.sqrt(covariance[1, 1])
    if not error > 0.0:
        raise FitError("the series lies on a power law without any scatter; an interval cannot be told from it")
    reach = student_quantile(0.975, freedom) * error
    method = f"power law of {c.size} candidates, {way} weighting"
    return GellantPowerLaw(
        exponent=Estimate(
            name="gellant_exponent",
            value=exponent,
            unit="1",
            standard_error=error,
            degrees_of_freedom=float(freedom),
            components={"fit": error},
            interval=Interval(lower=exponent - reach, upper=exponent + reach, level=0.95),
            method=method,
        ),
        strength=Estimate(
            name=like.name,
            value=strength,
            unit=like.unit,
            standard_error=strength * math.sqrt(covariance[0, 0]),
            degrees_of_freedom=float(freedom),
            method=f"{method}, at {number(reference)} wt %",
        ),
        reference=reference,
        amounts=c,
        responses=read_only(y, "responses"),
        covariance=covariance,
        scatter=scatter,
        degrees_of_freedom=freedom,
    )
