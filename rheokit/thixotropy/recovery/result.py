"""StepRecovery: what a rest-shear-recovery step test says, with its table and its figure."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rheokit.base.carry import Carried
from rheokit.base.errors import FitError, RangeError
from rheokit.base.estimate import Condition, Estimate, Source
from rheokit.base.finding import Finding
from rheokit.base.show import Table, number
from rheokit.fitting.result import Fit
from rheokit.fitting.selection import Comparison
from rheokit.thixotropy.recovery.course import Course
from rheokit.thixotropy.recovery.estimates import Asked, passing_estimate, ratio_estimate
from rheokit.thixotropy.recovery.figure import draw
from rheokit.thixotropy.recovery.summary import Row, recovery_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["StepRecovery"]

_SHOWN = (10.0, 30.0, 60.0, 300.0)
"""Times after the shear [s] at which a recovery is usually stated (common practice, no source)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class StepRecovery(Carried):
    """What a rest-shear-recovery step test says of one load. Time zero is the end of the shear.

    Two recoveries are told apart by name. The structural recovery r = (X - X_sheared)/(X_rest - X_sheared) is 0 where the shear ended
    and 1 at rest; the retained ratio q = X/X_rest leaves what shear did not take in the number. X is what is tracked.

    Where shear thinning alone lifts X as the rate drops, r starts above zero (`immediate_recovery`), and `half_time`, to r = 0.5, may be
    over before the first point; `half_way_time` counts from where the law starts to where it ends and so speaks of rebuilding alone.

    Attributes
    ----------
    course
        The three steps made ready, the law taken, rest and end of the shear.
    comparison
        Of the law with the others, or None where the caller named it.
    sources
        Of the three steps.
    findings
        What was seen on the way.
    """

    course: Course
    comparison: Comparison[Fit] | None
    sources: tuple[Source, ...]
    findings: tuple[Finding, ...]

    @property
    def fit(self) -> Fit:
        """The law taken, fitted."""
        return self.course.fit

    def fraction_at(self, time: float) -> Estimate:
        """Return the structural recovery r at a time after the shear.

        Parameters
        ----------
        time
            [s]. Outside the times measured the number is the law's; it is labelled as not determined.

        Raises
        ------
        RangeError
            When the time is negative or no number.
        FitError
            When what is tracked was not measured at rest or under shear.
        """
        at = _time(time)
        asked = self._structural("structural_recovery", self.course.outside(at), {"time": Condition(value=at, unit="s")})
        return self._placed(ratio_estimate(self.course, asked, lambda course: (course.at(at) - course.sheared(), course.taken())))

    def retained_ratio_at(self, time: float) -> Estimate:
        """Return the retained ratio q, X over X at rest, at a time after the shear [s]; as `fraction_at`."""
        at = _time(time)
        reason = self.course.unsettled("rest") or self.course.outside(at)
        asked = Asked(name="retained_ratio", words="retained ratio", conditions={"time": Condition(value=at, unit="s")}, reason=reason)
        return self._placed(ratio_estimate(self.course, asked, lambda course: (course.at(at), course.rested())))

    @property
    def immediate_recovery(self) -> Estimate:
        """Structural recovery as the shear ends, by the law: what comes with the change of rate alone, before anything rebuilds."""
        asked = self._structural("immediate_recovery", "", {})
        return self._placed(ratio_estimate(self.course, asked, lambda course: (course.at(0.0) - course.sheared(), course.taken())))

    @property
    def unrecovered_part(self) -> Estimate:
        """What the structural recovery still lacks on the law's plateau: 1 - r there."""
        asked = self._structural("unrecovered_part", self.course.no_rise() or self.course.unseen_plateau(), {})
        return self._placed(ratio_estimate(self.course, asked, lambda course: (course.rested() - course.plateau(), course.taken())))

    def time_to(self, fraction: float) -> Estimate:
        """Return the time after the shear [s] until the structural recovery is a fraction, with an interval that may be open.

        Where it is not reached, or was passed before the first point, the number is the last or first time measured, the interval says
        on which side the time lies, and the estimate is not determined.

        Raises
        ------
        RangeError
            When the fraction does not lie between 0 and 1, both excluded.
        FitError
            As `fraction_at`.
        """
        return self._time_to(fraction, "time_to_recovery", {"recovery": Condition(value=fraction, unit="1")})

    @property
    def half_time(self) -> Estimate:
        """Time after the shear [s] until r is one half: half of what shear took is back, whatever the plateau."""
        return self._time_to(0.5, "recovery_half_time", {})

    def _time_to(self, fraction: float, name: str, conditions: dict[str, Condition]) -> Estimate:
        if not 0.0 < fraction < 1.0:
            raise RangeError(f"a recovery to wait for lies between 0 and 1, not {fraction!r}")
        reason = self.course.no_reference()
        asked = Asked(name=name, words=f"r = {number(fraction, 3)}", conditions=conditions, reason=reason)
        found = passing_estimate(self.course, asked, lambda course: course.sheared() - course.taken().times(-fraction))
        # A time until a part of what cannot be told has no bounds either.
        return self._placed(replace(found, interval=None) if reason else found)

    @property
    def half_way_time(self) -> Estimate:
        """Time after the shear [s] until half of the way from the law's start to its plateau is done, whatever the rest was."""
        reason = self.course.unsettled("shear") or self.course.no_rise() or self.course.unseen_plateau()
        asked = Asked(name="recovery_half_way_time", words="half of the way to the plateau", reason=reason)
        return self._placed(
            passing_estimate(self.course, asked, lambda course: (course.at(0.0) - course.plateau().times(-1.0)).times(0.5)),
        )

    def _structural(self, name: str, reason: str, conditions: dict[str, Condition]) -> Asked:
        return Asked(name=name, words=name.replace("_", " "), conditions=conditions, reason=self.course.no_reference() or reason)

    def _placed(self, estimate: Estimate) -> Estimate:
        return replace(estimate, sources=self.sources, findings=self.findings)

    def table(self) -> Table:
        """Return the recoveries and times as a table, with the laws compared and what was seen."""
        return recovery_table(self.course, self._rows(), self.comparison, self.findings)

    def _rows(self) -> tuple[Row, ...]:
        """Return what stands in the table: each number, or why there is none."""
        asked: list[tuple[str, Callable[[], Estimate]]] = [
            *((f"structural recovery at {number(time, 2)} s", self._fraction(time)) for time in _SHOWN if not self.course.outside(time)),
            ("retained ratio at the end", lambda: self.retained_ratio_at(self.course.last)),
            ("immediate recovery", lambda: self.immediate_recovery),
            ("unrecovered part", lambda: self.unrecovered_part),
            ("half time, to r = 0.5", lambda: self.half_time),
            ("half-way time, start to plateau", lambda: self.half_way_time),
            ("time to r = 0.9", lambda: self.time_to(0.9)),
        ]
        rows = []
        for words, ask in asked:
            try:
                rows.append(Row(words=words, estimate=ask()))
            except FitError as error:
                rows.append(Row(words=words, estimate=None, reason=str(error)))
        return tuple(rows)

    def _fraction(self, time: float) -> Callable[[], Estimate]:
        return lambda: self.fraction_at(time)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the three steps, the law with its band, rest and half-way time on the axes given, else on a new figure; return the axes."""
        return draw(self.course, self._rows(), ax)


def _time(time: float) -> float:
    at = float(time)
    if not (math.isfinite(at) and at >= 0.0):
        raise RangeError(f"a time after the shear is zero or more, not {time!r}")
    return at
