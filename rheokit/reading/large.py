"""Read an export too long to be looked at line by line: its even stretches go through the C parser of pandas, the rest as ever.

The lines round every edge (the preamble and the header, the first and last points of each stretch, announcements, notes) are read like
a short export, which settles everything that is decided; the inner lines of each stretch are then put where they belong. Whatever is
not even raises `NotEven`, and the export is read line by line, if it is short enough for that.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, chain, pairwise, zip_longest
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError
from rheokit.base.finding import Finding
from rheokit.reading.blocks import Blocks
from rheokit.reading.body import Body, read_body
from rheokit.reading.body_findings import about_missing, about_remarks
from rheokit.reading.clock import MOMENT, is_clock, to_seconds
from rheokit.reading.columns import Column
from rheokit.reading.even import EvenLines, EvenTable, NotEven, read_even
from rheokit.reading.files import PathText
from rheokit.reading.layout import Layout
from rheokit.reading.pieces import Pieces, Runs, WrittenCells
from rheokit.reading.rows import MOST_LINES, SPACES, WIDE_SPACES, Row, cut, lines_of
from rheokit.reading.sheet import Sheet, divide
from rheokit.reading.side_tables import divide_tables
from rheokit.reading.step_labels import BY_STEP_COLUMN
from rheokit.reading.torn_end import without_torn_end
from rheokit.reading.words import STEP

__all__ = ["LARGE", "LargeExport", "read_large"]

Item = TypeVar("Item", FloatArray, Sequence[int], Sequence[str], list[tuple[str, int]])

LARGE = 400_000
"""[bytes] From here on the parser of pandas is the faster way, by far."""

_EDGE = 100
"""Lines at either end of a stretch that are read like a short export."""

_MOST_ODD = 5_000
"""Lines that do not begin like a point; more of them are no long table."""

_BEGINS_A_POINT = np.isin(np.arange(256), np.frombuffer(b"0123456789+-.", np.uint8))


@dataclass(frozen=True, eq=False, kw_only=True)
class LargeExport:
    """What reading line by line gives: the sheet, its blocks, and the points."""

    sheet: Sheet
    blocks: Blocks
    body: Body


def read_large(data: bytes, path: PathText, layout: Layout | None) -> LargeExport:
    """Return the points of a long text.

    Raises
    ------
    NotEven
        When another way of reading has to decide.
    ReadError
        As for short exports.
    """
    if b'"' in data or b"\0" in data or data[:1] in {b"\xff", b"\xfe"} or (layout is not None and layout.encoding not in {None, "utf-8"}):
        raise NotEven("quotes, or an encoding of other than one byte a sign")
    starts = _line_starts(data)
    inner = _inner_stretches(data, starts)
    kept = _between(inner, starts.size - 1)
    if not inner or sum(end - begin for begin, end in kept) > MOST_LINES:
        raise NotEven("no long stretch of even lines")
    sheet = _sheet(data, starts, kept, path, layout)
    blocks = divide_tables(sheet, path, layout)
    if not data.endswith((b"\n", b"\r")):
        blocks = without_torn_end(blocks, starts.size - 1)
    body = read_body(blocks, sheet.delimiter, path, layout)
    if len(blocks.tables) > 1 or body.style.thousands or body.how.startswith("a step begins"):
        raise NotEven("several tables, thousands signs, or steps by point numbers")
    read = LargeExport(sheet=sheet, blocks=blocks, body=body)
    return replace(read, body=_filled(read, data, starts, inner))


def _line_starts(data: bytes) -> NDArray[np.int64]:
    """Return where each line starts, and where the last one ends."""
    if b"\r" in data and not data.count(b"\r") == data.count(b"\r\n") == data.count(b"\n"):
        raise NotEven("line ends of several kinds")
    ends = np.flatnonzero(np.frombuffer(data, np.uint8) == ord("\n"))
    whole = data.endswith(b"\n")
    starts = np.empty(ends.size + (1 if whole else 2), dtype=np.int64)
    starts[0], starts[-1] = 0, len(data)
    np.add(ends, 1, out=starts[1 : ends.size + 1])
    return starts


def _inner_stretches(data: bytes, starts: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Return the first line (from 0) and the line behind the last of every long stretch of lines that begin like a point."""
    first = np.frombuffer(data, np.uint8)[starts[:-1]]
    odd = np.flatnonzero(~_BEGINS_A_POINT[first])
    if odd.size > _MOST_ODD:
        raise NotEven("many lines that do not begin like a point")
    edges = [-1, *odd.tolist(), starts.size - 1]
    found = [(before + 1 + _EDGE, after - _EDGE) for before, after in pairwise(edges)]
    return [(begin, end) for begin, end in found if end - begin > _EDGE]


