"""The stress ramp: where the tangent of the gel that strains and the tangent of the ink that flows cross in log-log axes.

The two ranges follow one rule, so that nobody's eye chooses them. The upper tangent is the steepest line through the points of any
window that is a factor of 1.2 in stress wide. The lower one goes through the points up to a third of the stress in the middle of that
window. The interval is a bootstrap that deals every point its scatter anew and repeats the choice of both ranges.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.look import HUES
from rheokit.base.run import Step
from rheokit.base.show import number
from rheokit.statistics.scatter import scatter_about_neighbours
from rheokit.yielding.drawing import open_marks, panel, stress_line
from rheokit.yielding.reading_off import YieldReading, countable, not_determined, positive, stated
from rheokit.yielding.tangent_lines import LOWER_PART, WINDOW, Tangents, Windows, windows_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["TangentCrossing", "static_yield_stress_tangents", "tangent_crossing"]

BENT = 2.0
"""Ratio of the slopes below which there is no bend to speak of (our own setting)."""

STILL_STEEP = 0.9
"""Slope at the end over the steepest above which the flow has not developed when the ramp ends (our own setting)."""

STANDS_OUT = 3.0
"""Scatters of a point by which the points beyond the upper tangent lie above the lower one, in the median (our own setting)."""

_FEWEST, _REPEATS = 20, 400
_NAME = "static_yield_stress_tangents"
_WORDS = (
    "crossing of two tangents of the {} over the stress of a ramp in log-log axes: the steepest over a factor of {} in stress, and that up "
    "to {:.2f} of its stress; error from {} redrawings of the points' scatter, the choice of both ranges repeated"
)


@dataclass(frozen=True, kw_only=True, eq=False)
class TangentCrossing(YieldReading):
    """Where the two tangents of a stress ramp cross.

    Attributes
    ----------
    shear_stress, deformation
        The points used, [Pa] and strain or [1/s], (N,), in the order of the stress.
    against
        Which of the two the deformation is.
    lower, upper
        Intercept and slope of each tangent, natural logarithm over natural logarithm.
    ranges
        Stress ranges [Pa] of the lower and the upper tangent.
    """

    shear_stress: FloatArray
    deformation: FloatArray
    against: Literal["shear_strain", "shear_rate"]
    lower: tuple[float, float]
    upper: tuple[float, float]
    ranges: tuple[tuple[float, float], tuple[float, float]]

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw points, both tangents and their crossing on the axes given, else on a new figure, and return the axes."""
        ax = panel(ax, ("shear_stress", self.against), logarithmic="both")
        open_marks(ax, self.shear_stress, self.deformation)
        low, high = float(self.deformation.min()), float(self.deformation.max())
        crossing = self.stress.value
        for (intercept, slope), (first, last), colour, word in zip(
            (self.lower, self.upper), self.ranges, (HUES[2], HUES[3]), ("strains", "flows"), strict=True
        ):
            at = np.geomspace(min(first, crossing), max(last, crossing), 60)
            line = np.exp(intercept + slope * np.log(at))
            shown = (line > 0.5 * low) & (line < 2.0 * high)
            ax.plot(at[shown], line[shown], color=colour, linewidth=1.8, zorder=4)
            middle = math.sqrt(first * last)
            ax.annotate(
                f"{word}, slope {number(slope, 2)}", (middle, math.exp(intercept + slope * math.log(middle))), xytext=(-8.0, 8.0),
                textcoords="offset points", color=colour, horizontalalignment="right",
            )  # fmt: skip
        stress_line(ax, self.stress, HUES[0], place=0.06)
        return ax


def static_yield_stress_tangents(step: Step, *, against: str = "", rest: float | None = None) -> TangentCrossing:
    """Return the static yield stress of a stress ramp by the crossing of its two tangents.

    Parameters
    ----------
    step
        A ramp with `shear_stress` and `shear_strain` or `shear_rate`.
    against
        `"shear_strain"` or `"shear_rate"`; left out, the strain where it was exported.
    rest
        How long the sample rested before [s].

    Returns
    -------
    TangentCrossing
        Its stress is not determined where the ramp ends before the flow is fully developed, or shows no bend.

    Raises
    ------
    FitError
        When there are too few points.
    StepError
        When the step has no such column.
    """
    chosen: Literal["shear_strain", "shear_rate"] = "shear_strain"
    if against not in {"", "shear_strain", "shear_rate"}:
        raise FitError(f"a stress ramp is drawn against shear_strain or shear_rate, not {against!r}")
    if against == "shear_rate" or (not against and "shear_strain" not in step.columns):
        chosen = "shear_rate"
    return tangent_crossing(step.shear_stress, step.column(chosen), against=chosen, rest=rest)


