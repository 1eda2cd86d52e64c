"""The register as a table for other programs: CSV, or Parquet where that is installed. Each entry is one row, its record included."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterator
from pathlib import Path

from rheokit.base.errors import OutputError, printable
from rheokit.register.entry import FIELDS, Entry
from rheokit.register.store import Register

__all__ = ["COLUMNS", "export_register"]

COLUMNS = ("number", *FIELDS, "record", "previous", "hash")
"""Columns of an exported register, in their order."""
_CHUNK = 1000
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet would run as a formula when a cell begins with it."""


def export_register(register: Register, path: str | Path) -> int:
    """Write every entry into a new file and return how many; the suffix says which format.

    In a CSV file, text that a spreadsheet would run as a formula stands behind an apostrophe.

    Raises
    ------
    OutputError
        When the suffix is neither .csv nor .parquet, the file is there, it cannot be written, or what Parquet needs is not installed.
    """
    target = Path(path)
    write = {".csv": _write_csv, ".parquet": _write_parquet}.get(target.suffix.lower())
    if write is None:
        raise OutputError(f"{printable(path)}: is neither .csv nor .parquet; give the file one of these endings")
    if target.exists():
        raise OutputError(f"{printable(path)}: is there already and is not replaced; name another file")
    temporary = target.with_name(f".{target.name}.{os.getpid()}.tmp")
    try:
        count = write(register, temporary)
        temporary.rename(target)
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(f"{printable(path)}: cannot be written ({error.strerror or error}); name a file you may write to") from None
    finally:
        temporary.unlink(missing_ok=True)
    return count


def _texts(entry: Entry) -> list[str]:
    record = entry.record.decode("utf-8", errors="backslashreplace")
    return [str(entry.number), *(entry.values[name] for name in FIELDS), record, entry.previous, entry.hash]


def _write_csv(register: Register, path: Path) -> int:
    count = 0
    with path.open("x", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for entry in register.entries():
            writer.writerow([f"'{text}" if text.startswith(_FORMULA) else text for text in _texts(entry)])
            count += 1
    return count


def _write_parquet(register: Register, path: Path) -> int:
    try:
        import pyarrow as pa  # noqa: PLC0415 - an extra, and only wanted for Parquet
        import pyarrow.parquet as pq  # noqa: PLC0415 - as above
    except ImportError:
        raise OutputError("Parquet needs pyarrow, which is not installed: pip install 'rheokit[parquet]', or export to .csv") from None
    schema = pa.schema([("number", pa.int64()), *((name, pa.string()) for name in COLUMNS[1:])])
    count = 0
    with pq.ParquetWriter(path, schema) as writer:
        for chunk in _chunks(register):
            columns = list(zip(*map(_texts, chunk), strict=True))
            arrays = [pa.array(list(map(int, columns[0])), pa.int64()), *(pa.array(column, pa.string()) for column in columns[1:])]
            writer.write_table(pa.Table.from_arrays(arrays, schema=schema))
            count += len(chunk)
    return count


def _chunks(register: Register) -> Iterator[list[Entry]]:
    held: list[Entry] = []
    for entry in register.entries():
        held.append(entry)
        if len(held) == _CHUNK:
            yield held
            held = []
    if held:
        yield held
