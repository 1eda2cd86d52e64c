"""Columns in pieces, in runs and in bytes are the sequences they stand for."""

from __future__ import annotations

import numpy as np
import pytest

from rheokit.reading.pieces import Pieces, Runs, WrittenCells

TEXT = "1,5;a\r\n2;bb\r\n3,25;c"
SEQUENCES = {
    "pieces": (Pieces([[5, 6], [], range(10, 14), (1,)]), [5, 6, 10, 11, 12, 13, 1]),
    "no pieces": (Pieces([]), []),
    "runs": (Runs([("a", 2), ("b", 0), ("a", 1), ("c", 3)]), ["a", "a", "a", "c", "c", "c"]),
    "numbers in bytes": (WrittenCells(TEXT.encode(), np.array([0, 7, 13, len(TEXT)]), 0, ";", ","), ["1.5", "2", "3.25"]),
    "texts in bytes": (WrittenCells(TEXT.encode(), np.array([0, 7, 13, len(TEXT)]), 1, ";", "."), ["a", "bb", "c"]),
}


@pytest.mark.parametrize("name", SEQUENCES)
def test_they_are_sequences(name):
    kept, plain = SEQUENCES[name]
    assert len(kept) == len(plain)
    assert list(kept) == plain
    count = len(plain)
    for index in range(-count, count):
        assert kept[index] == plain[index]
    for begin in (None, -3, 0, 1, 2, 5):
        for end in (None, -1, 0, 2, 3, 6, 99):
            for step in (None, 1, 2, -1):
                assert list(kept[begin:end:step]) == plain[begin:end:step]
    for outside in (count, -count - 1):
        with pytest.raises(IndexError):
            kept[outside]


def test_runs_know_where_they_begin():
    assert Runs([("a", 2), ("a", 1), ("b", 3)]).starts == [0, 3]
