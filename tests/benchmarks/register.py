"""Speed of the register: one append against a bare synchronised insert, verification of a small and of a large one, and a trend page.

`python tests/benchmarks/register.py` prints the table (100,000 records, about two minutes).
"""

from __future__ import annotations

import argparse
import sqlite3
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path
from statistics import median

from rheokit.comparison.trend import trend
from rheokit.register.entry import Entry
from rheokit.register.history import register_rows
from rheokit.register.store import Register
from rheokit.register.verification import verify_register
from rheokit.release.result_rows import ResultRow, rows_to_text
from rheokit.reports.trend_page import trend_page
from rheokit.virtual import demo_history

RECORD = b'{"format": "rheokit record 1", "filling": "' + b"x" * 20_000 + b'"}\n'
"""A sixth of the record of a batch of three tests: the bare insert is quick, and the ratio errs high."""


def entry(number: int) -> Entry:
    """Return one entry, its numbers those of an invented history."""
    place = number % len(HISTORY)
    return Entry(
        kind="check", written="2026-11-25T08:00:00Z", batch=f"B{number:06d}", product="paste", disposition="release",
        results=HISTORY[place], record=RECORD,
    )  # fmt: skip


def _history(count: int) -> list[str]:
    rows = [ResultRow(**row) for row in demo_history(count)]
    return [rows_to_text(row for row in rows if row.batch == batch) for batch in dict.fromkeys(row.batch for row in rows)]


HISTORY = _history(2000)
"""Numbers of as many checks, as the register keeps them; four of them are of a requirement on batch and standard, one of the oil."""


def trended(path: Path) -> float:
    """Return the time [s] from the register's file to the text of a trend page of its last 1000 checks."""
    start = time.perf_counter()
    page = trend_page(trend(register_rows(Register(path))), title="trend", source="benchmark")
    if "loop-area" not in page:
        raise AssertionError("the page is not whole")
    return time.perf_counter() - start


def bare(path: Path) -> None:
    """Insert the same bytes into a table of one column, synchronised, by a connection of its own."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("INSERT INTO t (record) VALUES (?)", (RECORD,))


def ratio(register: Register, path: Path, first: int, count: int) -> float:
    """Return the median time of an append over that of a bare insert, taken in turns so that both meet the same disk."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.executescript("PRAGMA journal_mode = WAL; CREATE TABLE t (n INTEGER PRIMARY KEY, record BLOB)")
    appends, inserts = [], []
    for number in range(first, first + count):
        start = time.perf_counter()
        bare(path)
        between = time.perf_counter()
        register.append(entry(number))
        appends.append(time.perf_counter() - between)
        inserts.append(between - start)
    return median(appends) / median(inserts)


def verified(path: Path) -> float:
    """Return the time [s] of a verification that holds."""
    start = time.perf_counter()
    if not verify_register(path).holds:
        raise AssertionError("the chain does not hold")
    return time.perf_counter() - start


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--records", type=int, default=100_000)
    parser.add_argument("--turns", type=int, default=5)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        small, large = (Register(Path(folder) / f"{name}.sqlite", create=True) for name in ("small", "large"))
        small.append_all(entry(number) for number in range(given.records // 10))
        large.append_all(entry(number) for number in range(given.records))
        ratios = [ratio(large, Path(folder) / f"bare{turn}.sqlite", given.records + 200 * turn, 200) for turn in range(given.turns)]
        pages = [trended(register.path) for register in (small, large)]
        times = [verified(register.path) for register in (small, large)]
    sys.stdout.write(
        f"append with {given.records} records there, over a bare synchronised insert: {min(ratios):.2f} to {max(ratios):.2f} (limit 3)\n"
        f"verify {given.records} over {given.records // 10} records: {times[1] / times[0]:.1f} (linear is 10); "
        f"{given.records / times[1]:.0f} entries a second\n"
        f"trend page of the last 1000 checks, {given.records // 10} and {given.records} records there: {pages[0]:.2f} and {pages[1]:.2f} s "
        "(limit 3)\n"
    )


if __name__ == "__main__":
    main()
