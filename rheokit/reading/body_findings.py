"""Say what was seen among the cells of an export: number styles, columns set aside, remarks, missing numbers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence, Set

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.reading.columns import Column
from rheokit.reading.decimals import NumberStyle, doubtful_thousands
from rheokit.reading.divider import RawTable
from rheokit.reading.settled_table import SettledTable

__all__ = ["about_columns_aside", "about_missing", "about_remarks", "about_style", "about_tables", "is_complete"]


def about_style(style: NumberStyle, tables: Sequence[SettledTable]) -> tuple[Finding, ...]:
    """Say that numbers have thousands signs, and where a cell read so may have three decimals instead."""
    if not style.thousands:
        return ()
    reason = f"the numbers are read with {style}: {style.why}"
    found = [Finding(check="number_style", severity="info", reason=reason)]
    for table in tables:
        for column, cells in zip(table.columns, table.across, strict=True):
            index = doubtful_thousands(cells, style) if column.unit is not None else None
            if index is not None:
                line, cell = table.lines[index], cells[index].strip()
                reason = (
                    f"{column.place}: {cell!r} in line {line} is read as thousands, and other numbers of the column have three decimals"
                )
                found.append(Finding(check="number_style", severity="caution", reason=reason, rows=(line, line)))
    return tuple(found)


def about_tables(raw: Sequence[RawTable], tables: Sequence[SettledTable]) -> tuple[Finding, ...]:
    """Say where a header lacks a quantity that another has, and has a heading of its own instead that is not known."""
    named = {column.meaning for table in tables for column in table.columns if column.meaning}
    findings = []
    for at, table in enumerate(tables if len(tables) > 1 else ()):
        elsewhere = {column.heading for other in tables if other is not table for column in other.columns}
        gone = sorted(name.replace("_", " ") for name in named - {column.meaning for column in table.columns})
        new = [column.place for column in table.columns if column.meaning is None and not column.role and column.heading not in elsewhere]
        if gone and new:
            line = raw[at].line
            reason = f"the header in line {line} has no {', '.join(gone)} but {', '.join(new)}, which is not known"
            findings.append(Finding(check="other_header", severity="caution", reason=reason, rows=(line, line)))
    return tuple(findings)


def about_columns_aside(tables: Sequence[SettledTable]) -> tuple[Finding, ...]:
    """Name the columns that are not used, and what remarks say; one without name and content is nothing to speak of."""
    names: dict[str, None] = {}
    findings = []
    for table in tables:
        for column, cells in zip(table.columns, table.across, strict=True):
            if column.meaning is None and not column.relative and (column.heading or "".join(cells).strip()):
                names[f"{column.number} ({column.heading!r})" if column.heading else f"{column.number} (no heading)"] = None
            if column.role == "remarks":
                remarks = [cell.strip() for cell in cells]
                first = dict(zip(reversed(remarks), reversed(table.lines), strict=True))
                findings += about_remarks(column, Counter(remarks), first)
    if names:
        reason = f"columns not known and not used: {', '.join(names)}; a layout file can name them"
        findings.insert(0, Finding(check="columns_aside", severity="info", reason=reason))
    return tuple(findings)


def about_remarks(column: Column, counts: Counter[str], first: Mapping[str, int]) -> list[Finding]:
    """Say what a column of remarks holds, where its cells differ: the rarest first, as these are what a person looks for.

    Parameters
    ----------
    column
        The column.
    counts, first
        Remark to the number of rows that bear it, and to the line of the first of them.
    """
    if len(counts) < 2:
        return []
    rarest = sorted((remark for remark in counts if remark), key=lambda remark: (counts[remark], first[remark]))
    shown = [f"{remark[:40]!r} in {counts[remark]} of {counts.total()} rows (the first in line {first[remark]})" for remark in rarest]
    more = f" and {len(shown) - 3} others" if len(shown) > 3 else ""
    return [Finding(check="remarks", severity="info", reason=f"{column.place} remarks {', '.join(shown[:3])}{more}")]


def about_missing(values: Mapping[str, FloatArray], lines: Sequence[int], complete: Set[str] = frozenset()) -> tuple[Finding, ...]:
    """Name the columns with cells that hold no number, but those known to be complete; a viscosity at a rate of zero is not missed."""
    said = []
    for name, numbers in values.items():
        if name in complete or is_complete(numbers):
            continue
        gone = np.isnan(numbers)
        if gone.all():
            said.append(f"{name.replace('_', ' ')} (every row: the column counts as absent)")
            continue
        if name == "viscosity" and "shear_rate" in values:
            gone &= values["shear_rate"] != 0.0
        if gone.any():
            said.append(
                f"{name.replace('_', ' ')} ({int(gone.sum())} of {len(lines)} rows, the first in line {lines[int(np.argmax(gone))]})"
            )
    if not said:
        return ()
    return (Finding(check="missing_values", severity="info", reason=f"no number in: {', '.join(said)}"),)


def is_complete(numbers: FloatArray) -> bool:
    """Tell at once that no number is missing; where squares overflow, the answer is no, and has to be found out otherwise."""
    return bool(np.dot(numbers, numbers) < np.inf)
