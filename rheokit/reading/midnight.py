"""Let times of day go on rising over midnight, by the clock itself or by a column of dates beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.reading.body import Body
from rheokit.reading.clock import HOURS
from rheokit.reading.pieces import Runs

__all__ = ["over_midnight"]

_DAY = 86_400.0
"""[s]"""

_COUNTS_FROM_ZERO = 3_600.0
"""[s] A clock that begins within its first hour may count from the start of the run, and one that falls back is then taken to start
again; a time of day begins so only in the first hour of the day (our choice)."""

_FORMATS = ("%Y-%m-%d", "%Y/%m/%d", "%d.%m.%Y", "%d.%m.%y", "%d/%m/%Y", "%m/%d/%Y")


def over_midnight(body: Body) -> Body:
    """Return the points with times of day that go on rising over midnight, and say so.

    A fall by more than half a day, after a first time that is no count from zero, passes midnight. Where a date column stands beside the
    clock and changes, its days count instead; days that cannot be told, as of 03/04/2026, are a caution.
    """
    units = {column.unit.symbol for column in body.columns if column.meaning == "time" and column.unit is not None}
    if units != {HOURS} or "time" not in body.values:
        return body
    by_date, about_dates = _by_dates(body)
    times, about_clock = (by_date, ()) if by_date is not None else _by_clock(body.values["time"], body.lines)
    if not about_dates and not about_clock:
        return body
    return replace(body, values={**body.values, "time": times}, findings=(*body.findings, *about_dates, *about_clock))


def _by_clock(times: FloatArray, lines: Sequence[int]) -> tuple[FloatArray, tuple[Finding, ...]]:
    known = np.flatnonzero(np.isfinite(times))
    held = times[known]
    if held.size < 2 or held[0] <= _COUNTS_FROM_ZERO or held.max() >= _DAY:
        return times, ()
    changes = np.diff(held)
    falls = known[1:][changes < -0.5 * _DAY]
    if not falls.size:
        return times, ()
    if (changes > 0.5 * _DAY).any():
        line = lines[int(falls[0])]
        reason = f"the clock falls back by more than half a day in line {line}, and leaps forward elsewhere: is a time wrong?"
        return times, (Finding(check="midnight", severity="caution", reason=reason, rows=(line, line)),)
    days = np.zeros(times.size)
    days[falls] = _DAY
    line = lines[int(falls[0])]
    where = f"line {line}: 24 h are added from there on"
    if falls.size > 1:
        where = f"{falls.size} lines, the first line {line}: 24 h are added from each on"
    finding = Finding(check="midnight", severity="info", reason=f"the clock passes midnight in {where}", rows=(line, line))
    return times + np.cumsum(days), (finding,)


def _by_dates(body: Body) -> tuple[FloatArray | None, tuple[Finding, ...]]:
    """Return the times with the days of a date column added, or None where there is none, it never changes, or it cannot be read."""
    stretches = [] if body.dates is None else _stretches(body.dates)
    texts = [text for _, text in stretches]
    if len(set(texts)) < 2:
        return None, ()
    column = next(column for column in body.columns if column.role == "date")
    days = _days(texts)
    if days is None:
        changed = body.lines[stretches[1][0]]
        reason = (
            f"{column.place} changes from {texts[0]!r} to {texts[1]!r} and is not used: its days cannot be counted; "
            "write dates such as 2026-01-31, or one column of date and time"
        )
        return None, (Finding(check="midnight", severity="caution", reason=reason, rows=(changed, changed)),)
    edges = [*(start for start, _ in stretches), len(body.lines)]
    added = np.repeat(_DAY * np.array(days, dtype=np.float64), np.diff(edges))
    reason = f"the days of {column.place} are added to the clock times"
    return body.values["time"] + added, (Finding(check="midnight", severity="info", reason=reason),)


def _stretches(dates: Sequence[str]) -> list[tuple[int, str]]:
    """Return the first row and the text of each stretch of equal dates; an empty cell belongs to the one above."""
    starts = dates.starts if isinstance(dates, Runs) else range(len(dates))
    found: list[tuple[int, str]] = []
    for start in starts:
        text = dates[start].strip().removesuffix(" 00:00:00")
        if not found or (text and text != found[-1][1]):
            found.append((start, text))
    return found


def _days(texts: Sequence[str]) -> list[int] | None:
    """Return the days since the first date, where there is one way to read them that never goes back."""
    readings = set()
    for form in _FORMATS:
        try:
            days = [datetime.strptime(text, form).toordinal() for text in texts]
        except ValueError:
            continue
        if days == sorted(days):
            readings.add(tuple(day - days[0] for day in days))
    return list(readings.pop()) if len(readings) == 1 else None
