"""The stress ramp once more: the stress at which the apparent viscosity is highest, just before the gel gives way."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.curve import FloatArray, HasFlow
from rheokit.base.errors import FitError
from rheokit.base.estimate import Estimate
from rheokit.base.look import HUES
from rheokit.base.show import number
from rheokit.yielding.drawing import open_marks, panel, stress_line
from rheokit.yielding.parabola import Top, top_of
from rheokit.yielding.reading_off import YieldReading, countable, not_determined, positive, stated

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["ViscosityMaximum", "static_yield_stress_viscosity_maximum"]

REACH = 1.4
"""Factor of stress on either side of the maximum over which the cubic goes: the hump leans, and a parabola reads it 5 % too low (our
own setting)."""

_FEWEST, _REPEATS = 10, 100
_NAME = "static_yield_stress_viscosity_maximum"
_METHOD = "stress of a ramp where the apparent viscosity is highest, by a cubic through the points around it in log-log axes"


@dataclass(frozen=True, kw_only=True, eq=False)
class ViscosityMaximum(YieldReading):
    """Where the apparent viscosity of a stress ramp is highest: `shear_stress` [Pa], `viscosity` [Pa·s], (N,), and the cubic, (M,)."""

    shear_stress: FloatArray
    viscosity: FloatArray
    fitted_stress: FloatArray
    fitted_viscosity: FloatArray

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw points, cubic and maximum on the axes given, else on a new figure, and return the axes."""
        ax = panel(ax, ("shear_stress", "viscosity"), logarithmic="both")
        open_marks(ax, self.shear_stress, self.viscosity)
        ax.plot(self.fitted_stress, self.fitted_viscosity, color=HUES[0], linewidth=2.2, zorder=4)
        stress_line(ax, self.stress, HUES[0], place=0.06)
        return ax


def static_yield_stress_viscosity_maximum(ramp: HasFlow, *, rest: float | None = None) -> ViscosityMaximum:
    """Return the static yield stress of a stress ramp as the stress at its highest apparent viscosity.

    It depends on the ramp: the rate below the yield stress is that of elastic straining, so compare it at the same ramp only.

    Parameters
    ----------
    ramp
        A stress ramp, or anything with `shear_stress` [Pa] and `shear_rate` [1/s], (N,).
    rest
        How long the sample rested before [s].

    Raises
    ------
    FitError
        When there are too few points.
    """
    stress, rate = np.asarray(ramp.shear_stress, dtype=np.float64), np.asarray(ramp.shear_rate, dtype=np.float64)
    kept = countable(stress, rate)
    if kept.sum() < _FEWEST:
        raise FitError(f"the stress ramp has {int(kept.sum())} points with a positive stress and rate; a maximum needs {_FEWEST}")
    order = np.argsort(stress[kept], kind="stable")
    stress, viscosity = stress[kept][order], (stress[kept] / rate[kept])[order]
    top = top_of(np.log(stress), np.log(viscosity), math.log(REACH), 3)
    estimate = _estimate(top, stress, _redrawn(top, np.log(stress), np.log(viscosity)), rest)
    shown = estimate.determined
    return ViscosityMaximum(
        estimates=(estimate,),
        findings=estimate.findings,
        shear_stress=stress,
        viscosity=viscosity,
        fitted_stress=np.exp(top.at) if shown else np.empty(0),
        fitted_viscosity=np.exp(top.curve) if shown else np.empty(0),
    )


def _redrawn(top: Top, x: FloatArray, y: FloatArray) -> float:
    """Return the standard deviation of the place of the top over ramps whose points are dealt their scatter anew."""
    if top.where != "inside" or not top.scatter > 0.0:
        return 0.0
    random = np.random.default_rng(0)
    places = [top_of(x, y + top.scatter * random.standard_normal(x.size), math.log(REACH), 3).place for _ in range(_REPEATS)]
    return float(np.std(places, ddof=1))


def _estimate(top: Top, stress: FloatArray, error: float, rest: float | None) -> Estimate:
    conditions = stated("stress ramp, viscosity maximum", rest=rest)
    first, last = float(stress[0]), float(stress[-1])
    found = min(max(math.exp(min(top.place, math.log(last))), first), last)
    reasons = {
        "end": (f"the viscosity is still highest where the ramp ends, at {number(last, 3)} Pa; ramp to a higher stress", last, math.inf),
        "start": (f"the viscosity falls from the first points on, at {number(first, 3)} Pa; begin lower", 0.0, found),
        "flat": ("the viscosity has no single maximum", 0.0, math.inf),
    }
    if top.where in reasons:
        reason, lower, upper = reasons[top.where]
        return not_determined(
            _NAME, found, "Pa", reason=reason, method=_METHOD, conditions=conditions, lower=min(lower, found),
            upper=max(upper, found),
        )  # fmt: skip
    return positive(
        _NAME, found, "Pa", relative_error=error, degrees_of_freedom=float(top.degrees_of_freedom),
        method=f"{_METHOD}; error from {_REPEATS} redrawings of their scatter, the choice of points repeated", conditions=conditions,
    )  # fmt: skip
