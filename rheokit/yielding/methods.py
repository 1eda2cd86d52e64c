"""Every method of yield that the runs of one ink allow, in one table."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rheokit.base.carry import Carried
from rheokit.base.errors import FitError, RheokitError, printable
from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.run import Batch, Run, Step
from rheokit.base.show import Table, number, value_and_error
from rheokit.yielding.creep_bracket import creep_bracket
from rheokit.yielding.dynamic import dynamic_yield_stress
from rheokit.yielding.flow_point import flow_point
from rheokit.yielding.growth import static_yield_growth
from rheokit.yielding.linear_limit import linear_limit
from rheokit.yielding.low_rate import stress_at_low_rate
from rheokit.yielding.order import LOADS, OrderCheck, Placed, check_order
from rheokit.yielding.peak import static_yield_stress_peak
from rheokit.yielding.pen import USES, PenBound, first_stroke_bound, holding_bound
from rheokit.yielding.reading_off import YieldReading, interval_of, rest_before, span_words
from rheokit.yielding.side_by_side import Bar, SideBySide
from rheokit.yielding.tangents import static_yield_stress_tangents
from rheokit.yielding.viscosity_maximum import static_yield_stress_viscosity_maximum

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["YieldMethods", "yield_methods"]

_ORDER = tuple(USES)
_GROWTH = "static_yield_stress_growth"


@dataclass(frozen=True, kw_only=True, eq=False)
class YieldMethods(Carried):
    """Yield values of one ink by every method that its runs allow.

    Attributes
    ----------
    name
        Of the batch or run.
    readings
        What each method found, with its arrays and its figure.
    placed
        The stresses of all of them, each with its run, in the order of the table.
    order
        The comparisons that the expected order asks for.
    holding, first_stroke
        The two bounds that a refill is worked out with.
    findings
        What stands against the numbers: methods that gave none, orders reversed or not told, and what the methods saw.
    """

    name: str
    readings: tuple[YieldReading, ...]
    placed: tuple[Placed, ...]
    order: tuple[OrderCheck, ...]
    holding: PenBound
    first_stroke: PenBound
    findings: tuple[Finding, ...]

    def table(self) -> Table:
        """Return one row a method and run: value, 95 % interval, rest, run, and what it means for the pen."""
        rows = tuple(_row(one) for one in self.placed)
        columns = ("method", "value [Pa]", "95 % interval [Pa]", "rest [s]", "run", "for the pen")
        grown = (f"{reading.stress}: {USES[_GROWTH]}" for reading in self.readings if reading.stress.name == _GROWTH)
        notes = (str(self.holding), str(self.first_stroke), *grown, *map(_said, self.findings))
        title = f"{printable(self.name)}: yield values by every method measured"
        return Table(title=title, columns=columns, rows=rows, notes=notes, right=("value [Pa]", "rest [s]"))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw every method as an interval on one logarithmic stress axis, each with its words; return the axes."""
        bars = tuple(_bar(one) for one in self.placed)
        bounds = tuple((bound.use, bound.value) for bound in (self.holding, self.first_stroke) if bound.value is not None)
        return SideBySide(bars=bars, bounds=bounds).on(ax)


def yield_methods(
    runs: Batch | Run | Iterable[Run],
    *,
    laws: Sequence[str] = ("herschel_bulkley",),
    low_rate: float | None = None,
    tolerance: float = 0.05,
    rest: float | None = None,
    loads: float = LOADS,
    more: Sequence[Estimate] = (),
) -> YieldMethods:
    """Return the yield values of one ink by every method that its runs allow.

    Parameters
    ----------
    runs
        A batch (runs of the retained standard are left out), a run or several.
    laws
        By which dynamic yield stresses are taken.
    low_rate
        Rate [1/s] at which a stress is read; left out, none is.
    tolerance
        Of the linear range.
    rest
        How long samples rested [s] whose run does not show it, such as those of an amplitude sweep.
    loads
        Relative standard deviation between loads, for the order of values from unlike runs.
    more
        Estimates measured otherwise, such as one by a vane.

    Returns
    -------
    YieldMethods
        With one table and one figure.

    Raises
    ------
    FitError
        When there is neither a run nor an estimate.
    """
    name, chosen = _runs(runs)
    if not chosen and not more:
        raise FitError("no runs to take yield values from; give a batch, a run or several")
    readings: list[tuple[str, YieldReading]] = []
    failed: list[Finding] = []
    for run, step, what, method in _methods(chosen, laws, low_rate, tolerance, rest):
        try:
            readings.append((run, method()))
        except RheokitError as error:
            failed.append(Finding(check="yield_method_failed", severity="caution", reason=f"no {what}: {error}", source=f"{run}, {step}"))
    readings += _growth(readings)
    placed = [Placed(estimate=reading.stress, run=run) for run, reading in readings if reading.stress.name != _GROWTH]
    placed += [Placed(estimate=estimate, run="") for estimate in more]
    placed.sort(key=lambda one: (_place(one.estimate.name), one.rest or 0.0))
    order = check_order(placed, loads=loads)
    seen = (
        replace(finding, source=f"{run}, {reading.stress.name.replace('_', ' ')}")
        for run, reading in readings
        for finding in reading.findings
    )
    said = tuple(finding for check in order if (finding := check.finding()) is not None)
    return YieldMethods(
        name=name, readings=tuple(reading for _, reading in readings), placed=tuple(placed), order=order, holding=holding_bound(placed),
        first_stroke=first_stroke_bound(placed), findings=tuple(dict.fromkeys((*failed, *said, *seen))),
    )  # fmt: skip


