"""Judge one reading of a spoilt file. `reading_mutations` explains the classes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import numpy as np

from rheokit.base.run import Run
from studies.plain_reading import Array, Said, third_of

Verdict = Literal["read right", "finding", "refused", "could not be revealed", "wrong in silence"]

APART = 0.03
"""Relative. Columns that hang together by a law and differ by more are a contradiction that a reader could see. Instruments average each
column by itself, so that less than 1 % or 2 % is no contradiction in a real export (common practice, no source); the good files hold to
1e-4."""

SAME = 1e-9
"""Relative. The good files have five digits, so that one wrong digit is 1e-5 at least; a conversion to SI costs some 1e-16."""

CLOCK_APART = 0.5
"""[s] and, beside it, 1 % of the time. The two clocks of a row, one from the start of the run and one from the start of the step, differ by
the same time in every row of a step; they are printed to 0.01 s."""


def verdict(run: Run, good: Said, said: Said | None) -> Verdict:
    """Return the class of a reading that was not refused."""
    if has_finding(run):
        return "finding"
    if same(run, good):
        return "read right"
    if said is None or not same(run, said):
        return "read right" if only_columns_left_out(run, good) else "wrong in silence"
    if contradictions(said):
        return "wrong in silence"
    return "read right" if only_rows_and_columns_moved(said, good) else "could not be revealed"


def has_finding(run: Run) -> bool:
    """Tell whether the run or one of its steps carries a caution or more."""
    findings = (*run.findings, *(finding for step in run.steps for finding in step.findings))
    return any(finding.severity != "info" for finding in findings)


def same(run: Run, said: Said) -> bool:
    """Tell whether a run holds exactly these numbers in exactly these steps."""
    if tuple(map(len, run.steps)) != said.lengths:
        return False
    written = {name for name, values in said.columns.items() if not np.isnan(values).all()}
    everything = {**said.derived, **said.columns}
    read = {name for step in run.steps for name in step.columns}
    # A clock that stands in for the other one is no number of its own.
    if written - read or read - set(everything) - {"time", "step_time"}:
        return False
    if any(name not in step.columns for name in read for step in run.steps):
        return False
    return all(_equal(np.concatenate([step.columns[name] for step in run.steps]), everything[name]) for name in read & set(everything))


def only_columns_left_out(run: Run, good: Said) -> bool:
    """Tell whether all that a run holds is right, and a finding names the columns of the file that it leaves out."""
    if not any(finding.check in {"columns_aside", "relative_reading"} for finding in run.findings):
        return False
    read = {name for step in run.steps for name in step.columns}
    everything = {**good.derived, **good.columns}
    ways = [{name: everything[name] for name in read & set(everything)}]
    # One of rate, stress and viscosity may have been left out and be derived now.
    for name in read & {"shear_rate", "shear_stress", "viscosity"}:
        others = {other: values for other, values in ways[0].items() if other != name}
        ways.append({**others, **third_of(others)})
    return any(same(run, Said(columns=way, derived={}, lengths=good.lengths)) for way in ways)


def _equal(one: Array, other: Array) -> bool:
    return one.shape == other.shape and np.allclose(one, other, rtol=SAME, atol=0.0, equal_nan=True)


def contradictions(said: Said) -> list[str]:
    """Return which laws that tie columns together the numbers break by so much that a reader could see it."""
    found = []
    columns = {**said.derived, **said.columns}
    pairs = (("shear_stress", "viscosity times rate"), ("torque", "shear_stress"), ("angular_velocity", "shear_rate"))
    products = {**columns}
    if "viscosity" in columns and "shear_rate" in columns:
        products["viscosity times rate"] = columns["viscosity"] * columns["shear_rate"]
    for one, other in pairs:
        if one in products and other in products and _ratio_varies(products[one], products[other], one == "shear_stress"):
            found.append(f"{one} against {other}")
    ends = np.cumsum(said.lengths)[:-1]
    for name in ("time", "step_time"):
        if name in columns and any((np.diff(part[np.isfinite(part)]) < 0.0).any() for part in np.split(columns[name], ends)):
            found.append(f"{name} runs back")
    if "time" in columns and "step_time" in columns:
        apart = np.split(columns["time"] - columns["step_time"], ends)
        allowed = np.split(CLOCK_APART + 0.01 * np.abs(columns["time"]), ends)
        if any((np.abs(part - np.nanmedian(part)) > most).any() for part, most in zip(apart, allowed, strict=True)):
            found.append("two clocks")
    if "temperature" in columns and (columns["temperature"] < 0.0).any():
        found.append("below absolute zero")
    return found


def _ratio_varies(one: Array, other: Array, must_be_one: bool) -> bool:
    """Tell whether two columns that go in proportion do not; a row in which one is missing says nothing."""
    with np.errstate(all="ignore"):
        ratio = one / other
    known = np.isfinite(one) & np.isfinite(other) & ((one != 0.0) | (other != 0.0))
    ratio = ratio[known]
    if ratio.size == 0:
        return False
    usual = 1.0 if must_be_one else float(np.median(ratio))
    return not bool((np.abs(ratio / usual - 1.0) <= APART).all())


def only_rows_and_columns_moved(said: Said, good: Said) -> bool:
    """Tell whether every row is a row of the good file, in its order, in its step: rows were dropped or doubled, as anyone can see."""
    shared = [name for name in said.columns if name in good.columns]
    if set(said.columns) - set(good.columns):
        return False
    mine, theirs = _rows(said.columns, shared), _rows(good.columns, shared)
    step_of = np.repeat(np.arange(len(good.lengths)), good.lengths).tolist()
    place, steps = 0, []
    for row in mine:
        while place < len(theirs) and not np.allclose(row, theirs[place], rtol=SAME, atol=0.0, equal_nan=True):
            place += 1
        if place == len(theirs):
            return False
        steps.append(step_of[place])
    new = np.repeat(np.arange(len(said.lengths)), said.lengths).tolist()
    return all((new[i] == new[i + 1]) == (steps[i] == steps[i + 1]) for i in range(len(steps) - 1))


def _rows(columns: Mapping[str, Array], names: list[str]) -> list[Array]:
    return list(np.stack([columns[name] for name in names], axis=1)) if names else []
