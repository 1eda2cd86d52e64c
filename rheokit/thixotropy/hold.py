"""Breakdown during a hold at one shear rate: how much, how fast, and by which law, the losers shown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.estimate import Condition, Estimate, estimates_table
from rheokit.base.finding import Finding
from rheokit.base.run import Step
from rheokit.base.show import Table, number
from rheokit.fitting.result import Fit
from rheokit.fitting.selection import DISTINGUISHABLE, STREAKS, Candidate, Comparison, compare_laws
from rheokit.statistics.scatter import scatter_about_neighbours
from rheokit.thixotropy.breakdown import BREAKDOWN_LAWS
from rheokit.thixotropy.breakdown.parameters import REFERENCE_TIME
from rheokit.thixotropy.hold_figure import draw_hold, parameter_words
from rheokit.thixotropy.hold_points import RATE_TOLERANCE, HoldPoints, hold_points
from rheokit.thixotropy.loop_method import TIME_ALIKE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["HoldBreakdown", "hold_breakdown"]

NO_SUPPORT = 10.0
"""Difference of AICc above which a law has essentially no support beside the best (Burnham & Anderson, Model Selection and Multimodel
Inference (2002), section 2.6; from memory)."""
NOISY = 0.05
"""Scatter of a point, relative: our own setting, that of the screening of sweeps."""


@dataclass(frozen=True, kw_only=True, eq=False)
class HoldBreakdown(Carried):
    """What a hold at one shear rate shows.

    Attributes
    ----------
    relative_drop
        Estimate `hold_relative_drop` [1]: (η1 - η2)/η1 of the viscosities of the first and the last point.
    weltmann_coefficient
        Estimate `weltmann_coefficient` [Pa]: B of τ = A - B ln(t/1 s), t since the hold began.
    stress_drop, breakdown_time
        Estimates [Pa] and [s] of the exponential law.
    comparison
        All laws, a steady stress among them, ranked by AICc under one weighting.
    shear_rate
        The rate held [1/s], median of the points.
    time, stress
        Points used: time since the hold began [s], shear stress [Pa], (N,).
    findings
        What was seen on the way: a flat hold, a noisy one, a rate that was not held, a shape that no law has.
    """

    relative_drop: Estimate
    weltmann_coefficient: Estimate
    stress_drop: Estimate
    breakdown_time: Estimate
    comparison: Comparison[Fit]
    shear_rate: float
    time: FloatArray
    stress: FloatArray
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        for name in ("time", "stress"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, name, values)

    @property
    def estimates(self) -> tuple[Estimate, ...]:
        """All estimates."""
        return self.relative_drop, self.weltmann_coefficient, self.stress_drop, self.breakdown_time

    def table(self) -> Table:
        """Return the estimates as a table, with what the comparison of the laws says."""
        table = estimates_table(self.estimates, title="hold breakdown")
        columns = tuple(name for name in table.columns if name != "conditions")
        rows = tuple((*row[:4], row[5]) for row in table.rows)
        span = f"{number(float(self.time[0]), 3)} to {number(float(self.time[-1]), 3)} s"
        notes = (
            f"held at {number(self.shear_rate)} 1/s, {self.time.size} points {span} after it began",
            self.comparison.conclusion,
            *(f"{finding.severity}: {finding}" for finding in self.findings),
        )
        return replace(table, columns=columns, rows=rows, notes=notes)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw points and laws, the best as a full line, on the axes given or new ones, and return the axes."""
        fits = tuple(one.fit for one in self.comparison.candidates if one.fit is not None)
        said = (f"held at {number(self.shear_rate, 3)} 1/s", *(parameter_words(one) for one in self.estimates))
        return draw_hold(ax, (self.time, self.stress), fits, said)


def hold_breakdown(step: Step, *, begin: float | None = None) -> HoldBreakdown:
    """Return what breaks down during a hold at one shear rate: how much from first to last point, and how fast by law.

    A steady stress, Weltmann's line over ln t and an exponential fall to a plateau are fitted under one weighting and ranked by AICc.
    What the points do not determine is not determined, and says why: the numbers of a law that has no support beside the best, a time
    longer than the hold, everything where the rate was not held.

    Parameters
    ----------
    step
        A step at one shear rate, as `run.step("hold")`; its points may begin while the drive still settles.
    begin
        When the hold began on the clock of the run [s]; left out, the step's own time says it.

    Returns
    -------
    HoldBreakdown
        Estimates, comparison of the laws, table and figure.

    Raises
    ------
    FitError
        When fewer than six points are usable, or a stress or the rate is not positive.

    References
    ----------
    The relative drop is that of the programme of DIN 51810-1 (rest, pre-shear, rest, ramp, hold), whose scope was read and text is not
    quoted; any hold time serves, and it is a condition of the number. Weltmann, J. Appl. Phys. 14 (1943) 343 (from memory).
    """
    points = hold_points(step, begin)
    comparison = compare_laws(points.time, points.stress, BREAKDOWN_LAWS, weighting="relative")
    by_name = {one.name: one for one in comparison.candidates}
    conditions = _conditions(points)
    flat = _flat(comparison)
    weltmann = _of_law(by_name["weltmann"], "weltmann_coefficient", comparison, conditions)
    drop, time = (_of_law(by_name["exponential_breakdown"], name, comparison, conditions) for name in ("stress_drop", "breakdown_time"))
    too_far = flat or _not_seen(time, points)
    estimates = {
        "relative_drop": _relative_drop(points, conditions),
        "weltmann_coefficient": weltmann,
        "stress_drop": _undetermined(drop, too_far),
        "breakdown_time": _undetermined(time, too_far),
    }
    findings = points.findings + _seen(comparison, flat)
    return HoldBreakdown(
        **{name: replace(_undetermined(one, points.unsteady), findings=findings) for name, one in estimates.items()},
        comparison=comparison,
        shear_rate=float(np.median(points.rate)),
        time=points.time,
        stress=points.stress,
        findings=findings,
    )


