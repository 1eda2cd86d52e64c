"""The register's file: SQLite in write-ahead mode with full synchronisation, appended to and never changed.

Tables and triggers refuse change and deletion; the chain of hashes shows what was done behind their back. The hash of the last entry
stands beside the entries and on every record that is printed, so that an end cut off is missed too.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

from rheokit.base.errors import MissingFileError, OutputError, ReadError, printable
from rheokit.base.show import Table
from rheokit.register.entry import FIELDS, FIRST, Entry, EntryKind

__all__ = ["BROKEN", "SCHEMA", "Register"]

FORMAT = "rheokit register 1"
_WAIT = 60.0
"""[s] How long a writer waits for the others."""

_COLUMNS = ("number", "previous", *FIELDS, "record", "hash")
SCHEMA = f"""
CREATE TABLE format (name TEXT NOT NULL);
INSERT INTO format VALUES ('{FORMAT}');
CREATE TABLE entries (
    number INTEGER PRIMARY KEY,
    previous TEXT NOT NULL,
    {", ".join(f"{name} TEXT NOT NULL" for name in FIELDS)},
    record BLOB NOT NULL,
    hash TEXT NOT NULL
);
CREATE INDEX entries_by_batch ON entries (batch, number);
CREATE INDEX entries_by_kind ON entries (kind, number);
CREATE TABLE last (place INTEGER PRIMARY KEY CHECK (place = 1), number INTEGER NOT NULL, hash TEXT NOT NULL);
INSERT INTO last VALUES (1, 0, '{FIRST}');
CREATE TRIGGER entries_stay BEFORE UPDATE ON entries BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END;
CREATE TRIGGER entries_remain BEFORE DELETE ON entries BEGIN SELECT RAISE(ABORT, 'an entry is never deleted'); END;
CREATE TRIGGER entries_follow BEFORE INSERT ON entries
    WHEN NEW.number <> (SELECT number + 1 FROM last) OR NEW.previous <> (SELECT hash FROM last)
    BEGIN SELECT RAISE(ABORT, 'an entry follows the last one'); END;
CREATE TRIGGER entries_end AFTER INSERT ON entries BEGIN UPDATE last SET number = NEW.number, hash = NEW.hash; END;
CREATE TRIGGER last_remains BEFORE DELETE ON last BEGIN SELECT RAISE(ABORT, 'the end is never deleted'); END;
CREATE TRIGGER last_rises BEFORE UPDATE ON last WHEN NEW.number <> OLD.number + 1
    BEGIN SELECT RAISE(ABORT, 'the end moves one by one'); END;
