"""Verification: every entry hashed again and held against its chain; what was altered, taken out, swapped or cut off is located."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from rheokit.base.errors import MissingFileError
from rheokit.base.show import Table
from rheokit.register.entry import FIELDS, FIRST, chained
from rheokit.register.store import BROKEN, SCHEMA

__all__ = ["Trouble", "Verification", "verify_register"]

_COLUMNS = ", ".join(("number", "previous", *FIELDS, "record", "hash"))
_MOST = 100
"""How many troubles are listed; one broken page breaks the rest of the chain only once."""


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """What is wrong with one entry, by its number; 0 is the file itself."""

    number: int
    kind: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class Verification:
    """What a verification found: how many entries were read, the hash of the last, and the troubles in order."""

    entries: int
    last_hash: str
    troubles: tuple[Trouble, ...]

    @property
    def holds(self) -> bool:
        """Whether the whole chain holds."""
        return not self.troubles

    def table(self) -> Table:
        """Return the troubles as a table."""
        rows = tuple((str(trouble.number or "file"), trouble.kind, trouble.reason) for trouble in self.troubles)
        said = "the chain holds" if self.holds else f"{len(self.troubles)} troubles"
        notes = (f"{self.entries} entries read; {said}; last hash {self.last_hash}",)
        return Table(title="register", columns=("entry", "trouble", "reason"), rows=rows, notes=notes, right=("entry",))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def verify_register(path: str | Path, *, expected_hash: str | None = None) -> Verification:
    """Verify a register file, whatever state it is in.

    Parameters
    ----------
    path
        The file; it is only read.
    expected_hash
        The last hash as it stands on a printed record; it must be in the chain.

    Raises
    ------
    MissingFileError
        When it is not there.
    """
    file = Path(path)
    if not file.exists():
        raise MissingFileError(path, "there is no register")
    troubles: list[Trouble] = []
    count, previous, number, seen = 0, FIRST, 0, expected_hash is None
    try:
        with closing(sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True)) as connection:
            for row in _rows(connection, troubles):
                count += 1
                troubles += _troubles_of(row, previous, number)
                number, previous = int(row["number"]), str(row["hash"])
                seen = seen or previous == expected_hash
            troubles += _end(connection, number, previous)
            troubles += _file(connection)
    except BROKEN as error:
        troubles.append(Trouble(number=0, kind="unreadable", reason=f"the file cannot be read after entry {number}: {error}"))
    if not seen:
        troubles.append(Trouble(number=number, kind="cut off", reason=f"the hash {expected_hash} of a printed record is not in the chain"))
    return Verification(entries=count, last_hash=previous, troubles=tuple(troubles[:_MOST]))


def _rows(connection: sqlite3.Connection, troubles: list[Trouble]) -> Iterator[sqlite3.Row]:
    """Yield the entries in order; where the file breaks, entry by entry, naming those that cannot be read."""
    connection.row_factory = sqlite3.Row
    reached = 0
    try:
        for row in connection.execute(f"SELECT {_COLUMNS} FROM entries ORDER BY number"):
            reached = _numbered(row)
            yield row
    except BROKEN as error:
        broken = f"{error}"
    else:
        return
    ends = connection.execute("SELECT number FROM last").fetchone()
    for number in range(reached + 1, (_whole(ends[0], reached) if ends else reached) + 1):
        try:
            row = connection.execute(f"SELECT {_COLUMNS} FROM entries WHERE number = ?", (number,)).fetchone()
            if row is not None:
                _numbered(row)
        except BROKEN:
            row = None
            troubles.append(Trouble(number=number, kind="unreadable", reason=f"this entry cannot be read: {broken}"))
        if row is not None:
            yield row


def _whole(held: object, otherwise: int) -> int:
    return held if isinstance(held, int) else otherwise


def _numbered(row: sqlite3.Row) -> int:
    """Return the number of a row; where a damaged file gives something else, it cannot be read there."""
    number = _whole(row["number"], -1)
    if number < 1:
        raise sqlite3.DatabaseError("a row has no number")
    return number


def _troubles_of(row: sqlite3.Row, previous: str, before: int) -> Iterator[Trouble]:
    number = int(row["number"])
    if number != before + 1:
        gone = f"entry {before + 1}" if number == before + 2 else f"entries {before + 1} to {number - 1}"
        yield Trouble(number=before + 1, kind="missing", reason=f"{gone} should stand between {before} and {number}")
    elif row["previous"] != previous:
        yield Trouble(number=number, kind="out of order", reason=f"entry {number} does not follow entry {before} as it now stands")
    record = row["record"]
    texts = tuple(str(row[name]) for name in FIELDS)
    made = chained(str(row["previous"]), number, texts, record if isinstance(record, bytes) else str(record).encode())
    if made != row["hash"]:
        yield Trouble(number=number, kind="altered", reason=f"entry {number} does not give its own hash")


def _end(connection: sqlite3.Connection, number: int, previous: str) -> list[Trouble]:
    last = connection.execute("SELECT number, hash FROM last").fetchone()
    if last is None:
        return [Trouble(number=0, kind="altered", reason="the end of the register is gone")]
    ends = _whole(last["number"], -1)
    if ends > number:
        return [Trouble(number=number + 1, kind="cut off", reason=f"entries {number + 1} to {ends} are missing at the end")]
    if ends < number or last["hash"] != previous:
        return [Trouble(number=number, kind="altered", reason="the end of the register does not name the last entry")]
    return []


def _file(connection: sqlite3.Connection) -> Iterator[Trouble]:
    """Look at the file itself: tables, guards and indexes as they were made."""
    with closing(sqlite3.connect(":memory:")) as fresh:
        fresh.executescript(SCHEMA)
        wanted = dict(fresh.execute(_LISTED).fetchall())
    held = {str(name): str(text) for name, text in connection.execute(_LISTED)}
    wrong = sorted(name for name in wanted if held.get(name) != wanted[name])
    if wrong:
        yield Trouble(number=0, kind="unguarded", reason=f"tables or guards against change are gone or altered: {', '.join(wrong)}")
    for (said,) in connection.execute("PRAGMA integrity_check"):
        if said != "ok":
            yield Trouble(number=0, kind="damaged", reason=f"the file is damaged: {said}")


_LISTED = "SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL"