def _between(inner: Sequence[tuple[int, int]], count: int) -> list[tuple[int, int]]:
    begins = [0, *(end for _, end in inner)]
    ends = [*(begin for begin, _ in inner), count]
    return list(zip(begins, ends, strict=True))


def _sheet(data: bytes, starts: NDArray[np.int64], kept: Sequence[tuple[int, int]], path: PathText, layout: Layout | None) -> Sheet:
    """Return the export without its inner lines."""
    try:
        texts = [data[starts[begin] : starts[end]].decode("utf-8-sig" if begin == 0 else "utf-8") for begin, end in kept]
    except UnicodeDecodeError:
        raise NotEven("not UTF-8") from None
    head = lines_of(texts[0], path)
    sheet = divide(head, path, layout)
    if sheet.delimiter in {SPACES, WIDE_SPACES}:
        raise NotEven("divided by spaces")
    rows: list[Row] = list(sheet.body)
    for text, (begin, _) in zip(texts[1:], kept[1:], strict=True):
        rows += cut(lines_of(text, path), sheet.delimiter, path, first_line=begin + 1)
    return replace(sheet, body=rows)


def _filled(read: LargeExport, data: bytes, starts: NDArray[np.int64], inner: Sequence[tuple[int, int]]) -> Body:
    """Return the points with the inner lines of every stretch put in."""
    body, delimiter, decimal = read.body, read.sheet.delimiter, read.body.style.decimal
    places = [_place(body.lines, begin, end) for begin, end in inner]
    table = EvenTable(columns=body.columns, delimiter=delimiter, decimal=decimal, plain=_plain_columns(body))
    lines: Sequence[int] = Pieces(_woven(body.lines, places, [range(begin + 1, end + 1) for begin, end in inner]))
    numbers, gaps = _with_gaps(body, table, places, [end - begin for begin, end in inner])
    parts = [read_even(data, starts[begin : end + 1], table, gap) for (begin, end), gap in zip(inner, gaps, strict=True)]
    values: dict[str, FloatArray] = {}
    written: dict[str, Sequence[str]] = {}
    for index, column in enumerate(body.columns):
        _refuse_hidden(parts, index, column, body)
        if column.meaning is not None and column.meaning in body.values:
            clock = index not in numbers
            mark = "." if clock else decimal
            cells = [WrittenCells(data, starts[begin : end + 1], index, delimiter, mark) for begin, end in inner]
            times = [_seconds(part, index, column) for part in parts] if clock else []
            values[column.meaning] = np.concatenate(_woven(body.values[column.meaning], places, times)) if clock else numbers[index]
            written[column.meaning] = Pieces(_woven(body.written[column.meaning], places, cells))
    labels = _labels(body, places, parts, [_FirstCells(data, starts[begin:end], delimiter) for begin, end in inner])
    kept = tuple(one for one in body.findings if one.check not in {"missing_values", "remarks"})
    full = _complete(body, parts)
    with np.errstate(over="ignore"):
        findings = (*kept, *_remarks(read, parts, inner), *about_missing(values, lines, full))
    dates = _dates(body, places, parts)
    return replace(body, values=values, written=written, labels=labels, lines=lines, findings=findings, dates=dates)