def _runs(runs: Batch | Run | Iterable[Run]) -> tuple[str, tuple[Run, ...]]:
    if isinstance(runs, Batch):
        kept = tuple(run for run in runs.all_runs if run.name not in runs.places or runs.places[run.name].role == "batch")
        return runs.name, kept
    chosen = (runs,) if isinstance(runs, Run) else tuple(runs)
    return ", ".join(run.name for run in chosen), chosen


Method = Callable[[], YieldReading]


def _methods(
    runs: Sequence[Run], laws: Sequence[str], low_rate: float | None, tolerance: float, rest: float | None
) -> Iterator[tuple[str, str, str, Method]]:
    """Yield run, step, what it gives and how, for every method that a step allows."""
    lone: list[tuple[str, Step]] = []
    for run in runs:
        crept = [step for step in run.steps if step.kind == "creep"]
        if len(crept) == 1:
            lone.append((run.name, crept[0]))
        elif crept:
            rested = rest_before(run, crept[0]) or rest
            yield run.name, "creep", "creep bracket", lambda steps=crept, rested=rested: creep_bracket(steps, rest=rested)  # type: ignore[misc]
        for step in run.steps:
            rested = rest_before(run, step) or rest
            for what, method in _of_step(step, rested, laws, low_rate, tolerance):
                yield run.name, f"step {step.number}", what, method
    if lone:
        yield ", ".join(name for name, _ in lone), "creep", "creep bracket", lambda: creep_bracket([step for _, step in lone], rest=rest)


def _of_step(step: Step, rest: float | None, laws: Sequence[str], low_rate: float | None, tolerance: float) -> list[tuple[str, Method]]:
    """Return what a step gives and how."""
    if step.kind in {"down", "steady"} and step.controlled == "rate":
        found: list[tuple[str, Method]] = [
            (f"dynamic yield stress by {law}", lambda law=law: dynamic_yield_stress(step, law=law))  # type: ignore[misc]
            for law in laws
        ]
        return found if low_rate is None else [*found, ("stress at low rate", lambda: stress_at_low_rate(step, shear_rate=low_rate))]
    if step.kind == "stress_ramp":
        return [
            ("static yield stress by tangents", lambda: static_yield_stress_tangents(step, rest=rest)),
            ("static yield stress by viscosity maximum", lambda: static_yield_stress_viscosity_maximum(step, rest=rest)),
        ]
    if step.kind == "startup":
        return [("static yield stress by start-up peak", lambda: static_yield_stress_peak(step, rest=rest))]
    if step.kind == "amplitude_sweep":
        return [
            ("limit of the linear range", lambda: linear_limit(step, tolerance=tolerance, rest=rest)),
            ("flow point", lambda: flow_point(step, rest=rest)),
        ]
    return []


def _growth(readings: Sequence[tuple[str, YieldReading]]) -> list[tuple[str, YieldReading]]:
    """Return the line of the start-up peaks over their rests, where there are three of unlike rest."""
    found = [(run, reading.stress) for run, reading in readings if reading.stress.name == "static_yield_stress_peak"]
    usable = [peak for _, peak in found if peak.determined and "rest" in peak.conditions]
    if len({peak.conditions["rest"].value for peak in usable}) < 3 or len({str(peak.conditions.get("shear_rate")) for peak in usable}) > 1:
        return []
    return [(", ".join(dict.fromkeys(run for run, _ in found)), static_yield_growth([peak for _, peak in found]))]


def _said(finding: Finding) -> str:
    """Return a finding with what it is about: the law's "yield stress" alone would name neither method nor run."""
    return f"{finding.severity}: {f'{printable(finding.source)}: ' if finding.source else ''}{finding}"


def _place(name: str) -> int:
    return _ORDER.index(name) if name in _ORDER else len(_ORDER)


def _row(one: Placed) -> tuple[str, ...]:
    estimate = one.estimate
    value = value_and_error(estimate.value, estimate.standard_error)[0]
    held = interval_of(estimate)
    span = f"none: {estimate.reason}" if held is None else span_words(held)
    rest = "" if one.rest is None else number(one.rest, 3)
    shown = value if estimate.determined else "not determined"
    return one.name, shown, span, rest, one.run, USES.get(estimate.name, "")


def _bar(one: Placed) -> Bar:
    held = interval_of(one.estimate)
    # A file may be called anything; to matplotlib a dollar sign begins a formula.
    run = printable(one.run, 40).replace("$", r"\$")
    rest = run if one.rest is None else f"after {number(one.rest, 3)} s rest"
    return Bar(
        name=one.name, detail=rest, use=USES.get(one.estimate.name, ""), estimate=one.estimate,
        lower=one.estimate.value if held is None else held.lower, upper=one.estimate.value if held is None else held.upper,
    )  # fmt: skip
