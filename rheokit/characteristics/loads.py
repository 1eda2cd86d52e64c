"""A characteristic of a batch from its loads: measured on each, then combined to one Estimate."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from rheokit.base.errors import RheokitError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.finding import Finding
from rheokit.base.run import Batch, Run
from rheokit.base.show import number
from rheokit.characteristics.characteristic import At, Characteristic
from rheokit.characteristics.repeat_limits import repeat_findings
from rheokit.statistics.budget import Budget, Part
from rheokit.statistics.combination import combine_loads
from rheokit.statistics.outlying import grubbs
from rheokit.statistics.precision import CRITICAL_RANGE_FACTORS, StatedUncertainty, critical_range

__all__ = ["ESTIMATED", "Measured", "combine_measured", "measure"]

ESTIMATED = "repeatability_estimated"
"""Check by which a finding says that the scatter of the loads at hand is all that is known of their repeatability."""


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What came of measuring one characteristic on one load: an Estimate, or the reason why there is none."""

    run: str
    load: int
    estimate: Estimate | None
    reason: str = ""


def measure(
    batch: Batch,
    characteristic: Characteristic,
    *,
    test: str,
    step: str | int | None,
    at: At,
    role: Literal["batch", "reference"] = "batch",
) -> tuple[Measured, ...]:
    """Measure a characteristic on every load of a test, or take the entered results of that name.

    The loads are those of the batch, or those of the retained standard (`role="reference"`) that was measured beside it. A load on which
    it cannot be measured is kept with the reason; nothing is left out in silence.
    """
    if characteristic.needs == "entered":
        entered = [result for result in batch.entered if result.name == characteristic.name]
        return tuple(Measured(run="entered", load=load, estimate=result) for load, result in enumerate(entered, 1))
    found = []
    for index, run in enumerate(batch.runs.get(test, ()), 1):
        place = batch.places.get(run.name)
        if (place.role if place else "batch") != role:
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
    found = characteristic.measure(run, chosen, at)
    return replace(found, name=characteristic.name, sources=found.sources or (run.source_of(chosen),))


def combine_measured(
    measured: Sequence[Measured], repeatability: StatedUncertainty | None, parts: Mapping[str, StatedUncertainty] | None = None
) -> Estimate | None:
    """Return the loads as one Estimate, or None when no load has one.

    With a repeatability it is their mean, and its standard deviation over the root of the number of loads is the part `load` of the
    standard error: it is that of the REPORTED number and already contains the scatter of points and fits; where a load's own scatter is
    larger, that counts, with a caution. Without a repeatability two or more loads are combined by their scatter between (the part `load`)
    and inside (the part `fit`), known to one degree of freedom less than there are loads, and a load that lies apart is a caution; for
    one load its own error stands in (the part `fit`), which sees only the scatter of points inside it. Results that were entered with an
    uncertainty keep it (the part `entered`).

    Parameters
    ----------
    measured
        What came of each load.
    repeatability
        Standard deviation between loads.
    parts
        What is known besides: `day`, `calibration`, `geometry`, `temperature`. More loads do not make them smaller, and they are added
        to an uncertainty that was entered as well. The calibration is only what does not cancel.

    References
    ----------
    ISO 5725-6:1994, 5.2 (critical range); the uncertainty of a mean of loads, s²/n: JCGM 100:2008, 4.2.3; sum of the parts and its
    degrees of freedom: 5.1.2 and G.4.1; without a repeatability: `rheokit.statistics.combination`.
    """
    kept = [(result.run, result.estimate) for result in measured if result.estimate is not None]
    if not kept:
        return None
    names, loads = [name for name, _ in kept], [load for _, load in kept]
    if not _is_entered(loads):  # entered results carry the time of each
        for other in loads[1:]:
            loads[0].require_comparable(other)
    mean = math.fsum(load.value for load in loads) / len(loads)
    how = f"mean of {len(loads)} loads" if len(loads) > 1 else "one load"
    if repeatability is None and len(loads) > 1 and not _is_entered(loads):
        mean, how, error = _from_their_scatter(loads, names)
    else:
        error = _error_of_mean(loads, mean, repeatability)
    budget = _budget(error, mean, parts or {})
    undetermined = next((load.reason for load in loads if not load.determined), "")
    return Estimate(
        name=loads[0].name,
        value=mean,
        unit=loads[0].unit,
        standard_error=budget.standard_uncertainty if budget else None,
        degrees_of_freedom=budget.degrees_of_freedom if budget else None,
        components=_components(error, budget),
        method="; ".join((how, loads[0].method, *_said(error, budget))),
        conditions=loads[0].conditions,
        determined=not undetermined,
        reason=undetermined or ("" if budget else error.said),
        sources=tuple(dict.fromkeys(source for load in loads for source in load.sources)),
        findings=(
            *(finding for load in loads for finding in load.findings),
            *error.findings,
            *_agreement(loads, names, mean, repeatability),
        ),
    )