def _plain_columns(body: Body) -> frozenset[int]:
    """Return the columns that hold plain numbers beside the quantities: point numbers, where they may tell steps, and step numbers."""
    points = {index for index, column in enumerate(body.columns) if column.role == "point number" and body.labels is None}
    step = _step_column(body)
    return frozenset(points | ({step} if step == 0 and all(map(str.isdecimal, set(body.labels or ()))) else set()))


def _with_gaps(
    body: Body, table: EvenTable, places: Sequence[int], counts: Sequence[int]
) -> tuple[dict[int, FloatArray], list[dict[int, FloatArray]]]:
    """Return full columns with the points read line by line in them, and for every stretch where its numbers go."""
    edges = [0, *places, len(body.lines)]
    shifts = [0, *accumulate(counts)]
    full: dict[int, FloatArray] = {}
    gaps: list[dict[int, FloatArray]] = [{} for _ in counts]
    for index in table.numeric:
        known = body.values.get(str(body.columns[index].meaning))
        full[index] = np.empty(len(body.lines) + sum(counts))
        for (begin, end), shift in zip(pairwise(edges), shifts, strict=True):
            full[index][begin + shift : end + shift] = np.nan if known is None else known[begin:end]
        for gap, place, shift, count in zip(gaps, places, shifts[:-1], counts, strict=True):
            gap[index] = full[index][place + shift : place + shift + count]
    return full, gaps


def _refuse_hidden(parts: Sequence[EvenLines], index: int, column: Column, body: Body) -> None:
    """Leave it to another way where the inner lines hold something in a column that looked empty, or count points anew."""
    if column.role == "point number" and any(index in part.numbers and (np.diff(part.numbers[index]) != 1.0).any() for part in parts):
        raise NotEven("point numbers that start again")
    if column.meaning is None and not column.heading and any(any(map(str.strip, part.texts.get(index, ()))) for part in parts):
        raise NotEven("cells without a heading")
    hidden = column.unit is not None and column.meaning not in body.values
    if hidden and any(index not in part.numbers or not np.isnan(part.numbers[index]).all() for part in parts):
        raise NotEven("a column whose first and last cells are empty")


def _complete(body: Body, parts: Sequence[EvenLines]) -> frozenset[str]:
    """Return the quantities of which no number is missing."""
    return frozenset(
        str(column.meaning)
        for index, column in enumerate(body.columns)
        if column.meaning in body.values
        and all(index in part.complete for part in parts)
        and not np.isnan(body.values[str(column.meaning)]).any()
    )


def _place(lines: Sequence[int], begin: int, end: int) -> int:
    """Return how many of the points read line by line stand before a stretch; its neighbours must be points."""
    place = bisect_left(lines, begin + 1)
    if not 0 < place < len(lines) or lines[place - 1] != begin or lines[place] != end + 1:
        raise NotEven("lines at the edge of a stretch that are no points")
    return place


def _woven(outer: Item, places: Sequence[int], inner: Sequence[Item]) -> list[Item]:
    """Return the pieces of an outer sequence with the inner ones put in at their places."""
    edges = [0, *places, len(outer)]
    pieces = [outer[begin:end] for begin, end in pairwise(edges)]
    return [piece for pair in zip_longest(pieces, inner) for piece in pair if piece is not None]


def _seconds(part: EvenLines, index: int, column: Column) -> FloatArray:
    """Return the clock times of one column in s."""
    unit, texts = column.unit, part.texts[index]
    if unit is None or unit.symbol == MOMENT or not all(map(is_clock, texts)):
        raise NotEven("moments, or times that are missing")
    try:
        return to_seconds(texts, [0] * len(texts), unit.symbol, column.place, "")[part.codes[index]]
    except ReadError:  # line by line, it is refused with its line
        raise NotEven(f"times that are not all {unit.symbol}") from None


