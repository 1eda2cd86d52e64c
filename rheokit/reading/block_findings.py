"""Say what stands among, between and behind the points of an export that is none, and refuse what may be one."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding, Severity
from rheokit.reading.decimals import looks_like_a_number
from rheokit.reading.divider import Divider, is_mostly_numbers
from rheokit.reading.headings import Heading
from rheokit.reading.numbers import holds_a_unit
from rheokit.reading.rows import Row

__all__ = ["about_notes", "about_odd_rows"]


def about_odd_rows(divider: Divider) -> list[Finding]:
    """Leave out a last row that is cut short; refuse any other row of numbers that is not as wide as the header."""
    for at, row, after_note in divider.odd:
        width = len(divider.tables[-1].headings)
        seen = f"{len(row.cells)} cells under {width} columns"
        last = at == divider.points and row is divider.odd[-1][1]
        if last and after_note and at > 0:
            divider.notes.append((at, row))
            continue
        if last and at > 0 and len(row.cells) < width and row.line == row.last_line:
            reason = f"line {row.line}, the last, is cut short ({seen}) and was left out; export the run again if a point is missing"
            return [Finding(check="cut_short", severity="caution", reason=reason, rows=(row.line, row.line))]
        remedy = "every row needs one cell for each column; a number with a decimal comma counts as two"
        if row.line != row.last_line:
            remedy = f"a quotation mark opens here and closes in line {row.last_line}"
        raise ReadError(divider.path, seen, place=f"line {row.line}", remedy=remedy)
    return []


def about_notes(divider: Divider, starts: Sequence[int]) -> list[Finding]:
    """Say which lines stand among the points and which after them; refuse a point that is divided by another sign."""
    if not (divider.notes or divider.headers or divider.announced or divider.shortened or divider.rejoined):  # nearly always
        return []
    edges = {*starts, *(at for at, _ in divider.headers), *(at for at, *_ in divider.announced), divider.points}
    inside = [row for at, row in divider.notes if at not in edges and not row.comment]
    for row in inside:
        words = re.split(r"[,;|\s]+", " ".join(row.cells).strip())
        if len(words) > 1 and is_mostly_numbers(words):
            seen = f"this line is divided otherwise than the table: {' '.join(row.cells).strip()[:60]!r}"
            raise ReadError(divider.path, seen, place=f"line {row.line}", remedy="divide every row by the same sign")
    after = [row for at, row in divider.notes if at == divider.points]
    begun = [line for at, line in (*divider.headers, *((at, line) for at, _, line in divider.announced)) if at == divider.points]
    begun += [row.line for row in after[-1:] if _begins_a_header(row.cells, divider.tables[0].headings)]
    wider = divider.shortened if len(divider.shortened) < divider.points else []
    torn = [row for _, row in divider.notes if row.line != row.last_line]
    strayed = [row for at, row in divider.notes if at in edges and at != divider.points and _holds_numbers(row, divider)]
    commented = [row for _, row in divider.notes if row.comment and is_mostly_numbers(row.cells)]
    return [
        *_lines_told(inside, "caution", "among the points: not a row of the table, and left out"),
        *_lines_told(wider, "caution", "wider than the header by empty cells, as other points are not: were cells shifted?"),
        *_lines_told(divider.rejoined, "info", "the remark holds the sign that divides cells, and was kept in one"),
        *_lines_told(divider.bare if divider.units_repeated else [], "caution", "under a header without the units row that others have"),
        *_lines_told(divider.glued, "caution", "a step's announcement and the numbers of a point in one, the point left out"),
        *_lines_told(strayed, "caution", "numbers between two steps: not a row of the table, and left out"),
        *_lines_told(commented, "caution", "numbers behind a comment mark, left out"),
        *_lines_told(torn, "caution", "one text from a quotation mark to the next, kept as a note: were they rows?"),
        *_lines_told(after, "info", "after the table, kept as notes"),
        *((_begun(min(begun)),) if begun else ()),
    ]


def _holds_numbers(row: Row, divider: Divider) -> bool:
    """Tell whether a note holds so many numbers, half as many as the table has columns, that it may be a point that went astray."""
    if row.comment or row.line != row.last_line:
        return False
    width, cells = len(divider.tables[0].headings), row.cells
    if len(cells) == 1:  # divided by another sign
        cells = [word for word in re.split(r"[,;|\s]+", cells[0].strip()) if word]
        return len(cells) >= max(2, width // 2) and is_mostly_numbers(cells)
    numbers = sum(looks_like_a_number(cell) or (len(cells) == width and holds_a_unit(cell)) for cell in cells)
    return numbers >= max(2, width // 2)


def _begins_a_header(cells: Sequence[str], headings: Sequence[Heading]) -> bool:
    """Tell whether a last row is the beginning of the header, cut off on the way."""
    texts = [" ".join(cell.split()) for cell in cells]
    names = [heading.text for heading in headings[: len(texts)]]
    return len(" ".join(texts)) > 2 and len(names) == len(texts) and texts[:-1] == names[:-1] and names[-1].startswith(texts[-1])


def _begun(line: int) -> Finding:
    reason = f"line {line} begins a step, and no point follows: the export is cut short; export the run again if a step is missing"
    return Finding(check="cut_short", severity="caution", reason=reason, rows=(line, line))


def _lines_told(rows: Sequence[Row], severity: Severity, what: str) -> list[Finding]:
    if not rows:
        return []
    lines = f"lines {rows[0].line} to {rows[-1].last_line}" if len(rows) > 1 else f"line {rows[0].line}"
    shown = " ".join(" ".join(rows[0].cells).split())[:60]
    reason = f"{lines}, {what}: {shown!r}{' ...' if len(rows) > 1 else ''}"
    return [Finding(check="notes", severity=severity, reason=reason, rows=(rows[0].line, rows[-1].last_line))]