class _Error(NamedTuple):
    """Standard error of the combined number (None where not known), its degrees of freedom, its parts, and the words for it."""

    size: float | None
    freedom: float | None
    parts: Mapping[str, float]
    said: str
    findings: tuple[Finding, ...] = ()


_LOADS = "the loads themselves"
"""Stands in a budget for the error of the combined number, whose parts are known to the same degrees of freedom."""


def _budget(error: _Error, mean: float, parts: Mapping[str, StatedUncertainty]) -> Budget | None:
    """Return the parts of the standard error, or None where that of the loads is not known."""
    if error.size is None or error.freedom is None:
        return None
    others = {name: Part(size=known.standard_deviation(mean), degrees_of_freedom=known.degrees_of_freedom) for name, known in parts.items()}
    return Budget(parts={_LOADS: Part(size=error.size, degrees_of_freedom=error.freedom), **others})


def _components(error: _Error, budget: Budget | None) -> dict[str, float]:
    if budget is None:
        return {}
    return {**error.parts, **{name: size for name, size in budget.sizes.items() if name != _LOADS}}


def _said(error: _Error, budget: Budget | None) -> list[str]:
    if budget is None:
        return []
    others = [name for name in budget.sizes if name != _LOADS]
    return [error.said, *([f"with {', '.join(others)} added"] if others else [])]


def _from_their_scatter(loads: Sequence[Estimate], names: Sequence[str]) -> tuple[float, str, _Error]:
    """Return the loads combined by nothing but their own scatter, between and inside: the number, how, and its error."""
    errors = [load.standard_error for load in loads if load.standard_error is not None]
    known = len(errors) == len(loads)
    found = combine_loads(
        [load.value for load in loads],
        errors if known else None,
        degrees_of_freedom=[load.degrees_of_freedom or math.inf for load in loads] if known else None,
        load_names=names,
        name=loads[0].name,
        unit=loads[0].unit,
    )
    if found.standard_error is None:
        return found.value, found.method, _Error(None, None, {}, found.estimate.reason)
    apart = repeat_findings(loads, found.value)
    said = "no repeatability is known: the error is from the scatter of these few loads"
    degrees = "1 degree" if len(loads) == 2 else f"{len(loads) - 1} degrees"
    note = Finding(check=ESTIMATED, severity="info", reason=f"{said} and has {degrees} of freedom: nothing passes or fails by it")
    findings = (note, *apart, *found.findings)
    return found.value, found.method, _Error(found.standard_error, found.degrees_of_freedom, found.components, said, findings)


def _is_entered(loads: Sequence[Estimate]) -> bool:
    """Tell whether all were typed in: such a result carries the moment of it, in words; a time [s] is a condition of measuring."""
    moments = (load.conditions.get("time") for load in loads)
    return all(moment is not None and isinstance(moment.value, str) for moment in moments)


