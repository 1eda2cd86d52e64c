"""Bring a row to the width of its header where nothing is lost by it: empty cells, or a last remark that holds the dividing sign."""

from __future__ import annotations

from collections.abc import Sequence

from rheokit.reading.clock import is_clock
from rheokit.reading.decimals import looks_like_a_number
from rheokit.reading.headings import Heading
from rheokit.reading.numbers import is_missing
from rheokit.reading.words import STEP, role_of

__all__ = ["fitted", "rejoined"]


def fitted(cells: list[str], headings: Sequence[Heading]) -> list[str]:
    """Return cells as many as headings, where only empty cells or columns without heading make the difference."""
    width = len(headings)
    if len(cells) > width:
        return cells if any(map(str.strip, cells[width:])) else cells[:width]
    return cells if any(heading.text for heading in headings[len(cells) :]) else [*cells, *[""] * (width - len(cells))]


def rejoined(cells: list[str], headings: Sequence[Heading], delimiter: str, before: Sequence[str] | None) -> list[str]:
    """Return a row that is wider than its header with the surplus put back into the last cell, where that is a remark.

    A number with a decimal comma makes a row wider too, and moves what stands behind it. The remark therefore has to begin with a word and
    to hold no cell that is a number, as it does where the row behind is glued to this one; and every cell before it has to be a number
    where the row before (the cells `before`, if there are any) has one.
    """
    last = len(headings) - 1
    if not delimiter or last < 1 or len(cells) <= last + 1 or headings[last].quantity is not None:
        return cells
    remark = cells[last].strip()
    if role_of(headings[last].text) != "remarks" or is_missing(remark) or any(map(looks_like_a_number, cells[last:])):
        return cells
    for index, heading in enumerate(headings[:last]):
        number = looks_like_a_number(cells[index]) or is_clock(cells[index])
        if heading.quantity not in {None, STEP}:
            if not number:
                return cells
        elif before is not None:
            if number != (looks_like_a_number(before[index]) or is_clock(before[index])):
                return cells
        elif number and heading.quantity is None and role_of(heading.text) != "point number":
            return cells
    return [*cells[:last], delimiter.join(cells[last:]).strip()]
