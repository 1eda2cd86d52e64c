"""Course: the law of a step test with rest and end of the shear, the numbers that are made of them, and why some are not determined."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.errors import FitError
from rheokit.base.quantities import quantity
from rheokit.base.show import number
from rheokit.fitting.result import Fit
from rheokit.thixotropy.recovery.points import ReadyTest
from rheokit.thixotropy.recovery.settled import CLEAR, SettledEnd
from rheokit.thixotropy.recovery.uncertainty import Known, Mix

__all__ = ["REACHED", "Course"]

REACHED = 0.8
"""Share of the way from start to plateau from which the plateau counts as seen; below it, it is the law's and not the data's."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Course(Carried):
    """A step test followed by a law.

    Attributes
    ----------
    test
        The three steps made ready.
    rest_end, shear_end
        What rest and shear ended at, or None where what is tracked was not measured there.
    fit
        The law taken.
    known
        How well law, rest and end of the shear are known.
    misfit
        Why the law does not describe the points, or nothing where it does.
    rivals
        Weight and fit of the laws that have a say in the uncertainty.
    """

    test: ReadyTest
    rest_end: SettledEnd | None
    shear_end: SettledEnd | None
    fit: Fit
    known: Known
    misfit: str = ""
    rivals: tuple[tuple[float, Fit], ...] = ()

    @property
    def first(self) -> float:
        """First time used [s]."""
        return float(self.test.recovery.time[0])

    @property
    def last(self) -> float:
        """Last time used [s]."""
        return float(self.test.recovery.time[-1])

    @property
    def unit(self) -> str:
        """Unit of what is tracked."""
        return quantity(self.test.tracked).unit

    def between_laws(self, read: Callable[[Course], float]) -> float:
        """Return the root mean square by which a number read by other laws differs from that read by this one, by their weights.

        References
        ----------
        Burnham & Anderson, Model Selection and Multimodel Inference (2002), section 4.3 (from memory).
        """
        own = read(self)
        others = ((weight, read(replace(self, fit=fit, known=replace(self.known, fit=fit)))) for weight, fit in self.rivals)
        return math.sqrt(math.fsum(weight * (other - own) ** 2 for weight, other in others))

    def at(self, time: float) -> Mix:
        """Return the tracked quantity by the law at a time after the shear [s]."""
        at = np.array([time])
        return Mix(value=float(self.fit.value(at)[0]), gradient=self.fit.law.jacobian(at, *self.fit.values)[0])

    def plateau(self) -> Mix:
        """Return the law's plateau."""
        gradient = np.array([float(name == "plateau_value") for name in self.fit.law.names])
        return Mix(value=self.fit.parameters["plateau_value"].value, gradient=gradient)

    def rested(self) -> Mix:
        """Return the tracked quantity at rest.

        Raises
        ------
        FitError
            When it was not measured there.
        """
        if self.rest_end is None:
            raise FitError(
                f"the rest step has too few values of the {self.words} to compare with; track what it holds, or ask half_way_time"
            )
        return Mix(value=self.rest_end.value, gradient=np.zeros(len(self.fit.law.names)), rest=1.0)

    def sheared(self) -> Mix:
        """Return the tracked quantity as the shear ends, measured under shear; raises as `rested`."""
        if self.shear_end is None:
            raise FitError(
                f"the shear step has too few values of the {self.words}, so nobody knows what shear took; "
                "ask retained_ratio_at or half_way_time"
            )
        return Mix(value=self.shear_end.value, gradient=np.zeros(len(self.fit.law.names)), shear=1.0)

    def taken(self) -> Mix:
        """Return what shear took away; raises as `rested`."""
        return self.rested() - self.sheared()

    @property
    def words(self) -> str:
        """What is tracked, in words."""
        return self.test.tracked.replace("_", " ")

    def unsettled(self, which: str) -> str:
        """Say that rest or shear had not become steady, or nothing where it had."""
        end = self.rest_end if which == "rest" else self.shear_end
        return "" if end is None or end.steady else str(end.findings[0])

    def no_reference(self) -> str:
        """Say why there is no structural recovery, or nothing where there is."""
        unsettled = self.unsettled("rest") or self.unsettled("shear")
        if unsettled:
            return unsettled
        taken = self.taken()
        if taken.value <= self.known.reach(taken, CLEAR):
            error = number(self.known.error(taken), 2)
            return f"shear took nothing away that can be seen: {number(taken.value, 3)} {self.unit}, standard error {error} {self.unit}"
        return ""

    def no_rise(self) -> str:
        """Say that nothing rebuilds after the first point, or nothing where something does."""
        rise = self.at(self.last) - self.at(self.first)
        if rise.value > max(self.known.reach(rise, CLEAR), 1e-9 * abs(self.at(self.last).value)):
            return ""
        span, error = f"{number(self.first, 3)} to {number(self.last, 3)} s", self.known.error(rise)
        if not rise.gradient.any():
            return f"no recovery is seen from {span}: a constant describes the {self.words} as well as any law"
        shown = "" if error == 0.0 or math.isinf(error) else f", standard error {number(error, 2)} {self.unit}"
        return f"no recovery is seen for sure from {span}: the {self.words} changes by {number(rise.value, 2)} {self.unit}{shown}"

    def unseen_plateau(self) -> str:
        """Say that the plateau lies beyond the times measured, or nothing where it is seen."""
        way = self.plateau().value - self.at(0.0).value
        done = (self.at(self.last).value - self.at(0.0).value) / way if way else 1.0
        if not math.isfinite(self.known.error(self.plateau())):
            return "the data do not determine the plateau"
        if done >= REACHED:
            return ""
        return (
            f"the plateau lies beyond the times measured: at {number(self.last, 3)} s {number(100.0 * done, 2)} % of the way to it is done "
            f"(limit {number(100.0 * REACHED, 2)} %); measure longer"
        )

    def outside(self, time: float) -> str:
        """Say that a time [s] lies outside those measured, or nothing where it does not."""
        if self.first * (1.0 - 1e-9) <= time <= self.last * (1.0 + 1e-9):
            return ""
        span = f"{number(self.first, 3)} to {number(self.last, 3)} s"
        return f"{number(time)} s lies outside the measured {span}: there the law speaks, not the data"

    def slope(self, time: float) -> float:
        """Return the slope of the law in its unit per second, by the complex-step method, exact to rounding."""
        tiny = 1e-200
        at = np.array([complex(time, tiny)])
        return float(np.imag(self.fit.law.value(at, *self.fit.values))[0]) / tiny
