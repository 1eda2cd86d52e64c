"""How much room the limits of a specification leave: gauge ratio, width left by the decision rule, expected share on hold, global risk.

It looks at the specification alone; no batch is judged by it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rheokit.base.show import Table, number
from rheokit.release.acceptance import accepted_zone, kept_zone, stated_budget, typical_value
from rheokit.release.specification import Requirement, Specification
from rheokit.statistics.risk import Risk, Zone, global_risk, normal_cdf

__all__ = ["CENTRED_CAPABILITY", "Room", "process_table", "room_of", "room_table"]

GOOD, USABLE = 0.10, 0.30
"""Gauge ratio 6 s over the width: up to the one good, up to the other usable, above it a warning. Common practice, no source."""
CENTRED_CAPABILITY = 4.0 / 3.0
"""Capability index of the centred process that the share on hold is stated for (written 1.33): half the width is four of its standard
deviations."""
CAPABILITY = "1.33"


@dataclass(frozen=True, kw_only=True)
class Room:
    """What one requirement leaves; what cannot be known from the specification is None, and `remark` says why.

    Attributes
    ----------
    standard_error
        Of the mean of the stated loads [SI], at the middle of the limits or at the only one.
    accepted, kept
        Between which values [SI] the outcome is `conforming`, and beyond which it is `not conforming`.
    gauge_ratio
        Six standard errors over the width between the limits.
    left
        Share of the width in which a value is conforming.
    on_hold
        Share of the batches of a centred process of capability 1.33 that would be neither conforming nor not conforming.
    process_on_hold, risk
        Share on hold and global risk for the process that the requirement states.
    """

    requirement: Requirement
    loads: int
    standard_error: float | None = None
    accepted: Zone | None = None
    kept: Zone | None = None
    gauge_ratio: float | None = None
    left: float | None = None
    on_hold: float | None = None
    process_on_hold: float | None = None
    risk: Risk | None = None
    remark: str = ""


def room_of(specification: Specification) -> tuple[Room, ...]:
    """Return what each requirement leaves with the loads that its method asks for."""
    return tuple(_room(specification, line) for line in specification.requirements)


def _room(specification: Specification, line: Requirement) -> Room:
    method = specification.methods.get(line.test)
    loads = method.loads if method else 1
    middle = typical_value(line)
    budget = stated_budget(line, middle, loads)
    if budget is None:
        entered = line.characteristic.needs == "entered"
        why = "its uncertainty is entered with each result" if entered else "no repeatability: it is never more than inconclusive"
        return Room(requirement=line, loads=loads, remark=why)
    error = budget.standard_uncertainty
    accepted = accepted_zone(line, specification.rule, loads) if error > 0.0 else None
    if accepted is None:
        why = (
            "no value could conform" if error > 0.0 else "a relative uncertainty says nothing at zero, where the middle of the limits lies"
        )
        return Room(requirement=line, loads=loads, remark=why)
    kept = kept_zone(line, specification.rule, loads)
    width = line.upper_value - line.lower_value
    two = math.isfinite(width)
    ratio = 6.0 * error / width if two else None
    process_on_hold, risk = _stated_process(line, error, accepted, kept, middle)
    return Room(
        requirement=line,
        loads=loads,
        standard_error=error,
        accepted=accepted,
        kept=kept,
        gauge_ratio=ratio,
        left=(accepted[1] - accepted[0]) / width if two else None,
        on_hold=_on_hold(middle, width / (6.0 * CENTRED_CAPABILITY), error, accepted, kept) if two else None,
        process_on_hold=process_on_hold,
        risk=risk,
        remark=_verdict(ratio),
    )


def _verdict(ratio: float | None) -> str:
    if ratio is None:
        return "one limit: no width to compare with"
    if ratio <= GOOD:
        return "good"
    return "usable" if ratio <= USABLE else "too coarse: measure more loads, lower the scatter or widen the limits"


def _on_hold(mean: float, deviation: float, error: float, accepted: Zone, kept: Zone) -> float:
    """Return the share of results that are neither accepted nor rejected, value and error being normal; the error is that at the mean."""
    spread = math.hypot(deviation, error)

    def below(value: float) -> float:
        return normal_cdf((value - mean) / spread)

    return max(0.0, below(accepted[0]) - below(kept[0])) + max(0.0, below(kept[1]) - below(accepted[1]))


def _stated_process(line: Requirement, error: float, accepted: Zone, kept: Zone, middle: float) -> tuple[float | None, Risk | None]:
    process = line.process
    if process is None or (process.mean is None and not (line.lower and line.upper)):
        return None, None
    mean = middle if process.mean is None else process.mean
    limits = (line.lower_value, line.upper_value)
    risk = global_risk(mean=mean, process_sd=process.standard_deviation, uncertainty=error, limits=limits, accepted=accepted, kept=kept)
    return _on_hold(mean, process.standard_deviation, error, accepted, kept), risk


def room_table(rooms: Sequence[Room]) -> Table:
    """Return what the limits leave as a table: one row a requirement."""
    rows = tuple(
        (
            room.requirement.id,
            "" if room.requirement.characteristic.needs == "entered" else str(room.loads),
            _error(room),
            _share(room.gauge_ratio),
            _share(room.left),
            _share(room.on_hold),
            room.remark,
        )
        for room in rooms
    )
    notes = (
        "gauge ratio: six standard errors of the mean of the stated loads over the width; "
        f"good to {100 * GOOD:.0f} %, usable to {100 * USABLE:.0f} %",
        "width left: where a value is conforming by the decision rule",
        f"on hold: share of the batches of a centred process of capability {CAPABILITY} that would be held",
    )
    columns = ("requirement", "loads", "standard error", "gauge ratio", "width left", "on hold", "remark")
    right = ("loads", "standard error", "gauge ratio", "width left", "on hold")
    return Table(title="What the limits leave", columns=columns, rows=rows, notes=notes, right=right)


def process_table(rooms: Sequence[Room]) -> Table:
    """Return what the stated processes would see as a table; without rows where none is stated."""
    rows = tuple(
        (
            room.requirement.id,
            room.requirement.process.text,
            _share(room.process_on_hold),
            _share(room.risk.false_accept if room.risk else None, 4),
            _share(room.risk.false_reject if room.risk else None, 4),
        )
        for room in rooms
        if room.requirement.process
    )
    columns = ("requirement", "process", "on hold", "conforming though outside", "not conforming though inside")
    notes = ("shares of all batches of the process, value and error being normal (global risk, JCGM 106:2012, 9.4)",)
    return Table(title="What the stated processes would see", columns=columns, rows=rows, notes=notes, right=columns[2:])


def _error(room: Room) -> str:
    """Return the standard error in the unit of the limits."""
    if room.standard_error is None:
        return "not known"
    unit = room.requirement.unit
    return f"{number(room.standard_error / unit.scale_to_si(1.0), 2)} {unit.symbol}".removesuffix(" 1")


def _share(share: float | None, digits: int = 2) -> str:
    if share is None:
        return ""
    percent = 100.0 * share
    return "< 0.01 %" if 0.0 <= percent < 0.01 else f"{number(percent, digits)} %"