def tangent_crossing(
    shear_stress: FloatArray,
    deformation: FloatArray,
    *,
    against: Literal["shear_strain", "shear_rate"] = "shear_strain",
    rest: float | None = None,
    seed: int = 0,
) -> TangentCrossing:
    """Return the crossing of the tangents of strains or rates over stresses [Pa], both (N,), as `static_yield_stress_tangents` does.

    Raises
    ------
    FitError
        When there are too few points.
    """
    x, y = _logarithms(shear_stress, deformation)
    windows = windows_of(x)
    found = Tangents.of(x, y[None, :], windows)
    conditions = stated(f"stress ramp, tangents of the {against.split('_')[1]}", rest=rest)
    method = _WORDS.format(against.replace("_", " "), number(WINDOW, 2), LOWER_PART, _REPEATS)
    estimate = _judged(x, y, windows, found, conditions=conditions, method=method, seed=seed)
    last, window = int(found.last[0]), int(found.window[0])
    return TangentCrossing(
        estimates=(estimate,),
        findings=estimate.findings,
        shear_stress=np.exp(x),
        deformation=np.exp(y),
        against=against,
        lower=(float(found.lower[0, 0]), float(found.lower[1, 0])),
        upper=(float(found.upper[0, 0]), float(found.upper[1, 0])),
        ranges=(
            (math.exp(x[0]), math.exp(x[last])),
            (math.exp(x[windows.first[window]]), math.exp(x[windows.last[window]])),
        ),
    )


def _logarithms(shear_stress: FloatArray, deformation: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the logarithms of the usable points in the order of the stress, each stress once."""
    stress, moved = np.asarray(shear_stress, dtype=np.float64), np.asarray(deformation, dtype=np.float64)
    kept = countable(stress, moved)
    once, place = np.unique(stress[kept], return_inverse=True)
    if once.size < _FEWEST:
        raise FitError(f"the stress ramp has {once.size} points with a positive stress and deformation; tangents need {_FEWEST}")
    return np.log(once), np.bincount(place, weights=np.log(moved[kept])) / np.bincount(place)


def _judged(
    x: FloatArray,
    y: FloatArray,
    windows: Windows,
    found: Tangents,
    *,
    conditions: dict[str, Condition],
    method: str,
    seed: int,
) -> Estimate:
    """Return the crossing with its error, or why it is not determined."""
    crossing, top = float(found.crossing[0]), float(math.exp(x[-1]))

    def open_(reason: str, lower: float = 0.0) -> Estimate:
        value = math.exp(crossing) if x[0] <= crossing <= x[-1] else top
        return not_determined(_NAME, value, "Pa", reason=reason, method=method, conditions=conditions, lower=lower)

    window = int(found.window[0])
    ratio = float(found.upper[1, 0] / found.lower[1, 0]) if found.lower[1, 0] > 0.0 else math.inf
    bent = x[0] < crossing < x[windows.last[window]] and ratio >= BENT
    if float(found.end_slope[0]) >= STILL_STEEP * float(found.upper[1, 0]):
        said = f"the curve is still about as steep as anywhere where the ramp ends, at {number(top, 3)} Pa; ramp to a higher stress"
        return open_(said, math.exp(crossing) if bent else 0.0)
    if not bent:
        return open_(f"no bend: the steepest tangent is only {number(ratio, 2)} times as steep as the lower one (least {number(BENT, 2)})")
    scatter = _scatter(x, y, crossing)
    if scatter is None:
        return positive(
            _NAME, math.exp(crossing), "Pa", relative_error=None, degrees_of_freedom=0.0, method=method, conditions=conditions
        )  # fmt: skip
    deviations, freedom = scatter
    above = (y - found.lower[0, 0] - found.lower[1, 0] * x)[x > x[windows.last[window]]]
    if float(np.median(above)) < STANDS_OUT * float(deviations.max()):
        return open_("the points beyond the steepest tangent do not stand out of their scatter above the lower one")
    drawn = np.random.default_rng(seed).standard_normal((_REPEATS, x.size)) * deviations
    again = Tangents.of(x, y + drawn, windows)
    usable = np.isfinite(again.crossing)
    if usable.mean() < 0.975 or np.quantile(again.upper[1] - 0.75 * BENT * np.abs(again.lower[1]), 0.025) < 0.0:
        return open_("its tangents change from redrawing to redrawing: the scatter hides the bend")
    return positive(
        _NAME, math.exp(crossing), "Pa", relative_error=float(np.std(again.crossing[usable], ddof=1)), degrees_of_freedom=freedom,
        method=method, conditions=conditions,
    )  # fmt: skip


def _scatter(x: FloatArray, y: FloatArray, crossing: float) -> tuple[FloatArray, float] | None:
    """Return the scatter of every point, one below and one above the crossing, and the degrees of freedom of the lesser known."""
    below = x <= crossing
    sides = [scatter_about_neighbours(x[side], y[side]) for side in (below, ~below)]
    known = [one for one in sides if one is not None]
    if len(known) < len(sides):
        return None
    return np.where(below, known[0][0], known[1][0]), min(one[1] for one in known)
