"""A characteristic of a batch from its loads: measured on each, then combined to one Estimate."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from rheokit.base.errors import RheokitError
from rheokit.base.estimate import Condition, Estimate, Source
from rheokit.base.finding import Finding
from rheokit.base.run import Batch, Run
from rheokit.base.show import number
from rheokit.characteristics.characteristic import At, Characteristic
from rheokit.statistics.precision import CRITICAL_RANGE_FACTORS, Repeatability, critical_range

__all__ = ["Measured", "combine_loads", "measure"]


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What came of measuring one characteristic on one load: an Estimate, or the reason why there is none."""

    run: str
    load: int
    estimate: Estimate | None
    reason: str = ""


def measure(batch: Batch, characteristic: Characteristic, *, test: str, step: str | int | None, at: At) -> tuple[Measured, ...]:
    """Measure a characteristic on every load of a test, or take the entered results of that name.

    A load on which it cannot be measured is kept with the reason; nothing is left out in silence.
    """
    if characteristic.needs == "entered":
        entered = [result for result in batch.entered if result.name == characteristic.name]
        return tuple(Measured(run="entered", load=load, estimate=result) for load, result in enumerate(entered, 1))
    found = []
    for index, run in enumerate(batch.runs.get(test, ()), 1):
        place = batch.places.get(run.name)
        if place and place.role == "reference":
            continue  # the retained standard's runs are compared with, never judged
        load = place.load if place else index
        try:
            estimate = _measure_run(characteristic, run, step, at)
        except RheokitError as error:
            found.append(Measured(run=run.name, load=load, estimate=None, reason=str(error)))
            continue
        conditions = {**estimate.conditions, "test": Condition(value=test)}
        if step is not None:
            conditions["step"] = Condition(value=str(step))
        if place and place.set_temperature is not None:
            conditions["set_temperature"] = Condition(value=place.set_temperature, unit="K")
        found.append(Measured(run=run.name, load=load, estimate=replace(estimate, conditions=conditions)))
    return tuple(found)


def _measure_run(characteristic: Characteristic, run: Run, step: str | int | None, at: At) -> Estimate:
    assert characteristic.measure is not None
    if characteristic.needs == "loop":
        found = characteristic.measure(run, None, at)
        return replace(found, name=characteristic.name, sources=(run.source_of(run.step("up")), run.source_of(run.step("down"))))
    assert step is not None
    chosen = run.step(step)
    return replace(characteristic.measure(run, chosen, at), name=characteristic.name, sources=(run.source_of(chosen),))


def combine_loads(measured: Sequence[Measured], repeatability: Repeatability | None) -> Estimate | None:
    """Return the mean of the loads as one Estimate, or None when no load has one.

    With a repeatability its standard deviation over the root of the number of loads is the standard error: it is that of the REPORTED
    number and already contains the scatter of points and fits. Without one the loads' own errors stand in, which see only the scatter
    of points inside a load. Results that were entered with an uncertainty keep it.

    References
    ----------
    ISO 5725-6:1994, 5.2 (critical range); the uncertainty of a mean of loads, s²/n: JCGM 100:2008, 4.2.3.
    """
    loads = [result.estimate for result in measured if result.estimate is not None]
    if not loads:
        return None
    if "time" not in loads[0].conditions:  # entered results carry the time of each
        for other in loads[1:]:
            loads[0].require_comparable(other)
    mean = math.fsum(load.value for load in loads) / len(loads)
    findings = tuple(finding for load in loads for finding in load.findings) + _range_finding(loads, mean, repeatability)
    sources: tuple[Source, ...] = tuple(dict.fromkeys(source for load in loads for source in load.sources))
    undetermined = next((load.reason for load in loads if not load.determined), "")
    error, freedom, part, said = _error_of_mean(loads, mean, repeatability)
    how = f"mean of {len(loads)} loads" if len(loads) > 1 else "one load"
    return Estimate(
        name=loads[0].name,
        value=mean,
        unit=loads[0].unit,
        standard_error=error,
        degrees_of_freedom=freedom,
        components={} if error is None else {part: error},
        method=f"{how}; {loads[0].method}" + (f"; {said}" if error is not None else ""),
        conditions=loads[0].conditions,
        determined=not undetermined,
        reason=undetermined or (said if error is None else ""),
        sources=sources,
        findings=findings,
    )


def _error_of_mean(
    loads: Sequence[Estimate], mean: float, repeatability: Repeatability | None
) -> tuple[float | None, float | None, str, str]:
    """Return standard error, degrees of freedom, the budget's part and the words for it."""
    count = len(loads)
    errors = [load.standard_error for load in loads if load.standard_error is not None]
    entered = len(errors) == count and all("entered" in load.components for load in loads)
    if repeatability is not None and not entered:
        error = repeatability.standard_deviation(mean) / math.sqrt(count)
        if error > 0.0:
            return error, repeatability.degrees_of_freedom, "load", "standard error from the stated repeatability"
        return None, None, "", "a relative repeatability says nothing about a mean of zero"
    if len(errors) < count:
        missing = next(load.reason for load in loads if load.standard_error is None)
        return None, None, "", missing
    error = math.sqrt(math.fsum(size**2 for size in errors)) / count
    freedom = min(load.degrees_of_freedom or math.inf for load in loads)
    if entered:
        return error, freedom, "entered", "standard uncertainty as entered"
    return error, freedom, "fit", "no repeatability is known: the error holds only the scatter inside a load"


def _range_finding(loads: Sequence[Estimate], mean: float, repeatability: Repeatability | None) -> tuple[Finding, ...]:
    if repeatability is None or len(loads) not in CRITICAL_RANGE_FACTORS:
        return ()
    seen, allowed = critical_range([load.value for load in loads], repeatability.standard_deviation(mean))
    if seen <= allowed:
        return ()
    unit = loads[0].unit
    factor = CRITICAL_RANGE_FACTORS[len(loads)]
    values = ", ".join(number(load.value) for load in loads)
    return (
        Finding(
            check="critical_range",
            severity="invalid",
            value=seen,
            limit=allowed,
            unit=unit,
            source=loads[0].name,
            reason=f"the loads give {values} {unit}: their range exceeds the critical range {number(allowed, 3)} {unit} "
            f"({factor} times the repeatability standard deviation); look for the cause and load fresh sample",
        ),
    )
