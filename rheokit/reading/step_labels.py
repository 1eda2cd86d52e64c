"""Say which step each point belongs to: by a step column, else by blocks, else by point numbers that start again."""

from __future__ import annotations

from collections.abc import Sequence

from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding
from rheokit.reading.blocks import Blocks
from rheokit.reading.files import PathText
from rheokit.reading.settled_table import SettledTable
from rheokit.reading.words import STEP

__all__ = ["BY_STEP_COLUMN", "step_labels"]

BY_STEP_COLUMN = "by the step column"


def step_labels(
    tables: Sequence[SettledTable], blocks: Blocks, lines: Sequence[int], path: PathText
) -> tuple[Sequence[str] | None, str, tuple[Finding, ...]]:
    """Return the step label of each row by the step column, else by blocks, else by point numbers that start again."""
    named = [_step_column(table, path) for table in tables]
    labelled = [one for one in named if one is not None]
    if labelled and len(labelled) == len(tables):
        labels = labelled[0][0] if len(tables) == 1 else tuple(label for part, _ in labelled for label in part)
        return labels, BY_STEP_COLUMN, tuple(finding for _, findings in labelled for finding in findings)
    starts, how = blocks.starts, blocks.how
    if len(starts) == 1:
        starts, how = _restarts(tables), "a step begins where the point number starts again"
    if len(starts) == 1:
        return None, "", ()
    ends = (*starts[1:], len(lines))
    labels = tuple(str(number) for number, (start, end) in enumerate(zip(starts, ends, strict=True), 1) for _ in range(start, end))
    told = how if how.startswith("a step") else f"the steps are blocks of rows, {how}"
    reason = f"there is no step column; {told}: {len(starts)} steps, the second from line {lines[starts[1]]}"
    return labels, told, (Finding(check="step_blocks", severity="info", reason=reason),)


def _step_column(table: SettledTable, path: PathText) -> tuple[tuple[str, ...], list[Finding]] | None:
    for column, cells in zip(table.columns, table.across, strict=True):
        if column.meaning == STEP:
            return _labels(cells, table.lines, column.place, path)
    return None


def _restarts(tables: Sequence[SettledTable]) -> tuple[int, ...]:
    """Return where the point numbers start again; only whole numbers that rise by one otherwise count as point numbers."""
    numbers: list[int] = []
    for table in tables:
        cells = next((cells for column, cells in zip(table.columns, table.across, strict=True) if column.role == "point number"), ())
        if len(cells) != len(table.lines) or not all(cell.strip().isdecimal() for cell in cells):
            return (0,)
        numbers += map(int, cells)
    jumps = [index for index in range(1, len(numbers)) if numbers[index] != numbers[index - 1] + 1]
    if any(numbers[index] != numbers[0] for index in jumps):
        return (0,)
    return (0, *jumps)


def _labels(cells: tuple[str, ...], lines: Sequence[int], place: str, path: PathText) -> tuple[tuple[str, ...], list[Finding]]:
    """Return the step label of each row; an empty cell belongs to the step above it."""
    plain = tuple(map(str.strip, cells))
    if all(plain):
        return plain, []
    labels: list[str] = []
    for cell, line in zip(plain, lines, strict=True):
        label = cell or (labels[-1] if labels else "")
        if not label:
            raise ReadError(path, "the first point belongs to no step", place=f"line {line}, {place}", remedy="write the step's number")
        labels.append(label)
    reason = f"{plain.count('')} rows name no step; each counts to the step above it"
    return tuple(labels), [Finding(check="step_column", severity="info", reason=reason)]
