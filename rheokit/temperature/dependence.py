"""A quantity over temperature: all laws fitted, losers shown, and what is read from them inside and beyond the data."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import FitError, RangeError
from rheokit.base.estimate import Condition, Estimate, Interval
from rheokit.base.finding import Finding
from rheokit.base.look import HUES, INK, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number, resolve_axes
from rheokit.fitting.result import Fit
from rheokit.fitting.selection import Comparison, compare_laws
from rheokit.law import Law
from rheokit.temperature.arrhenius import ARRHENIUS
from rheokit.temperature.exponential_decay import EXPONENTIAL_DECAY
from rheokit.temperature.vogel import VOGEL

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["LEAST_WEIGHT", "LONGEST_REACH", "TemperatureDependence", "temperature_dependence"]

LONGEST_REACH = 10.0
"""[K] How far beyond the data an Arrhenius law or an exponential decay, whose slope cannot change, is followed (our own setting)."""

LEAST_WEIGHT = 0.01
"""Akaike weight from which a law counts beyond the data: there, laws that describe the data alike part company (our own setting)."""

_ICE = 273.15
_SHAPELESS = (ARRHENIUS.name, EXPONENTIAL_DECAY.name)


@dataclass(frozen=True, kw_only=True, eq=False)
class TemperatureDependence(Carried):
    """How a quantity goes with temperature.

    Attributes
    ----------
    name
        Of the quantity.
    temperature, values
        The points, [K] and in the unit of the quantity, (N,).
    comparison
        Every law fitted, the best first.
    """

    name: str
    temperature: FloatArray
    values: FloatArray
    comparison: Comparison[Fit]

    @property
    def best(self) -> Fit:
        """The fit of the law with the lowest AICc."""
        return self.comparison.best

    def at(self, temperature: float, *, level: float = 0.95) -> Estimate:
        """Return the quantity at a temperature [K].

        Inside the data the interval is that of the best law. Beyond them it reaches over every law that the data do not rule out, a
        finding says how far the reading lies outside, and laws whose slope cannot change do not count past `LONGEST_REACH`.

        Raises
        ------
        RangeError
            When only laws that cannot change their slope are left, that far outside the data.
        """
        low, high = float(self.temperature.min()), float(self.temperature.max())
        beyond = max(low - temperature, temperature - high, 0.0)
        fit, others = self._followed(temperature, beyond)
        value = float(fit.value(np.array([temperature]))[0])
        lower, upper = _ends(fit, temperature, level)
        said, findings = f"{_words(fit)} over {_span(low, high)}", list[Finding]()
        if beyond > 0.0:
            for other in others:
                ends = _ends(other, temperature, level)
                lower, upper = min(lower, ends[0]), max(upper, ends[1])
            findings.append(_beyond(temperature, beyond, (low, high), [fit, *others]))
            said += f"; {number(beyond, 3)} K beyond the data, interval over {', '.join(map(_words, (fit, *others)))}"
        unknown = replace(_named(self.name, value, temperature, said), findings=tuple(findings))
        return _with_interval(unknown, fit, (lower, upper), level)

    def _followed(self, temperature: float, beyond: float) -> tuple[Fit, list[Fit]]:
        ranked = [candidate for candidate in self.comparison.ranked if candidate.fit is not None]
        if beyond > LONGEST_REACH:
            ranked = [candidate for candidate in ranked if candidate.name not in _SHAPELESS]
        kept = [candidate.fit for candidate in ranked if candidate.weight >= LEAST_WEIGHT and candidate.fit is not None]
        if not kept:
            span = _span(float(self.temperature.min()), float(self.temperature.max()))
            raise RangeError(
                f"{self.name.replace('_', ' ')} at {_celsius(temperature)} °C lies {number(beyond, 3)} K beyond the data ({span}), and "
                "only a law with one slope is left to follow: that is refused; measure nearer, or over 60 K so that a bend can be told"
            )
        return kept[0], kept[1:]

    def table(self) -> Table:
        """Return the laws as a table, the best first."""
        return self.comparison.table()

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw points, the best law with its band and the other laws on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        low, high = float(self.temperature.min()), float(self.temperature.max())
        kelvin = np.linspace(low - LONGEST_REACH, high + LONGEST_REACH, 200)
        for index, candidate in enumerate(self.comparison.ranked):
            if candidate.fit is None:
                continue
            colour, curve = HUES[index % len(HUES)], candidate.fit.value(kelvin)
            if index == 0:
                lower, upper = candidate.fit.band(kelvin)
                ax.fill_between(kelvin - _ICE, lower, upper, color=colour, alpha=TINT, linewidth=0.0)
            ax.plot(kelvin - _ICE, curve, color=colour, linewidth=1.6 if index == 0 else 1.0, linestyle="-" if index == 0 else "--")
            place = 12 + 9 * index
            ax.annotate(
                _words(candidate.fit), (kelvin[place] - _ICE, curve[place]), xytext=(7.0, 5.0), textcoords="offset points", color=colour,
                fontweight="bold" if index == 0 else "normal", fontsize="small",
            )  # fmt: skip
        ax.plot(self.temperature - _ICE, self.values, color=INK, linestyle="", marker="o", markerfacecolor="white", markersize=5.0)
        ax.set_yscale("log")
        ax.set_xlabel("temperature T [°C]")
        ax.set_ylabel(quantity(self.name).label)
        dress(ax)
        return ax


def temperature_dependence(
    temperature: ArrayLike,
    values: ArrayLike,
    *,
    name: str = "viscosity",
    errors: ArrayLike | None = None,
    laws: Iterable[Law] | None = None,
) -> TemperatureDependence:
    """Fit the temperature laws to a quantity and rank them by AICc.

    Parameters
    ----------
    temperature
        [K], (N,); at least three different ones.
    values
        The quantity in its SI unit, positive, (N,).
    name
        The quantity, as in the nomenclature.
    errors
        Standard deviations of the values, (N,); without them the scatter about each law decides, relative to the value.
    laws
        Which laws; by default Arrhenius, Vogel and the exponential decay. Williams, Landel and Ferry's is the Vogel law written another
        way: beside it, both would get half the weight.

    Raises
    ------
    FitError
        When there are too few temperatures, one lies below absolute zero, or a value is not positive.
    """
    kelvin, held = read_only(temperature, "temperature"), read_only(values, "values")
    if kelvin.size != held.size or np.unique(kelvin).size < 3:
        raise FitError(f"temperature laws need values at three different temperatures or more, not {np.unique(kelvin).size}")
    if not (np.all(kelvin > 0.0) and np.all(held > 0.0)):
        raise FitError("temperatures [K] and values are positive; a temperature in °C is 273.15 K more")
    chosen = tuple(laws) if laws is not None else (ARRHENIUS, VOGEL, EXPONENTIAL_DECAY)
    weighting = "relative" if errors is None else np.asarray(errors, dtype=np.float64)
    comparison = compare_laws(kelvin, held, chosen, weighting=weighting)
    return TemperatureDependence(name=name, temperature=kelvin, values=held, comparison=comparison)


def _named(name: str, value: float, temperature: float, said: str) -> Estimate:
    conditions = {"temperature": Condition(value=temperature, unit="K")}
    reason = "no interval"
    return Estimate(
        name=name, value=value, unit=quantity(name).unit, standard_error=None, method=said, conditions=conditions, reason=reason
    )


def _with_interval(estimate: Estimate, fit: Fit, ends: tuple[float, float], level: float) -> Estimate:
    """Return an estimate with its interval, or with the reason why there is none."""
    lower, upper = ends
    if not (math.isfinite(lower) and math.isfinite(upper) and upper > lower):
        return replace(estimate, reason=fit.no_scatter or "the data leave the interval open")
    error = 0.5 * (upper - lower) / fit.quantile(level)
    return replace(
        estimate,
        standard_error=error,
        degrees_of_freedom=float(fit.degrees_of_freedom),
        components={"fit": error},
        interval=Interval(lower=lower, upper=upper, level=level),
        reason="",
    )


def _ends(fit: Fit, temperature: float, level: float) -> tuple[float, float]:
    lower, upper = fit.band(np.array([temperature]), level)
    return float(lower[0]), float(upper[0])


def _beyond(temperature: float, beyond: float, span: tuple[float, float], fits: list[Fit]) -> Finding:
    reason = (
        f"{_celsius(temperature)} °C lies {number(beyond, 3)} K beyond the data ({_span(*span)}): an extrapolation, never the sole basis "
        f"for safety or release; the interval holds {len(fits)} law{'s' if len(fits) > 1 else ''} that the data do not rule out"
    )
    return Finding(check="temperature_extrapolation", severity="caution", value=beyond, limit=0.0, unit="K", reason=reason)


def _words(fit: Fit) -> str:
    return fit.law.name.replace("_", "-").title() if fit.law is not EXPONENTIAL_DECAY else "exponential decay"


def _celsius(kelvin: float) -> str:
    return f"{kelvin - _ICE:.4g}"


def _span(low: float, high: float) -> str:
    return f"{_celsius(low)} to {_celsius(high)} °C"
