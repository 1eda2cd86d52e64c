"""What a method of yield gives: Estimates with their intervals, a table, and the reason where the data do not determine a number."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.estimate import Condition, Estimate, Interval
from rheokit.base.finding import Finding
from rheokit.base.run import Run, Step
from rheokit.base.show import Table, number, value_and_error
from rheokit.statistics.student import student_quantile

__all__ = [
    "LARGEST",
    "LEVEL",
    "YieldReading",
    "countable",
    "interval_of",
    "not_determined",
    "positive",
    "rest_before",
    "since_start",
    "span_words",
    "stated",
]

LEVEL = 0.95
"""Of every interval here."""

LARGEST = 1e30
"""Numbers beyond it in any SI unit, or below its inverse, are no reading of an instrument."""

WIDEST = 0.5
"""Relative standard error beyond which a positive number is called not determined: its interval spans a factor of seven (our setting)."""

_NO_SCATTER: Mapping[bool, str] = MappingProxyType(
    {True: "too few points to see their scatter", False: "the points show no scatter, so there is nothing to judge an error by"}
)


@dataclass(frozen=True, kw_only=True, eq=False)
class YieldReading(Carried):
    """What one method found in one step; each method adds the arrays that its figure draws.

    Attributes
    ----------
    estimates
        The numbers, the stress first.
    findings
        What was seen on the way.
    """

    estimates: tuple[Estimate, ...]
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        for name, held in vars(self).items():
            if isinstance(held, np.ndarray):
                values = np.array(held)
                values.setflags(write=False)
                object.__setattr__(self, name, values)

    @property
    def stress(self) -> Estimate:
        """The stress that the method finds [Pa]."""
        return self.estimates[0]

    def table(self) -> Table:
        """Return the numbers as a table, each with its interval or the reason why it is not determined."""
        rows = tuple(_row(estimate) for estimate in self.estimates)
        columns = ("quantity", "value", "95 % interval", "unit", "conditions", "method or reason")
        notes = tuple(f"{finding.severity}: {finding}" for finding in self.findings)
        return Table(title="", columns=columns, rows=rows, notes=notes, right=("value",))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _row(estimate: Estimate) -> tuple[str, ...]:
    value = value_and_error(estimate.value, estimate.standard_error)[0]
    held = interval_of(estimate)
    span = "none" if held is None else span_words(held)
    conditions = ", ".join(f"{key.replace('_', ' ')} {condition}" for key, condition in estimate.conditions.items())
    shown = value if estimate.determined else f"({value}) not determined"
    return estimate.name.replace("_", " "), shown, span, estimate.unit, conditions, estimate.reason or estimate.method


def span_words(held: Interval) -> str:
    """Return the ends of an interval with as many digits as its width has a use for."""
    if math.isinf(held.lower) or math.isinf(held.upper) or held.lower <= 0.0:
        return f"{number(held.lower, 3)} to {number(held.upper, 3)}"
    half = 0.5 * (held.upper - held.lower)
    digits = 4 if half <= 0.0 else 2 + math.floor(math.log10(held.upper)) - math.floor(math.log10(half))
    return " to ".join(number(end, min(max(digits, 3), 6)) for end in (held.lower, held.upper))


def interval_of(estimate: Estimate) -> Interval | None:
    """Return the 95 % interval of an estimate: its own, else by Student's t, else None."""
    if estimate.interval is not None:
        return estimate.interval
    if estimate.standard_error is None or estimate.degrees_of_freedom is None:
        return None
    reach = student_quantile(0.5 + 0.5 * LEVEL, estimate.degrees_of_freedom) * estimate.standard_error
    return Interval(lower=estimate.value - reach, upper=estimate.value + reach, level=LEVEL)


