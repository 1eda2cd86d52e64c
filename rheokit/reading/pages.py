"""Tell page breaks (a header printed again, an empty line every few rows) from the beginnings of steps: over a break, all goes on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.reading.body import Body
from rheokit.reading.pieces import Runs
from rheokit.reading.profile import spread
from rheokit.reading.shape import CONSTANT_SPREAD

__all__ = ["over_pages"]

_PROGRAMME = ("shear_rate", "angular_velocity", "shear_stress", "torque", "angular_frequency", "frequency")
"""The first of these that was exported is what a step controls, or follows it."""

_EVEN = 2.0
"""[1] A ramp goes on where a change is so many times each of the two beside it at most, and this part of each at least: on a
logarithmic ramp of five points a decade each change is 1.6 times the one before (our choice)."""

_FREQUENCIES = ("angular_frequency", "frequency")
"""Where one of these is held, the strain may be what changes."""

_SAME_TEMPERATURE = 1.0
"""[K] Of the means of two blocks: a bench instrument holds a temperature within a tenth, and steps of it are two and more (our choice)."""

_FEWEST_ROWS = 2
"""Of a block: one row shows no course that could go on."""

_FEWEST_PAGES = 3


def over_pages(body: Body) -> Body:
    """Return the points with blocks joined that are pages of one step, or with a caution where that is likely.

    A ramp goes on from block to block when time and rate (or what else is controlled) rise or fall as within the blocks, and a hold when
    the time does and rate and temperature stay. Blocks of equal length, three or more, the last one perhaps shorter, are pages then, and
    joined; other blocks stay steps. Lines that announce steps, and step columns, are believed.
    """
    if body.labels is None or not body.how.startswith("the steps are blocks") or "announced" in body.how:
        return body
    starts = _starts(body.labels)
    sizes = [end - begin for begin, end in pairwise((*starts, len(body.lines)))]
    if min(sizes[:-1]) < _FEWEST_ROWS:
        return body
    edges = pairwise((*starts, len(body.lines)))
    on = [start for (begin, start), (_, end) in pairwise(edges) if _is_page_break(body.values, begin, start, end)]
    if not on:
        return body
    where = f"line {body.lines[on[0]]}" if len(on) == 1 else f"{len(on)} places, the first before line {body.lines[on[0]]}"
    seen = f"{'a header is repeated' if 'header' in body.how else 'an empty line stands'} in {where}, and all goes on as before it"
    if len(on) == 1:
        seen = seen.replace(" in line", " before line")
    pages = len(sizes) >= _FEWEST_PAGES and len(set(sizes[:-1])) == 1 and sizes[-1] <= sizes[0]
    if not pages:
        reason = f"{seen}: is it a page break within one step? take it away then, or add a step column"
        return replace(body, findings=(*body.findings, Finding(check="page_breaks", severity="caution", reason=reason)))
    reason = f"{seen}: page breaks of {sizes[0]} rows, over which the steps are joined; if steps begin there, add a step column"
    return _joined(body, [start for start in starts if start not in on], reason)


def _starts(labels: Sequence[str]) -> list[int]:
    if isinstance(labels, Runs):
        return labels.starts
    return [0, *(at for at in range(1, len(labels)) if labels[at] != labels[at - 1])]


def _is_page_break(values: Mapping[str, FloatArray], begin: int, start: int, end: int) -> bool:
    """Tell whether all goes on, or is held, from the block that begins before a break to the one that starts there."""
    clock = next((values[name] for name in ("step_time", "time") if name in values), None)
    programme = next((name for name in _PROGRAMME if name in values), None)
    if clock is not None and not _goes_on(clock, start):
        return False
    if programme is None or _goes_on(values[programme], start):
        return programme is not None or clock is not None
    held = [values[programme], *([values["shear_strain"]] if programme in _FREQUENCIES and "shear_strain" in values else [])]
    over = slice(begin, end)
    return (
        clock is not None
        and all(_goes_on(column, start) or spread(column[over]) <= CONSTANT_SPREAD for column in held)
        and not _changes_temperature(values, begin, start, end)
    )


def _changes_temperature(values: Mapping[str, FloatArray], begin: int, start: int, end: int) -> bool:
    """Tell whether two blocks stand at two temperatures."""
    temperature = values.get("temperature")
    if temperature is None or _goes_on(temperature, start):
        return False
    before, after = (part[np.isfinite(part)] for part in (temperature[begin:start], temperature[start:end]))
    return before.size > 0 and after.size > 0 and abs(float(before.mean() - after.mean())) > _SAME_TEMPERATURE


def _goes_on(values: FloatArray, start: int) -> bool:
    """Tell whether the change to the first row of a block is like those before and after it."""
    change, before, after = (float(values[at] - values[at - 1]) if 1 < at < values.size else np.nan for at in (start, start - 1, start + 1))
    beside = [abs(one) for one in (before, after) if np.isfinite(one)]
    if not beside or not change or any(one * change < 0.0 for one in (before, after)):
        return False
    return all(one / _EVEN <= abs(change) <= _EVEN * one for one in beside)


def _joined(body: Body, starts: Sequence[int], reason: str) -> Body:
    """Return the points with steps that begin at these rows only."""
    begin = {body.lines[start] for start in starts}
    kept = (one for one in body.findings if one.check != "step_blocks")
    findings = [one for one in kept if one.check != "single_row" or (one.rows is not None and one.rows[0] in begin)]
    findings.append(Finding(check="page_breaks", severity="caution", reason=reason))
    if len(starts) == 1:
        return replace(body, labels=None, how="", findings=tuple(findings))
    labels = Runs([(str(number), end - begin) for number, (begin, end) in enumerate(pairwise((*starts, len(body.lines))), 1)])
    return replace(body, labels=labels, findings=tuple(findings))