"""


BROKEN = (sqlite3.DatabaseError, UnicodeDecodeError)
"""What a damaged file raises; the second where the words of the first hold a damaged byte."""


class Register:
    """A register file.

    Parameters
    ----------
    path
        The file; `create=True` makes it when it is not there.

    Raises
    ------
    MissingFileError
        When it is not there.
    ReadError
        When it is no register.
    """

    def __init__(self, path: str | Path, *, create: bool = False) -> None:
        self.path = Path(path)
        if not self.path.exists():
            if not create:
                raise MissingFileError(path, "there is no register", remedy="create one with 'rheokit register create FILE'")
            self._create()
        with self.connection() as connection:
            self._check_format(connection)

    def append(self, entry: Entry, *, seen: int | None = None) -> Entry:
        """Append an entry and return it with its number and hash; when this returns, it is on the disk.

        Parameters
        ----------
        entry
            What is appended.
        seen
            Number of the last entry that the writer had looked at: a later one of the same batch is one it did not know of.

        Raises
        ------
        OutputError
            When the file cannot be written, or an entry of the same batch came in between.
        """
        with self.connection() as connection:
            return self._append(connection, entry, seen)

    def append_all(self, entries: Iterator[Entry]) -> int:
        """Append entries in one transaction, all or none, and return how many: for moving an archive in."""
        with self.connection() as connection:
            connection.execute("BEGIN IMMEDIATE")
            try:
                number, previous = connection.execute("SELECT number, hash FROM last").fetchone()
                start = number
                for entry in entries:
                    number, previous = number + 1, self._insert(connection, entry, number + 1, previous)
            except BaseException:
                connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")
            return int(number - start)

    def entries(self, *, batch: str | None = None, first: int = 1) -> Iterator[Entry]:
        """Yield the entries from a number on, in order, all or those of one batch."""
        of_batch = () if batch is None else (batch,)
        yield from self._selected("number >= ?" + " AND batch = ?" * len(of_batch), first, *of_batch)

    def latest(self, count: int, *, kind: EntryKind | None = None, batch: str | None = None) -> list[Entry]:
        """Return the last so many entries in order, all or those of a kind or batch; without their records, which stay unread."""
        conditions = {"kind": kind, "batch": batch}
        given = {name: value for name, value in conditions.items() if value is not None}
        where = " AND ".join(["number > 0", *(f"{name} = ?" for name in given)])
        found = self._selected(where, *given.values(), end=" DESC LIMIT ?", count=count, record="x''")
        return list(found)[::-1]

    def entry(self, number: int) -> Entry:
        """Return one entry.

        Raises
        ------
        ReadError
            When there is none of that number.
        """
        found = next(iter(list(self._selected("number = ?", number))), None)
        if found is None:
            raise ReadError(self.path, f"there is no entry {number}", remedy=f"it holds the entries 1 to {len(self)}")
        return found

    def _selected(self, where: str, *given: object, end: str = "", count: int | None = None, record: str = "record") -> Iterator[Entry]:
        columns = ", ".join(record if name == "record" else name for name in _COLUMNS)
        values = given if count is None else (*given, count)
        with self.connection() as connection:
            for row in connection.execute(f"SELECT {columns} FROM entries WHERE {where} ORDER BY number{end}", values):
                yield _entry(row)

    def table(self, *, last: int = 50, batch: str | None = None) -> Table:
        """Return the last entries, all or those of one batch, as a table."""
        rows = tuple(
            (str(entry.number), entry.written, entry.kind, entry.batch, entry.disposition, entry.about, entry.operator,
             "; ".join(filter(None, (entry.role, entry.reason, entry.expires and f"until {entry.expires}"))))
            for entry in self.latest(last, batch=batch)
        )  # fmt: skip
        columns = ("entry", "written", "what", "batch", "recommended", "about", "by", "why")
        notes = (f"{len(rows)} of {len(self)} entries; last hash {self.last_hash}",)
        return Table(title="", columns=columns, rows=rows, notes=notes, right=("entry", "about"))

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def __len__(self) -> int:
        with self.connection() as connection:
            return int(connection.execute("SELECT number FROM last").fetchone()[0])

    @property
    def last_hash(self) -> str:
        """Hash of the last entry: printed on a record, it shows an end cut off later."""
        with self.connection() as connection:
            return str(connection.execute("SELECT hash FROM last").fetchone()[0])

    @contextmanager
    def connection(self) -> Iterator[sqlite3.Connection]:
        """Open the file for one use, and say in one line what is wrong with it."""
        try:
            # Mode rw: a file that went away is missed, not made anew and empty.
            with closing(sqlite3.connect(f"{self.path.resolve().as_uri()}?mode=rw", timeout=_WAIT, isolation_level=None, uri=True)) as held:
                held.execute("PRAGMA synchronous = FULL")
                yield held
        except BROKEN as error:
            refused = isinstance(error, sqlite3.OperationalError | sqlite3.IntegrityError)
            kind: type[OutputError] | type[ReadError] = OutputError if refused else ReadError
            if kind is OutputError:
                raise OutputError(f"{printable(self.path)}: {error}; nothing was written") from None
            raise ReadError(self.path, f"it cannot be read as a register: {error}", remedy="run 'rheokit register verify' on it") from None

    def _append(self, connection: sqlite3.Connection, entry: Entry, seen: int | None) -> Entry:
        connection.execute("BEGIN IMMEDIATE")
        try:
            if seen is not None:
                self._check_seen(connection, entry.batch, seen)
            number, previous = connection.execute("SELECT number, hash FROM last").fetchone()
            hashed = self._insert(connection, entry, number + 1, previous)
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        connection.execute("COMMIT")
        return replace(entry, number=number + 1, previous=previous, hash=hashed)

    @staticmethod
    def _check_seen(connection: sqlite3.Connection, batch: str, seen: int) -> None:
        later = connection.execute("SELECT MIN(number) FROM entries WHERE batch = ? AND number > ?", (batch, seen)).fetchone()[0]
        if later is not None:
            raise OutputError(f"entry {later} of batch {printable(batch)} came in meanwhile; nothing was written; run it again")

    @staticmethod
    def _insert(connection: sqlite3.Connection, entry: Entry, number: int, previous: str) -> str:
        hashed = entry.chain_hash(previous, number)
        values = (number, previous, *(entry.values[name] for name in FIELDS), entry.record, hashed)
        connection.execute(f"INSERT INTO entries ({', '.join(_COLUMNS)}) VALUES ({', '.join('?' * len(values))})", values)
        return hashed

    def _create(self) -> None:
        try:
            with closing(sqlite3.connect(self.path, timeout=_WAIT, isolation_level=None)) as connection:
                connection.execute("PRAGMA journal_mode = WAL")
                connection.execute("PRAGMA synchronous = FULL")
                connection.executescript("BEGIN IMMEDIATE;" + SCHEMA + "COMMIT;")
        except sqlite3.DatabaseError as error:
            raise OutputError(f"{printable(self.path)}: a register cannot be made there ({error})") from None

    def _check_format(self, connection: sqlite3.Connection) -> None:
        try:
            found = connection.execute("SELECT name FROM format").fetchone()
        except BROKEN:
            found = None
        if found != (FORMAT,):
            raise ReadError(self.path, f"it is no register of the format {FORMAT!r}", remedy="name a register file")


def _entry(row: tuple[object, ...]) -> Entry:
    # The columns are the fields, by construction.
    return Entry(**dict(zip(_COLUMNS, row, strict=True)))  # type: ignore[arg-type]