def positive(
    name: str,
    value: float,
    unit: str,
    *,
    relative_error: float | None,
    degrees_of_freedom: float,
    method: str,
    conditions: Mapping[str, Condition],
    findings: tuple[Finding, ...] = (),
) -> Estimate:
    """Return the estimate of a positive number whose logarithm has that standard error; its interval is even in the logarithm."""
    if relative_error is None or not relative_error > 0.0 or not degrees_of_freedom > 0.0:
        reason = _NO_SCATTER[relative_error is None or not degrees_of_freedom > 0.0]
        return Estimate(
            name=name, value=value, unit=unit, standard_error=None, reason=reason, method=method, conditions=conditions, findings=findings
        )
    if not relative_error <= WIDEST:
        said = f"its standard error is {relative_error:.0%} of it: the scatter leaves it open"
        return not_determined(name, value, unit, reason=said, method=method, conditions=conditions, findings=findings)
    reach = math.exp(student_quantile(0.5 + 0.5 * LEVEL, degrees_of_freedom) * relative_error)
    error = value * relative_error
    return Estimate(
        name=name,
        value=value,
        unit=unit,
        standard_error=error,
        degrees_of_freedom=degrees_of_freedom,
        components={"fit": error},
        interval=Interval(lower=value / reach, upper=value * reach, level=LEVEL) if math.isfinite(reach) else None,
        method=method,
        conditions=conditions,
        findings=findings,
    )


def not_determined(
    name: str,
    value: float,
    unit: str,
    *,
    reason: str,
    method: str,
    conditions: Mapping[str, Condition],
    lower: float = 0.0,
    upper: float = math.inf,
    findings: tuple[Finding, ...] = (),
) -> Estimate:
    """Return an estimate that is not to be used, with the bounds that the data do give and a finding that says why."""
    said = Finding(check="yield_not_determined", severity="caution", reason=f"{name.replace('_', ' ')} is not determined: {reason}")
    return Estimate(
        name=name,
        value=value,
        unit=unit,
        standard_error=None,
        determined=False,
        reason=reason,
        method=method,
        conditions=conditions,
        interval=Interval(lower=lower, upper=upper, level=LEVEL, reason=reason),
        findings=(*findings, said),
    )


def stated(method: str, *, rest: float | None = None, shear_rate: float | None = None) -> dict[str, Condition]:
    """Return the conditions of a yield value: its method, and rest [s] and rate [1/s] to three digits, as a programme sets them."""
    found = {"method": Condition(value=method)}
    for name, value, unit in (("rest", rest, "s"), ("shear_rate", shear_rate, "1/s")):
        if value is not None:
            found[name] = Condition(value=float(f"{value:.2e}"), unit=unit)
    return found


def rest_before(run: Run, step: Step) -> float | None:
    """Return how long [s] the sample rested before a step, None where the run has no rest before it.

    From the end of the step before the rest where there is one, else from the first row of the rest.
    """
    place = next((index for index, one in enumerate(run.steps) if one.number == step.number), 0)
    if not place or run.steps[place - 1].kind != "rest" or "time" not in run.steps[place - 1].columns:
        return None
    resting = run.steps[place - 1].time
    before = run.steps[place - 2] if place > 1 else None
    begun = float(before.time[-1]) if before is not None and "time" in before.columns else float(resting[0])
    lasted = float(resting[-1]) - begun
    return lasted if math.isfinite(lasted) and lasted > 0.0 else None


def countable(*columns: FloatArray) -> NDArray[np.bool_]:
    """Return which rows hold a positive number in every column, of a size that an instrument can mean, (N,)."""
    return np.asarray(np.logical_and.reduce([(column > 1.0 / LARGEST) & (column < LARGEST) for column in columns]), dtype=bool)


def since_start(step: object, time: FloatArray) -> FloatArray:
    """Return the times [s] since a step began: its own clock where it has one, else the first interval is taken as long as the next."""
    own = step.columns.get("step_time") if isinstance(step, Step) else None
    if own is not None and np.isfinite(own).all():
        return own
    if time.size < 2:
        raise FitError("fewer than two points: nothing can be seen of their course")
    if not np.isfinite(time).all():
        raise FitError("times are missing: nothing can be seen of the step's course")
    return np.asarray(time - time[0] + (time[1] - time[0]))
