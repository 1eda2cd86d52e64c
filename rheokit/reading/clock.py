"""Read clock times: `hh:mm:ss`, with decimals or not, `mm:ss` where the heading says so, and moments with a date."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import datetime

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ReadError
from rheokit.reading.files import PathText
from rheokit.reading.numbers import is_missing

__all__ = [
    "CLOCK_UNITS",
    "HOURS",
    "MINUTES",
    "MOMENT",
    "about_unclear_time",
    "clock_unit",
    "is_clock",
    "is_clock_unit",
    "is_day",
    "to_seconds",
]

HOURS, MINUTES, MOMENT = "hh:mm:ss", "mm:ss", "date and time"
CLOCK_UNITS = frozenset({HOURS, MINUTES, MOMENT})
"""What stands for the unit of a column of clock times."""

_UNIT_TEXT = re.compile(
    r"(?:(?:h|hh|hr|std):)(?:m|mm|min):(?:s|ss|sec|sek)(?:[.,][0fsz]+)?|(?P<minutes>(?:m|mm|min):(?:s|ss|sec|sek)(?:[.,][0fsz]+)?)"
)
_CLOCK = re.compile(r"(?:(?P<hours>\d{1,4}):)?(?P<minutes>\d{1,2}):(?P<seconds>\d{1,2}(?:[.,]\d{1,9})?)", re.ASCII)
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}:\d{2}.*", re.ASCII)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_SHOWS_A_CLOCK = re.compile(r"\d:[0-5]\d", re.ASCII)
_DAY_FIRST = re.compile(
    r"(?P<day>\d{1,2})\.(?P<month>\d{1,2})\.(?P<year>\d{4}|\d{2}),?\s+"
    r"(?P<hour>\d{1,2}):(?P<minute>\d{2}):(?P<second>\d{2})(?:[.,](?P<fraction>\d{1,9}))?(?: Uhr)?",
    re.ASCII,
)
"""`03.01.2026 23:59:58`: between points the day comes first, in German (DIN 5008, by memory) and wherever else a date has points."""


def is_clock_unit(text: str) -> str | None:
    """Return which clock a unit such as `hh:mm:ss` or `min:s` means, or None."""
    matched = _UNIT_TEXT.fullmatch(text.strip().casefold())
    return None if matched is None else MINUTES if matched["minutes"] else HOURS


def clock_unit(cell: str) -> str | None:
    """Return which clock a cell shows by itself: hours, minutes and seconds, or a moment. `08:40` may be either and is none."""
    bare = cell.strip()
    matched = _CLOCK.fullmatch(bare)
    if matched is not None:
        return HOURS if matched["hours"] else None
    return MOMENT if _moment(bare) is not None else None


def is_day(cell: str) -> bool:
    """Tell whether a cell is a day alone, as a workbook shows a moment at midnight."""
    return _DAY.fullmatch(cell.strip()) is not None


def is_clock(cell: str) -> bool:
    """Tell whether a cell looks like a clock time of any kind."""
    return ":" in cell and (_CLOCK.fullmatch(cell.strip()) is not None or clock_unit(cell) is not None)


def _moment(text: str) -> datetime | None:
    """Return the date and time in a cell: as ISO 8601 writes it, or with points and the day first."""
    german = _DAY_FIRST.fullmatch(text)
    if german is None and _MOMENT.fullmatch(text) is None:
        return None
    try:
        if german is None:
            return datetime.fromisoformat(text.replace(",", "."))
        day, month, year, hour, minute, second = map(int, german.groups()[:6])
        fraction = (german["fraction"] or "").ljust(6, "0")[:6]
        return datetime(year if year > 99 else 2000 + year, month, day, hour, minute, second, int(fraction))
    except ValueError:
        return None


def about_unclear_time(cell: str) -> tuple[str, str] | None:
    """Return why a time without a unit has no one reading, and the remedy, or None where it holds no clock time."""
    bare = cell.strip()
    if _SHOWS_A_CLOCK.search(bare) is None or clock_unit(bare) is not None:
        return None
    if _CLOCK.fullmatch(bare) is not None:
        remedy = f"write the unit '{MINUTES}' into the header if they are minutes and seconds, or export hours, minutes and seconds"
        return f"{bare!r} may be minutes and seconds, or hours and minutes", remedy
    return f"{bare!r} is no date and time with one reading", "write it as 2026-01-03 23:59:58, or export seconds"


def to_seconds(cells: Sequence[str], lines: Sequence[int], clock: str, place: str, path: PathText) -> FloatArray:
    """Return clock times in s, shape (N,), NaN where a word says that there is none; moments count from the first one.

    Raises
    ------
    ReadError
        Naming the line of the first cell that is no such time.
    """
    if clock == MOMENT:
        return _from_first(cells, lines, place, path)
    return np.array([_seconds(cell, line, clock, place, path) for cell, line in zip(cells, lines, strict=True)], dtype=np.float64)


def _seconds(cell: str, line: int, clock: str, place: str, path: PathText) -> float:
    matched = _CLOCK.fullmatch(cell.strip())
    if matched is None or (matched["hours"] is not None) != (clock == HOURS):
        return _missing_or_refused(cell, line, clock, place, path)
    hours, minutes, seconds = int(matched["hours"] or 0), int(matched["minutes"]), float(matched["seconds"].replace(",", "."))
    if seconds >= 60.0 or (clock == HOURS and minutes >= 60):
        return _missing_or_refused(cell, line, clock, place, path)
    return 3600.0 * hours + 60.0 * minutes + seconds


def _from_first(cells: Sequence[str], lines: Sequence[int], place: str, path: PathText) -> FloatArray:
    first: datetime | None = None
    seconds = []
    for cell, line in zip(cells, lines, strict=True):
        bare = cell.strip()
        here = _moment(f"{bare} 00:00:00" if is_day(bare) else bare)
        if here is None:
            seconds.append(_missing_or_refused(cell, line, MOMENT, place, path))
            continue
        first = first or here
        if (here.tzinfo is None) != (first.tzinfo is None):
            raise ReadError(
                path, f"{cell.strip()!r} and the first moment do not both name an offset from UTC", place=f"line {line}, {place}"
            )
        seconds.append((here - first).total_seconds())
    return np.array(seconds, dtype=np.float64)


def _missing_or_refused(cell: str, line: int, clock: str, place: str, path: PathText) -> float:
    if is_missing(cell):
        return math.nan
    matched = _CLOCK.fullmatch(cell.strip())
    if matched is not None and clock != MOMENT and (matched["hours"] is not None) != (clock == HOURS):
        other = MINUTES if clock == HOURS else HOURS
        remedy = f"the column holds {clock}; if this is {other}, name that as its unit"
    else:
        remedy = f"the column holds {clock}; write the time so, or leave the cell empty"
    raise ReadError(path, f"{str(cell.strip())!r} is no clock time", place=f"line {line}, {place}", remedy=remedy)