def _step_column(body: Body) -> int | None:
    """Return the index of the column that names the steps, if it is what told them."""
    if body.how != BY_STEP_COLUMN:
        return None
    return next(index for index, column in enumerate(body.columns) if column.meaning == STEP)


def _labels(body: Body, places: Sequence[int], parts: Sequence[EvenLines], firsts: Sequence[_FirstCells]) -> Runs | None:
    """Return the step label of each point: by the step column, else the one of the block that a stretch stands in."""
    if body.labels is None:
        return None
    step = _step_column(body)
    if step is None:
        inner = [[(body.labels[place], part.count)] for place, part in zip(places, parts, strict=True)]
    elif step in parts[0].numbers:
        inner = [first.runs(part.numbers[step]) for part, first in zip(parts, firsts, strict=True)]
    else:
        inner = [_runs(part.codes[step], [text.strip() for text in part.texts[step]]) for part in parts]
    outer = [(label, 1) for label in body.labels]
    return Runs(list(chain.from_iterable(_woven(outer, places, inner))))


def _dates(body: Body, places: Sequence[int], parts: Sequence[EvenLines]) -> Runs | None:
    index = next((at for at, column in enumerate(body.columns) if column.role == "date"), None)
    if body.dates is None or index is None:
        return None
    outer = [(text, 1) for text in body.dates]
    return Runs(list(chain.from_iterable(_woven(outer, places, [_runs(part.codes[index], part.texts[index]) for part in parts]))))


class _FirstCells(NamedTuple):
    """The bytes of even lines and where they start, to look at their first cells."""

    data: bytes
    starts: NDArray[np.int64]
    delimiter: str

    def runs(self, numbers: FloatArray) -> list[tuple[str, int]]:
        """Return first cells that are whole numbers as they are written; all cells of one number have to be written alike."""
        if np.isnan(numbers).any():
            raise NotEven("points that name no step")
        view = np.frombuffer(self.data, np.uint8)
        labels: list[tuple[str, int]] = []
        for begin, end in _stretches(numbers):
            here = self.starts[begin:end]
            cell = self.data[here[0] : self.data.index(self.delimiter.encode(), here[0]) + 1]
            if not cell[:-1].isdigit() or any((view[here + at] != sign).any() for at, sign in enumerate(cell)):
                raise NotEven("steps that are named in several ways")
            labels.append((cell[:-1].decode(), end - begin))
        return labels


def _stretches(values: NDArray[np.int64] | FloatArray) -> list[tuple[int, int]]:
    """Return where each stretch of equal values begins and ends."""
    return list(pairwise([0, *(np.flatnonzero(np.diff(values)) + 1).tolist(), values.size]))


def _runs(codes: NDArray[np.int64], texts: Sequence[str]) -> list[tuple[str, int]]:
    if not all(texts):
        raise NotEven("points that name no step")
    return [(texts[codes[begin]], end - begin) for begin, end in _stretches(codes)]


def _remarks(read: LargeExport, parts: Sequence[EvenLines], inner: Sequence[tuple[int, int]]) -> list[Finding]:
    findings = []
    for index, column in enumerate(read.body.columns):
        if column.role != "remarks":
            continue
        counts: Counter[str] = Counter()
        first: dict[str, int] = {}
        for row in read.blocks.tables[0].rows:
            remark = row.cells[index].strip()
            counts[remark] += 1
            first.setdefault(remark, row.line)
        for part, (begin, _) in zip(parts, inner, strict=True):
            for code, text in enumerate(map(str.strip, part.texts[index])):
                rows = np.flatnonzero(part.codes[index] == code)
                counts[text] += rows.size
                first[text] = min(first.get(text, begin + 1 + int(rows[0])), begin + 1 + int(rows[0]))
        findings += about_remarks(column, counts, first)
    return findings
