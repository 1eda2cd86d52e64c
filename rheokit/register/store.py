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
from rheokit.register.entry import FIELDS, FIRST, Entry

__all__ = ["SCHEMA", "Register"]

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

    def append(self, entry: Entry) -> Entry:
        """Append an entry and return it with its number and hash; when this returns, it is on the disk.

        Raises
        ------
        OutputError
            When the file cannot be written.
        """
        with self.connection() as connection:
            return self._append(connection, entry)

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
        wanted = " AND batch = ?" if batch is not None else ""
        given = (first,) if batch is None else (first, batch)
        with self.connection() as connection:
            for row in connection.execute(f"SELECT {', '.join(_COLUMNS)} FROM entries WHERE number >= ?{wanted} ORDER BY number", given):
                yield _entry(row)

    def entry(self, number: int) -> Entry:
        """Return one entry.

        Raises
        ------
        ReadError
            When there is none of that number.
        """
        for found in self.entries(first=number):
            if found.number == number:
                return found
            break
        raise ReadError(self.path, f"there is no entry {number}")

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
        except sqlite3.DatabaseError as error:
            refused = isinstance(error, sqlite3.OperationalError | sqlite3.IntegrityError)
            kind: type[OutputError] | type[ReadError] = OutputError if refused else ReadError
            if kind is OutputError:
                raise OutputError(f"{printable(self.path)}: {error}; nothing was written") from None
            raise ReadError(self.path, f"it cannot be read as a register: {error}", remedy="run 'rheokit register verify' on it") from None

    def _append(self, connection: sqlite3.Connection, entry: Entry) -> Entry:
        connection.execute("BEGIN IMMEDIATE")
        try:
            number, previous = connection.execute("SELECT number, hash FROM last").fetchone()
            hashed = self._insert(connection, entry, number + 1, previous)
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        connection.execute("COMMIT")
        return replace(entry, number=number + 1, previous=previous, hash=hashed)

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
        except sqlite3.DatabaseError:
            found = None
        if found != (FORMAT,):
            raise ReadError(self.path, f"it is no register of the format {FORMAT!r}", remedy="name a register file")


def _entry(row: tuple[object, ...]) -> Entry:
    # The columns are the fields, by construction.
    return Entry(**dict(zip(_COLUMNS, row, strict=True)))  # type: ignore[arg-type]
