"""Long columns that are kept in pieces, as runs of equal cells, or as the bytes they were written with, until a cell is looked at."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import accumulate, chain
from typing import TypeVar, overload

import numpy as np
from numpy.typing import NDArray

__all__ = ["Pieces", "Runs", "WrittenCells"]

Item = TypeVar("Item", bound=int | str)


class Pieces(Sequence[Item]):
    """Several sequences that count as one."""

    def __init__(self, parts: Sequence[Sequence[Item]]) -> None:
        self._parts = [part for part in parts if len(part)]
        self._ends = list(accumulate(map(len, self._parts)))

    def __len__(self) -> int:
        return self._ends[-1] if self._ends else 0

    def __iter__(self) -> Iterator[Item]:
        return chain.from_iterable(self._parts)

    @overload
    def __getitem__(self, index: int) -> Item: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Item]: ...
    def __getitem__(self, index: int | slice) -> Item | Sequence[Item]:
        if isinstance(index, slice):
            return self._stretch(*index.indices(len(self)))
        at = index + len(self) if index < 0 else index
        if not 0 <= at < len(self):
            raise IndexError(index)
        part = bisect_right(self._ends, at)
        return self._parts[part][at - (self._ends[part - 1] if part else 0)]

    def _stretch(self, begin: int, end: int, step: int) -> Sequence[Item]:
        if step != 1:
            return [self[one] for one in range(begin, end, step)]
        firsts = [last - len(part) for last, part in zip(self._ends, self._parts, strict=True)]
        return Pieces([part[max(0, begin - first) : max(0, end - first)] for first, part in zip(firsts, self._parts, strict=True)])


class Runs(Sequence[str]):
    """Texts of which each stands in several rows; `starts` is the first row of each stretch of equal ones."""

    def __init__(self, runs: Sequence[tuple[str, int]]) -> None:
        self._texts: list[str] = []
        self.starts: list[int] = []
        self._count = 0
        for text, count in runs:
            if count and (not self._texts or text != self._texts[-1]):
                self._texts.append(text)
                self.starts.append(self._count)
            self._count += count

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[str]: ...
    def __getitem__(self, index: int | slice) -> str | Sequence[str]:
        if isinstance(index, slice):
            return [self[one] for one in range(*index.indices(len(self)))]
        at = index + len(self) if index < 0 else index
        if not 0 <= at < len(self):
            raise IndexError(index)
        return self._texts[bisect_right(self.starts, at) - 1]


class WrittenCells(Sequence[str]):
    """One column of even lines of a text, cut out of its bytes when asked for; numbers have a decimal point."""

    def __init__(self, data: bytes, starts: NDArray[np.int64], column: int, delimiter: str, decimal: str) -> None:
        self._data, self._starts, self._column, self._delimiter, self._decimal = data, starts, column, delimiter, decimal

    def __len__(self) -> int:
        return len(self._starts) - 1

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[str]: ...
    def __getitem__(self, index: int | slice) -> str | Sequence[str]:
        if isinstance(index, slice):
            return [self[one] for one in range(*index.indices(len(self)))]
        at = index + len(self) if index < 0 else index
        if not 0 <= at < len(self):
            raise IndexError(index)
        line = self._data[self._starts[at] : self._starts[at + 1]].decode("utf-8").rstrip("\r\n")
        return line.split(self._delimiter)[self._column].replace(self._decimal, ".")
