"""Read the even lines of a long table with the C parser of pandas: numbers by column, texts as codes.

Even lines hold as many cells as the header, numbers where it names quantities, and words for missing numbers. `NotEven` is raised
wherever the parser might read anything else than `numbers` would, so that a slower way decides.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.reading.clock import CLOCK_UNITS
from rheokit.reading.columns import Column, in_si
from rheokit.reading.words import MISSING_WORDS

if TYPE_CHECKING:
    from types import ModuleType

    import pandas as pd

__all__ = ["EvenLines", "EvenTable", "NotEven", "read_even"]

_PART = 4_000_000
"""[bytes] Of a part that is worth a thread of its own."""

_MOST_THREADS = 4
"""There are as many parts as threads: each call of the parser costs some milliseconds by itself."""

_EXACT_SINCE = (3, 1)
"""Version of pandas from which its usual way rounds every number correctly; before, that is asked for by name."""


class NotEven(Exception):  # noqa: N818 - never leaves the reading of large files, and is no error there
    """The lines are not even, or may not be: another way of reading decides."""


@dataclass(frozen=True, eq=False, kw_only=True)
class EvenTable:
    """What even lines hold: what each column is, what divides the cells, the decimal mark, and further columns of plain numbers."""

    columns: Sequence[Column]
    delimiter: str
    decimal: str
    plain: frozenset[int] = frozenset()

    @property
    def numeric(self) -> frozenset[int]:
        """Index of every column that is read as numbers."""
        units = ((index, column.unit) for index, column in enumerate(self.columns))
        return self.plain | {index for index, unit in units if unit is not None and unit.symbol not in CLOCK_UNITS}


@dataclass(frozen=True, eq=False, kw_only=True)
class EvenLines:
    """Numbers in SI by the index of their column, in which of these columns none is missing, and other cells as codes of `texts`."""

    count: int
    numbers: Mapping[int, FloatArray]
    complete: frozenset[int]
    codes: Mapping[int, NDArray[np.int64]]
    texts: Mapping[int, Sequence[str]]


class _Window:
    """A file of some bytes of a larger whole, without a copy of them."""

    def __init__(self, data: bytes, start: int, end: int) -> None:
        self._data, self._at, self._end = data, start, end

    def read(self, size: int = -1) -> bytes:
        end = self._end if size < 0 else min(self._end, self._at + size)
        taken = self._data[self._at : end]
        self._at = end
        return taken

    def __iter__(self) -> Iterator[bytes]:
        return iter(self.read, b"")


def read_even(data: bytes, starts: NDArray[np.int64], table: EvenTable, out: Mapping[int, FloatArray]) -> EvenLines:
    """Read the cells of even lines.

    Parameters
    ----------
    data
        The bytes of the file.
    starts
        Where each line starts, and where the last one ends, shape (N + 1,).
    table
        What the lines hold.
    out
        Index of each column of numbers to where they go, shape (N,).

    Raises
    ------
    NotEven
        When they are not even.
    """
    pandas = _pandas()
    parts = min(max(1, round(int(starts[-1] - starts[0]) / _PART)), _MOST_THREADS, max(2, os.cpu_count() or 1))
    edges = np.linspace(0, starts.size - 1, parts + 1).astype(np.intp).tolist()

    def part(begin: int, end: int) -> EvenLines:
        return _part(pandas, data, starts[begin : end + 1], table, {index: values[begin:end] for index, values in out.items()})

    if parts == 1:
        return part(0, starts.size - 1)
    with ThreadPoolExecutor(parts) as threads:
        return _one_after_the_other(list(threads.map(part, edges[:-1], edges[1:])), out)


def _pandas() -> ModuleType:
    import pandas  # noqa: PLC0415 - heavy; the one place in reading

    return pandas


def _frame(pandas: ModuleType, window: _Window, table: EvenTable) -> pd.DataFrame:
    width, numeric = len(table.columns), table.numeric
    exact = {} if tuple(map(int, pandas.__version__.split(".")[:2])) >= _EXACT_SINCE else {"float_precision": "round_trip"}
    try:
        frame: pd.DataFrame = pandas.read_csv(
            window,
            sep=table.delimiter,
            decimal=table.decimal,
            header=None,
            names=range(width),
            index_col=False,
            dtype={index: np.float64 if index in numeric else object for index in range(width)},
            na_values=list(_MISSING) if len(numeric) == width else {index: list(_MISSING) for index in numeric},
            keep_default_na=False,
            skip_blank_lines=False,
            quoting=3,
            engine="c",
            **exact,
        )
    except (ValueError, OverflowError) as error:  # the parser's own errors are ValueErrors
        raise NotEven(str(error)) from None
    return frame


def _part(pandas: ModuleType, data: bytes, starts: NDArray[np.int64], table: EvenTable, out: Mapping[int, FloatArray]) -> EvenLines:
    count, width = starts.size - 1, len(table.columns)
    frame = _frame(pandas, _Window(data, int(starts[0]), int(starts[-1])), table)
    if len(frame) != count:
        raise NotEven("blank lines or lines that are joined")
    complete = frozenset(index for index, values in out.items() if _fill(values, frame[index].to_numpy(), table.columns[index]))
    factorised = {index: pandas.factorize(frame[index]) for index in range(width) if index not in out}
    codes = {index: found.astype(np.int64, copy=False) for index, (found, _) in factorised.items()}
    if any(one.min() < 0 for one in codes.values()):
        raise NotEven("cells that are missing")
    if width - 1 not in complete:
        # A line that is short lacks its last cell.
        here = np.frombuffer(data, np.uint8)[starts[0] : starts[-1]]
        if np.count_nonzero(here == ord(table.delimiter)) != count * (width - 1):
            raise NotEven("lines of another width")
    texts = {index: tuple(found) for index, (_, found) in factorised.items()}
    return EvenLines(count=count, numbers=out, complete=complete, codes=codes, texts=texts)


def _fill(out: FloatArray, values: FloatArray, column: Column) -> bool:
    """Put numbers in SI where they belong, and tell whether none is missing."""
    with np.errstate(over="ignore"):
        out[:] = values if column.unit is None else in_si(values, column.unit)
    if np.isfinite(out).all():
        return True
    if np.isinf(out).any():
        raise NotEven("an infinite number")
    return False


_MISSING = frozenset(
    {form for word in MISSING_WORDS if "inf" not in word for form in (word, word.upper(), word.capitalize(), word.title())}
    | {sign * count for sign in "-*." for count in range(1, 9)}
    | {"NaN", "–", "—"}
)
"""Words for a missing number as they are mostly written; another way of writing one of them makes the line not even. Words for infinity
would make the parser take every number that is too large for missing."""


def _one_after_the_other(parts: Sequence[EvenLines], out: Mapping[int, FloatArray]) -> EvenLines:
    codes: dict[int, NDArray[np.int64]] = {}
    texts: dict[int, Sequence[str]] = {}
    for index in parts[0].codes:
        known: dict[str, int] = {}
        renumbered = []
        for part in parts:
            table = np.array([known.setdefault(text, len(known)) for text in part.texts[index]], dtype=np.int64)
            renumbered.append(table[part.codes[index]])
        codes[index], texts[index] = np.concatenate(renumbered), tuple(known)
    complete = frozenset.intersection(*(part.complete for part in parts))
    return EvenLines(count=sum(part.count for part in parts), numbers=out, complete=complete, codes=codes, texts=texts)
