"""Divide the points of a run into steps, by the step column or by a clock that starts again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.run import Controlled, Step, StepKind
from rheokit.reading.kinds import Told, tell_kinds
from rheokit.reading.layout import LayoutStep
from rheokit.reading.pieces import Runs
from rheokit.reading.profile import changes_of
from rheokit.reading.rotation import turned_forward
from rheokit.reading.shape import told
from rheokit.reading.shapes import shape_of, tops_of

__all__ = ["divide_into_steps"]

_NONE_NAMED: Mapping[int, LayoutStep] = MappingProxyType({})

_CONTROLLED_BY: Mapping[StepKind, Controlled] = MappingProxyType(
    {
        "stress_ramp": "stress",
        "creep": "stress",
        "creep_recovery": "stress",
        "amplitude_sweep": "strain",
        "frequency_sweep": "strain",
        "temperature_ramp": "temperature",
    }
)
"""What is controlled in a kind of step that is never controlled otherwise."""

_FIRST_INTERVALS = 1.5
"""[1] A step is recorded from its start, or from one interval after it; half an interval is left for an uneven clock (our choice)."""


def divide_into_steps(
    values: Mapping[str, FloatArray],
    labels: Sequence[str] | None,
    lines: Sequence[int],
    named: Mapping[int, LayoutStep] = _NONE_NAMED,
) -> tuple[tuple[Step, ...], tuple[Finding, ...]]:
    """Return the steps of a run and what was seen while dividing it.

    Parameters
    ----------
    values
        Quantity name to values [SI], each of shape (N,).
    labels, lines
        Step label (None without a step column) and line in the file of each row.
    named
        Number of a step to the kind that a layout file names, which counts.
    """
    starts, findings = _starts(values, labels, lines)
    columns, more = _with_time(values, starts)
    ends = [*starts[1:], len(lines)]
    parts = [{name: column[start:end] for name, column in columns.items()} for start, end in zip(starts, ends, strict=True)]
    parts, turned, about_rotation = turned_forward(parts)
    with np.errstate(all="ignore"):
        tops = tops_of(columns)
        kinds = tell_kinds([shape_of(part, tops) for part in parts])
    steps = []
    for number, (part, start, end, by_profile) in enumerate(zip(parts, starts, ends, kinds, strict=True), 1):
        rows = lines[start], lines[end - 1]
        kind = _as_named(by_profile, named[number]) if number in named else by_profile
        aside = (turned[number - 1],) if number - 1 in turned else ()
        seen = tuple(
            Finding(check=one.check, severity=one.severity, reason=f"step {number}: {one.reason}", rows=rows)
            for one in (*kind.findings, *aside, *_clock_runs_back(part, lines[start:end]))
        )
        steps.append(Step(number=number, kind=kind.kind, controlled=kind.controlled, columns=part, rows=rows, findings=seen))
    return tuple(steps), (*findings, *more, *about_rotation, *_absent(named, len(steps)))


def _as_named(by_profile: Told, named: LayoutStep) -> Told:
    """Return what a layout file says a step is; where the numbers look like something else, that is said."""
    control = named.controlled or _CONTROLLED_BY.get(named.kind) or by_profile.controlled
    if (named.kind, control) == (by_profile.kind, by_profile.controlled):
        return Told(kind=named.kind, controlled=control, findings=told("the layout file names the kind, and the numbers agree"))
    looks = f"{by_profile.kind} controlled by {by_profile.controlled}"
    unsure = any(finding.severity != "info" for finding in by_profile.findings)
    reason = f"the layout file names it {named.kind} controlled by {control}, which counts; the numbers look like {looks}"
    return Told(kind=named.kind, controlled=control, findings=told(reason, "info" if unsure else "caution"))


def _absent(named: Mapping[int, LayoutStep], count: int) -> tuple[Finding, ...]:
    beyond = sorted(number for number in named if number > count)
    if not beyond:
        return ()
    numbers = ", ".join(map(str, beyond))
    reason = f"the layout file names step {numbers}, and the run has {count}: steps may be missing, or the layout is another's"
    return (Finding(check="layout_steps", severity="caution", reason=reason),)


def _starts(values: Mapping[str, FloatArray], labels: Sequence[str] | None, lines: Sequence[int]) -> tuple[list[int], list[Finding]]:
    """Return the index of the first row of each step."""
    if labels is not None:
        changes = labels.starts if isinstance(labels, Runs) else None
        starts = changes or [0, *(index for index in range(1, len(labels)) if labels[index] != labels[index - 1])]
        names = [labels[start] for start in starts]
        if len(set(names)) == len(names):
            return starts, []
        reason = "the step column comes back to a label it had before; each stretch of rows is a step of its own"
        return starts, [Finding(check="step_column", severity="info", reason=reason)]
    for name in ("step_time", "time"):
        if name in values:
            back = _restarts(values[name])
            if back:
                reason = f"there is no step column; the {name.replace('_', ' ')} starts again in line {lines[back[0]]}, where a step begins"
                if len(back) > 1:
                    reason = f"there is no step column; a step begins in each of the {len(back)} lines where the time starts again"
                return [0, *back], [Finding(check="step_column", severity="info", reason=reason)]
    reason = "there is no step column and the time never starts again: the whole export is one step"
    return [0], [Finding(check="step_column", severity="info", reason=reason)]


def _with_time(values: Mapping[str, FloatArray], starts: Sequence[int]) -> tuple[dict[str, FloatArray], list[Finding]]:
    """Return the columns with a time in every step, saying so where it counts from the start of the step."""
    columns = dict(values)
    if "time" not in columns:
        if "step_time" not in columns:
            return columns, []
        columns["time"] = columns["step_time"]
        reason = "only the time within the step was exported; time counts from the start of each step"
        return columns, [Finding(check="step_time", severity="info", reason=reason)]
    time = columns["time"]
    if len(starts) > 1 and all(time[start] < time[start - 1] for start in starts[1:]):
        columns.setdefault("step_time", time)
        reason = "the time starts again with every step; it counts from the start of each step, not of the run"
        return columns, [Finding(check="step_time", severity="info", reason=reason)]
    return columns, []


def _restarts(time: FloatArray) -> list[int]:
    """Return the rows where a clock starts again: it falls to a first time of a step and rises from there.

    A first time lies at most `_FIRST_INTERVALS` intervals of the new step above zero or above the first time of all. A row that
    only stands out of order, where the row after it goes on from the row before it, is no start.
    """
    found = []
    for row in (np.flatnonzero(changes_of(time) < 0.0) + 1).tolist():
        last = row + 1 == time.size
        interval = time[row - 1] - time[row - 2] if last and row > 1 else 0.0 if last else time[row + 1] - time[row]
        swapped = not last and time[row + 1] > time[row - 1] and (row == 1 or time[row] > time[row - 2])
        if interval > 0.0 and not swapped and time[row] <= max(float(time[0]), 0.0) + _FIRST_INTERVALS * interval:
            found.append(row)
    return found


def _clock_runs_back(part: Mapping[str, FloatArray], lines: Sequence[int]) -> tuple[Finding, ...]:
    for name in ("time", "step_time"):
        back = np.flatnonzero(changes_of(part[name]) < 0.0) if name in part else np.array([], dtype=np.intp)
        if back.size:
            where = f"in line {lines[int(back[0]) + 1]}"
            reason = f"the clock runs backwards {where} ({name.replace('_', ' ')}); what depends on time is not to be believed"
            return (Finding(check="time_order", severity="invalid", reason=reason),)
    return ()