def _conditions(points: HoldPoints) -> dict[str, Condition]:
    rate, first, last = float(np.median(points.rate)), float(points.time[0]), float(points.time[-1])
    return {
        "shear_rate": Condition(value=rate, unit="1/s", within=RATE_TOLERANCE * rate),
        "from_time": Condition(value=first, unit="s", within=float(np.median(np.diff(points.time)))),
        "to_time": Condition(value=last, unit="s", within=TIME_ALIKE * last),
    }


def _relative_drop(points: HoldPoints, conditions: dict[str, Condition]) -> Estimate:
    viscosity = points.stress / points.rate
    left = float(viscosity[-1] / viscosity[0])
    scatter = scatter_about_neighbours(points.time, np.log(points.stress))
    plain = Estimate(
        name="hold_relative_drop",
        value=1.0 - left,
        unit="1",
        standard_error=None,
        reason="no scatter to be seen about the neighbours",
        method="viscosities of the first and the last point of the hold; error from the scatter of each point about its neighbours",
        conditions=conditions,
    )
    if scatter is None or scatter[0] == 0.0:
        return plain
    error = left * 2.0**0.5 * scatter[0]
    return replace(plain, standard_error=error, degrees_of_freedom=scatter[1], components={"fit": error}, reason="")


def _of_law(one: Candidate[Fit], name: str, comparison: Comparison[Fit], conditions: dict[str, Condition]) -> Estimate:
    """Return a parameter of one law, not determined where that law has no support beside the best."""
    if one.fit is None:
        raise FitError(f"the {one.name.replace('_', ' ')} law could not be fitted: {one.reason}")
    found = one.fit.parameters[name]
    said = {**conditions, **found.conditions}
    method = found.method
    if name == "weltmann_coefficient":
        said["reference_time"] = Condition(value=REFERENCE_TIME, unit="s")
        method = f"{method}; stress A at {number(REFERENCE_TIME, 1)} s after the hold began"
    found = replace(found, conditions=said, method=method)
    if one.reason:
        return _undetermined(found, one.reason)
    if one.difference > NO_SUPPORT:
        best = comparison.ranked[0].name.replace("_", " ")
        return _undetermined(found, f"the {best} law describes the hold better (AICc by {number(one.difference, 2)})")
    return found


def _undetermined(estimate: Estimate, reason: str) -> Estimate:
    return replace(estimate, determined=False, reason=reason) if reason and estimate.determined else estimate


def _flat(comparison: Comparison[Fit]) -> str:
    """Say that a steady stress describes the points as well as any law, or nothing."""
    steady = next((one for one in comparison.ranked if one.name == "steady_stress"), None)
    if steady is None or not steady.difference < DISTINGUISHABLE or steady.runs < STREAKS:
        return ""
    return "the hold is flat: a steady stress describes its points as well as a breakdown does"


def _not_seen(time: Estimate, points: HoldPoints) -> str:
    """Say why the time of the exponential law is read from nothing that was seen, or nothing."""
    lasted, first = float(points.time[-1] - points.time[0]), float(points.time[1])
    if time.value > lasted:
        return f"the hold ended ({number(lasted, 3)} s) before the plateau was seen; hold longer"
    if time.value < 0.5 * first:
        return f"the breakdown was over before the second point ({number(first, 3)} s); record faster"
    return ""


def _seen(comparison: Comparison[Fit], flat: str) -> tuple[Finding, ...]:
    """Return what the laws show of the hold as a whole."""
    found = []
    if flat:
        found.append(Finding(check="hold_flat", severity="info", reason=flat))
    ranked = comparison.ranked
    if not ranked or ranked[0].fit is None:
        return tuple(found)
    scatter = ranked[0].fit.spread.scale
    if scatter > NOISY:
        reason = f"the points scatter by {scatter:.1%} about the best law; a smaller change is not seen"
        found.append(Finding(check="hold_noisy", severity="caution", reason=reason, value=scatter, limit=NOISY, unit="1"))
    if ranked[0].runs < STREAKS:
        reason = "the residuals of the best law go in streaks: none of the laws has the shape of this hold"
        found.append(Finding(check="hold_shape", severity="caution", reason=reason, value=ranked[0].runs, limit=STREAKS, unit="1"))
    return tuple(found)
