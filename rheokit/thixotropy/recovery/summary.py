"""How a step test is printed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rheokit.base.estimate import Estimate
from rheokit.base.finding import Finding
from rheokit.base.show import Table, number, value_and_error
from rheokit.fitting.result import Fit
from rheokit.fitting.selection import DISTINGUISHABLE, Comparison
from rheokit.thixotropy.recovery.course import Course
from rheokit.thixotropy.recovery.settled import SettledEnd

__all__ = ["Row", "recovery_table"]


@dataclass(frozen=True, kw_only=True)
class Row:
    """One number under a name for people, or the reason why there is none."""

    words: str
    estimate: Estimate | None
    reason: str = ""


def recovery_table(course: Course, rows: Sequence[Row], comparison: Comparison[Fit] | None, findings: Sequence[Finding]) -> Table:
    """Return the table of a step test."""
    notes = (
        "r = (X − X_sheared)/(X_rest − X_sheared), X the " + course.words,
        _end(course, course.rest_end, "at rest"),
        _end(course, course.shear_end, "as the shear ends"),
        f"{course.fit.law.name.replace('_', ' ')} law over {course.test.recovery.time.size} points, "
        f"{number(course.first, 3)} to {number(course.last, 3)} s after the shear",
        *(_laws(comparison) if comparison is not None else ("the law was named by the caller",)),
        *dict.fromkeys(f"{finding.severity}: {finding}" for finding in findings),
    )
    columns = ("quantity", "value", "standard error", "95 % interval", "unit", "remark")
    right = ("value", "standard error")
    return Table(title="rest-shear-recovery step test", columns=columns, rows=tuple(map(_cells, rows)), notes=notes, right=right)


def _cells(row: Row) -> tuple[str, ...]:
    if row.estimate is None:
        return row.words, "none", "", "", "", row.reason
    found = row.estimate
    value, error = value_and_error(found.value, found.standard_error)
    if not found.determined:
        value, error = f"({value})", "not determined"
    return row.words, value, error or "none", _ends(found), "" if found.unit == "1" else found.unit, found.reason


def _ends(found: Estimate) -> str:
    held = found.interval
    if held is None or (math.isinf(held.lower) and math.isinf(held.upper)):
        return ""
    lower = number(held.lower, 3)
    return f"above {lower}" if math.isinf(held.upper) else f"{lower} to {number(held.upper, 3)}"


def _end(course: Course, end: SettledEnd | None, where: str) -> str:
    if end is None:
        return f"{course.words} {where}: not measured"
    value, error = value_and_error(end.value, end.standard_error or None)
    shown = f", standard error {error}" if error else ""
    return f"{course.words} {where} {value} {course.unit}{shown} ({end.points} points)"


def _laws(comparison: Comparison[Fit]) -> tuple[str, ...]:
    """Return what the comparison says, and by how much each loser loses."""
    behind = [
        f"{one.name.replace('_', ' ')} {number(one.difference, 2)}" if not one.reason else f"{one.name.replace('_', ' ')} not ranked"
        for one in comparison.candidates[1:]
    ]
    alike = sum(one.difference < DISTINGUISHABLE for one in comparison.ranked) > 1
    said = comparison.conclusion + ("; of those the one of the fewest parameters is taken" if alike else "")
    return said, f"AICc above the best: {', '.join(behind)}"
