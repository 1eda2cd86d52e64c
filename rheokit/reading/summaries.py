"""Tell rows that sum up other rows (`Mean,3,22`) from points: a word of statistics stands where each point has its first cell.

A word under a quantity makes no point, so there the first word of the cell tells. Under another heading (a step, a point number) the
whole cell has to be such a word, and the rows beside it have to bear another: steps may bear any name.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter, itemgetter

from rheokit.base.finding import Finding
from rheokit.reading.decimals import looks_like_a_number
from rheokit.reading.rows import Row
from rheokit.reading.words import fold

__all__ = ["about_summaries", "is_summary", "summaries_in"]

_STATISTICS = (
    "mean, mean value, arithmetic mean, average, average value, avg, median, std, std dev, stdev, stddev, standard deviation, sd, "
    "rsd, coefficient of variation, cv, variance, standard error, sem, min, minimum, max, maximum, sum, total, count, "
    "mittelwert, mittel, durchschnitt, standardabweichung, stdabw, stabw, std abw, varianz, variationskoeffizient, standardfehler, "
    "summe, anzahl"
)
_WORDS = frozenset(map(fold, _STATISTICS.split(",")))
_FIRST_WORDS = frozenset(word.split()[0] for word in _WORDS) - {"coefficient", "arithmetic", "standard"}
_MARKS = " :=*%()[]#"
_LONGEST = 60
"""Characters of a cell that may be such a word."""

_CELLS, _FIRST = attrgetter("cells"), itemgetter(0)


def is_summary(cells: Sequence[str], known: Sequence[int], *neighbours: Sequence[str]) -> bool:
    """Tell whether the first cell that is not empty names a statistic, and others hold numbers.

    Parameters
    ----------
    cells
        The row, as wide as the header or not.
    known
        Index of every column that names a quantity.
    *neighbours
        The rows before and behind, where there are any.
    """
    at = 0 if cells[0].strip() else next((index for index, cell in enumerate(cells) if cell.strip()), 0)
    label = cells[at]
    if not label.lstrip(_MARKS)[:1].isalpha() or len(label) > _LONGEST:
        return False
    word = fold(label).strip(_MARKS)
    if at in known:
        return (word in _WORDS or word.partition(" ")[0].strip(_MARKS) in _FIRST_WORDS) and any(map(looks_like_a_number, cells))
    alone = all(at >= len(other) or other[at] != label for other in neighbours)
    return alone and word in _WORDS and any(index < len(cells) and looks_like_a_number(cells[index]) for index in known)


def summaries_in(rows: Sequence[Row], known: Sequence[int]) -> list[int]:
    """Return the index of each of these rows, as wide as the header, that is a summary; its first cell is under no quantity."""
    if "".join(set(map(_FIRST, map(_CELLS, rows)))).isdecimal():  # the usual steps and point numbers
        return []
    return [
        index
        for index, row in enumerate(rows)
        if not row.cells[0][:1].isdecimal() and is_summary(row.cells, known, *(other.cells for other in _beside(rows, index)))
    ]


def _beside(rows: Sequence[Row], index: int) -> list[Row]:
    return [*rows[max(0, index - 1) : index], *rows[index + 1 : index + 2]]


def about_summaries(rows: Sequence[Row]) -> list[Finding]:
    """Say which rows were left out as they sum up others."""
    if not rows:
        return []
    first, last = rows[0].line, rows[-1].line
    words = ", ".join(repr(word) for word in dict.fromkeys(next(filter(str.strip, row.cells)).strip() for row in rows[:9]))
    where = f"line {first}" if len(rows) == 1 else f"lines {first} to {last}" if last - first == len(rows) - 1 else f"{len(rows)} rows"
    more = "" if where.startswith("line") else f", the first in line {first}"
    reason = f"{where} ({words}{' ...' if len(rows) > 9 else ''}{more}): a summary of points and no point, left out and kept as a note"
    return [Finding(check="summary_rows", severity="info", reason=reason, rows=(first, last))]