def _error_of_mean(loads: Sequence[Estimate], mean: float, repeatability: StatedUncertainty | None) -> _Error:
    own = _own_error(loads)
    if repeatability is None or "entered" in own.parts:
        return own
    stated = repeatability.standard_deviation(mean) / math.sqrt(len(loads))
    if not stated > 0.0:
        return _Error(None, None, {}, "a relative repeatability says nothing about a mean of zero")
    if own.size is not None and own.size > stated:
        unit = loads[0].unit
        shown = "" if unit == "1" else f" {unit}"
        reason = (
            f"the scatter inside the loads gives a standard error of {number(own.size, 2)}{shown}, more than the stated repeatability's "
            f"{number(stated, 2)}{shown}; the larger one counts: look why these loads scatter more"
        )
        found = Finding(check="repeatability_exceeded", severity="caution", value=own.size, limit=stated, unit=unit, reason=reason)
        return _Error(own.size, own.freedom, {"load": own.size}, "standard error from the scatter inside the loads", (found,))
    return _Error(stated, repeatability.degrees_of_freedom, {"load": stated}, "standard error from the stated repeatability")


def _own_error(loads: Sequence[Estimate]) -> _Error:
    """Return the error of the mean that the loads' own errors give."""
    errors = [load.standard_error for load in loads if load.standard_error is not None]
    if len(errors) < len(loads):
        return _Error(None, None, {}, next(load.reason for load in loads if load.standard_error is None))
    size = math.sqrt(math.fsum(error**2 for error in errors)) / len(loads)
    freedom = min(load.degrees_of_freedom or math.inf for load in loads)
    if all("entered" in load.components for load in loads):
        return _Error(size, freedom, {"entered": size}, "standard uncertainty as entered")
    return _Error(size, freedom, {"fit": size}, "no repeatability is known: the error holds only the scatter inside a load")


def _agreement(
    loads: Sequence[Estimate], names: Sequence[str], mean: float, repeatability: StatedUncertainty | None
) -> tuple[Finding, ...]:
    """Return an invalid finding when loads disagree, are one result copied, or are too many for a critical range to be known."""
    if len(loads) < 2:
        return ()
    if _is_entered(loads):
        odd = _entered_oddity(loads)
        if odd:
            return (Finding(check="entered_results", severity="invalid", reason=odd, source=loads[0].name),)
    spread = _spread_of_one(loads, mean, repeatability)
    if spread is None:
        return ()
    if len(loads) not in CRITICAL_RANGE_FACTORS:
        reason = (
            f"{len(loads)} loads; a critical range is known for at most {max(CRITICAL_RANGE_FACTORS)}: measure what the method asks for"
        )
        return (Finding(check="critical_range", severity="invalid", reason=reason, source=loads[0].name),)
    seen, allowed = critical_range([load.value for load in loads], spread)
    if seen <= allowed:
        return ()
    unit, factor = loads[0].unit, CRITICAL_RANGE_FACTORS[len(loads)]
    apart = grubbs([load.value for load in loads], names)
    farthest = f", {apart.name} lying farthest from the others" if apart else ""
    reason = (
        f"the loads give {', '.join(number(load.value) for load in loads)} {unit}{farthest}: their range exceeds the critical range "
        f"{number(allowed, 3)} {unit} ({factor} times the repeatability standard deviation); look for the cause and load fresh sample"
    )
    return (Finding(check="critical_range", severity="invalid", value=seen, limit=allowed, unit=unit, source=loads[0].name, reason=reason),)


def _entered_oddity(loads: Sequence[Estimate]) -> str:
    if len({load.method for load in loads}) > 1:
        return "results by different methods are not averaged; keep those of one method in results.csv"
    if len({(load.value, str(load.conditions["time"])) for load in loads}) < len(loads):
        return "the same result stands twice in results.csv; take one away"
    return ""


def _spread_of_one(loads: Sequence[Estimate], mean: float, repeatability: StatedUncertainty | None) -> float | None:
    """Return the standard deviation of one result: by the stated repeatability, else the largest that was entered."""
    entered = [load.standard_error for load in loads if load.standard_error is not None and "entered" in load.components]
    if len(entered) == len(loads):
        return max(entered)
    return None if repeatability is None else repeatability.standard_deviation(mean)
