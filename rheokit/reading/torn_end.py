"""Tell a last number that may be cut short: the file ends inside its last line, and the number has fewer digits than all above it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from rheokit.base.finding import Finding
from rheokit.reading.blocks import Blocks
from rheokit.reading.clock import is_clock
from rheokit.reading.decimals import looks_like_a_number

__all__ = ["without_torn_end"]

_LEAST_ABOVE = 3
"""Numbers above the last one that show how the column is written (our choice)."""

_BEGUN = re.compile(r"[-+]?|[-+]?[0-9]+(?:[.,][0-9]*)?[eE][-+]?")
"""What is left of a number that is cut before its first digit, or before the first one of its exponent."""

_IN_LINE = 2.0
"""[1] A change to the last number of up to so many times the largest change above it goes on with the column (our choice)."""


def without_torn_end(blocks: Blocks, last_line: int) -> Blocks:
    """Return the blocks of a text that ends without a line end, its last point left out where its last number is cut short.

    The last number has fewer digits, and fewer decimals, than every one above it. Where any number of the table ends in a zero behind
    its decimal mark, zeros are written, and such a number was cut. Where none does, `100` may stand for `100.00`: the point is kept,
    with a caution unless the number goes on with the column.
    """
    table = blocks.tables[-1]
    last = table.rows[-1]
    if last.last_line != last_line or sum(len(one.rows) for one in blocks.tables) < 2:
        return blocks
    index = max((at for at, heading in enumerate(table.headings) if heading.text), default=len(last.cells) - 1)
    rows = [row for one in blocks.tables if one.headings == table.headings for row in one.rows]
    cell, above = last.cells[index].strip(), [row.cells[index].strip() for row in rows[:-1]]
    if len(above) < _LEAST_ABOVE or not _is_shorter(cell, above):
        return blocks
    fixed = is_clock(above[0]) or all("e" in one.casefold() for one in (cell, *above))
    sure = _BEGUN.fullmatch(cell) is not None or fixed or any(_ends_in_zero(one) for row in rows for one in row.cells)
    if not sure and _goes_on(cell, above):
        return blocks
    seen = f"the file ends in the middle of line {last_line}, and its last cell {cell!r} is shorter than every one above it"
    if sure:
        reason = f"{seen}: it is cut short, and the point was left out; export the run again"
        left = replace(table, rows=table.rows[:-1]) if len(table.rows) > 1 else None
        tables = (*blocks.tables[:-1], *(() if left is None else (left,)))
        points = sum(len(one.rows) for one in tables)
        blocks = replace(blocks, tables=tables, starts=tuple(start for start in blocks.starts if start < points))
    else:
        reason = f"{seen}: it may be cut short; compare it with the instrument, or export the run again"
    found = Finding(check="cut_short", severity="caution", reason=reason, rows=(last_line, last_line))
    return replace(blocks, findings=(*blocks.findings, found))


def _is_shorter(cell: str, above: Sequence[str]) -> bool:
    """Tell whether a cell is begun where none above is, or a number or clock time of fewer digits than each of those above."""
    if _BEGUN.fullmatch(cell) is not None:
        return not any(map(_BEGUN.fullmatch, above))
    numbers = [one for one in above if looks_like_a_number(one) or is_clock(one)]
    if len(numbers) < _LEAST_ABOVE or not (looks_like_a_number(cell) or is_clock(cell)):
        return False
    if "e" in cell.casefold():  # the end of the exponent is what would be missing
        power = _power(cell)
        return all(len(power) < len(_power(one)) for one in numbers)
    digits, behind = _digits(cell), _behind_the_mark(cell)
    return all(digits < _digits(one) and behind < _behind_the_mark(one) for one in numbers)


def _digits(cell: str) -> int:
    return sum(map(str.isdigit, cell))


def _power(cell: str) -> str:
    """Return the exponent of a number with its sign, nothing where there is none."""
    return cell.casefold().partition("e")[2]


def _behind_the_mark(cell: str) -> int:
    """Return the number of characters behind the decimal mark or the last colon, exponent included; -1 where there is no mark."""
    at = max(cell.rfind(mark) for mark in ".,:")
    return len(cell) - at - 1 if at >= 0 else -1


def _ends_in_zero(cell: str) -> bool:
    """Tell whether a number ends in a zero behind its decimal mark, before its exponent."""
    digits = cell.strip().casefold().partition("e")[0]
    return digits.endswith("0") and ("." in digits or "," in digits) and looks_like_a_number(digits)


def _goes_on(cell: str, above: Sequence[str]) -> bool:
    """Tell whether a number goes on with those above it."""
    try:
        values = [float(one.replace(",", ".")) for one in (*above, cell)]
    except ValueError:
        return False
    changes = [abs(after - before) for before, after in pairwise(values)]
    return changes[-1] <= _IN_LINE * max(changes[:-1])
