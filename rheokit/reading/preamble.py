"""Keep the lines above the table as metadata."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from rheokit.base.finding import Finding
from rheokit.reading.rows import SPACES, Row
from rheokit.reading.words import fold

__all__ = ["entry", "moment", "read_preamble"]


def read_preamble(rows: Sequence[Row], notes: Sequence[Row], delimiter: str) -> tuple[dict[str, str], tuple[Finding, ...]]:
    """Return key and value of each line above the table and of each note in and under it: `key,value`, `key: value` or `key = value`.

    A line without a key is kept under its line number, and so is a key that was there before.
    """
    metadata: dict[str, str] = {}
    repeated = []
    for row in (*rows, *notes):
        key, value = _key_and_value(row.cells, delimiter)
        if not key:
            if not value:
                continue
            key = f"line {row.line}"
        elif key in metadata:
            if row in rows:
                repeated.append(f"{key!r} in line {row.line}")
            key = f"{key} (line {row.line})"
        metadata[key] = value
    findings = []
    if repeated:
        reason = f"the preamble repeats {', '.join(repeated)}; the first one counts"
        findings.append(Finding(check="preamble", severity="info", reason=reason))
    return metadata, (*findings, *_measured(metadata))


def _key_and_value(cells: Sequence[str], delimiter: str) -> tuple[str, str]:
    if delimiter == SPACES:
        cells = [" ".join(cells)]
    cells = cells[next((index for index, cell in enumerate(cells) if cell.strip()), 0) :]  # a sheet may begin with empty columns
    between = delimiter or " "
    first, rest = cells[0].lstrip("# \t"), cells[1:]
    key, colon, value = first.partition(":")
    if colon and (not value or value[0].isspace()):
        # The value may hold the delimiter itself.
        return key.strip(), between.join((value, *rest)).strip(f" \t{between}")
    key, equals, value = first.partition("=")
    if equals and key.strip():
        return key.strip(), between.join((value, *rest)).strip(f" \t{between}")
    if any(cell.strip() for cell in rest):
        return first.strip(), between.join(rest).strip(f" \t{between}")
    return "", first.strip()


def entry(metadata: Mapping[str, str], key: str) -> str | None:
    """Return the value of a key without regard to capitals, hyphens and underscores, or None when it is absent or empty."""
    wanted = fold(key)
    return next((value for name, value in metadata.items() if fold(name) == wanted and value), None)


def moment(text: str) -> datetime | None:
    """Return a time in ISO 8601 with its offset from UTC, or None when it is not one."""
    try:
        found = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    return found if found.tzinfo is not None else None


def _measured(metadata: Mapping[str, str]) -> tuple[Finding, ...]:
    measured = entry(metadata, "Measured")
    if measured is None or moment(measured) is not None:
        return ()
    reason = f"the time of measuring {measured[:60]!r} is no ISO 8601 time with an offset (2026-09-14T09:30:00+02:00); its order is unknown"
    return (Finding(check="measured_time", severity="info", reason=reason),)
