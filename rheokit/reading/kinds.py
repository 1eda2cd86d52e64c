"""Tell the kind of each step from its shape and its neighbours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from rheokit.base.finding import Finding
from rheokit.base.run import Controlled, StepKind
from rheokit.base.show import number
from rheokit.reading.shape import Shape, told

__all__ = ["Told", "tell_kinds"]

SAME_RATE = 0.1
"""Relative difference up to which a constant rate or stress is the end of the ramp before it: a ramp of ten points or more that is
recorded at the start of each interval ends within a tenth of its top."""

REACH = 3.0
"""Last changes of a sweep by which its programme may go on beyond its last row, where the drive or missing rows cut it short."""

HIGH_OVER_LOW = 10.0
"""High over low rate in a rest-shear-recovery step test: 100 to 1000 1/s over 0.1 to 1 1/s is two decades or more."""

LARGE_OVER_SMALL = 10.0
"""Large over small strain where shear and rest are both oscillations: rest is measured well inside the linear range."""

STARTUP_TOP_RATE = 1.0
"""[1/s] A constant rate after a rest up to this is a start-up (0.01 to 0.1 1/s are usual); above, it conditions the sample."""

FEW = 4
"""Points from which it can be told whether the rate or the stress was held."""

ROW_OF_STEPS = 4
"""So many constant rates one after the other, all rising or all falling over a decade, are steady steps exported one by one."""

_AFTER_DOUBT = "a step before is not told for sure, so neither is this: it may be a {}; called {}"

_BY_STRESS = frozenset({"stress_up", "stress_down", "stress_hold"})


@dataclass(frozen=True, kw_only=True)
class Told:
    """The kind of one step among its neighbours."""

    kind: StepKind
    controlled: Controlled
    findings: tuple[Finding, ...]


def tell_kinds(shapes: Sequence[Shape]) -> tuple[Told, ...]:
    """Return the kind of every step, each seen among its neighbours."""
    in_a_row = _steady_one_by_one(shapes)
    return tuple(_few_points(_told(index, shapes, in_a_row), shapes[index]) for index in range(len(shapes)))


def _few_points(found: Told, shape: Shape) -> Told:
    """Add to a step of one point, or of few with cells missing, that little about its course can be seen."""
    if not _is_thin(shape):
        return found
    seen = "one point" if shape.points == 1 else f"{shape.points} points and cells that are missing"
    said = told(f"the step has {seen}: whether it rests, holds or moves cannot be seen for sure", "caution")
    return Told(kind=found.kind, controlled=found.controlled, findings=(*found.findings, *said))


def _is_thin(shape: Shape) -> bool:
    return shape.points == 1 or (shape.gaps and shape.points <= FEW + 1)


def _is_unsure(shape: Shape) -> bool:
    return _is_thin(shape) or any(finding.severity != "info" for finding in shape.findings)


def _told(index: int, shapes: Sequence[Shape], in_a_row: frozenset[int]) -> Told:
    here = shapes[index]
    if here.unloaded and index and _crept(index - 1, shapes):
        said = told("the stress is gone after creep: creep recovery")
        return Told(kind="creep_recovery", controlled="stress", findings=said)
    if here.form in _BY_STRESS or (here.form == "constant" and _in_stress_loop(index, shapes)):
        return _by_stress(index, shapes)
    settled = "rest" if here.form == "rest" else here.kind
    if settled is not None:
        doubt = _maybe_recoil(index, shapes) if settled == "rest" else ()
        return Told(kind=settled, controlled=here.controlled, findings=(*here.findings, *doubt))
    if _is_recovery(index, shapes):
        return Told(kind="recovery", controlled=here.controlled, findings=here.findings)
    return _oscillation(index, shapes) if here.form == "oscillation" else _constant(index, shapes, in_a_row)


def _maybe_recoil(index: int, shapes: Sequence[Shape]) -> tuple[Finding, ...]:
    if not index:
        return ()
    here, before = shapes[index], shapes[index - 1]
    if here.points < FEW and _crept(index - 1, shapes):
        return told(f"{here.points} points after creep: creep recovery, or a rest; called a rest", "caution")
    if here.unloaded and _is_unsure(before):
        return told("no stress after a step that is not told for sure: a rest, or recoil after creep; called a rest", "caution")
    return ()


def _crept(index: int, shapes: Sequence[Shape]) -> bool:
    """Tell whether a step is creep: by itself, or where rate and stress both hold in a run whose stress is controlled elsewhere."""
    here = shapes[index]
    return here.form == "stress_hold" or (here.stress_quieter and any(shape.form in _BY_STRESS for shape in shapes))


def _by_stress(index: int, shapes: Sequence[Shape]) -> Told:
    """Return the kind of a step that the stress controls: part of a loop between a rise and a fall of it, else by itself."""
    here = shapes[index]
    kind = _LOOP_KINDS[here.form] if _in_stress_loop(index, shapes) else here.kind or "shear"
    said = () if kind == here.kind else told("the stress rises and falls: a loop controlled by stress")
    return Told(kind=kind, controlled="stress", findings=(*here.findings, *said))


_LOOP_KINDS: Mapping[str, StepKind] = MappingProxyType(
    {"stress_up": "up", "stress_hold": "hold", "constant": "hold", "stress_down": "down"}
)


def _in_stress_loop(index: int, shapes: Sequence[Shape]) -> bool:
    """Tell whether a step belongs to a rise of the stress, perhaps a hold at its top, and a fall."""
    forms = [shape.form for shape in shapes]
    for first in range(max(0, index - 2), index + 1):
        if forms[first : first + 2] == ["stress_up", "stress_down"] and index <= first + 1:
            return True
        if forms[first : first + 3 : 2] == ["stress_up", "stress_down"] and forms[first + 1] in {"stress_hold", "constant"}:
            return (
                forms[first + 1] == "constant" or abs(shapes[first + 1].stress - shapes[first].stress) <= SAME_RATE * shapes[first].stress
            )
    return False


def _oscillation(index: int, shapes: Sequence[Shape]) -> Told:
    """Return rest for a small oscillation and shear for one that is large beside its neighbours."""
    here = shapes[index]
    near = [shapes[other].strain for other in (index - 1, index + 1) if 0 <= other < len(shapes) and shapes[other].form == "oscillation"]
    if here.strain > 0.0 and any(0.0 < strain * LARGE_OVER_SMALL <= here.strain for strain in near):
        said = told(
            f"an oscillation of strain {number(here.strain, 3)}, {number(LARGE_OVER_SMALL, 2)} times its neighbour's or more: shear"
        )
        return Told(kind="shear", controlled="strain", findings=(*here.findings, *said))
    said = told("a small oscillation at constant amplitude and frequency: the sample counts as resting")
    if index and _is_unsure(shapes[index - 1]):
        said += told(_AFTER_DOUBT.format("recovery", "rest"), "caution")
    return Told(kind="rest", controlled="strain", findings=(*here.findings, *said))


def _constant(index: int, shapes: Sequence[Shape], in_a_row: frozenset[int]) -> Told:
    """Return the kind of a constant rate: steady creep, hold, start-up, one of a row of steady steps, or shear."""
    here, before = shapes[index], shapes[index - 1] if index else None
    if _crept(index, shapes):
        return Told(kind="creep", controlled="stress", findings=here.findings)
    if before is not None and before.form == "up" and _at_its_end(here, before):
        doubt = told(_AFTER_DOUBT.format("start-up", "hold"), "caution") if _is_unsure(before) and before.points < FEW else ()
        return Told(kind="hold", controlled="rate", findings=(*here.findings, *doubt))
    slow = 0.0 < here.rate <= STARTUP_TOP_RATE
    if before is not None and before.form == "rest" and slow and not _opens_recovery_test(index, shapes):
        unsure = any(map(_is_unsure, shapes[index + 1 : index + 3]))
        more = ", or the first part of a recovery test whose other parts are not told for sure; called a start-up" if unsure else ""
        reason = f"{number(here.rate, 3)} 1/s straight after a rest (limit {number(STARTUP_TOP_RATE, 2)} 1/s): a start-up{more}"
        return Told(kind="startup", controlled="rate", findings=(*here.findings, *told(reason, "caution" if unsure else "info")))
    if index in in_a_row:
        said = told("one of a row of constant rates that rise or fall: steady steps, each exported as a step of its own", "caution")
        return Told(kind="steady", controlled="rate", findings=(*here.findings, *said))
    doubt = () if before is None else _doubt_after(here, before, shapes[index - 2] if index > 1 else before)
    return Told(kind="shear", controlled="rate", findings=(*here.findings, *doubt))


def _at_its_end(here: Shape, before: Shape) -> bool:
    """Tell whether a constant rate is where the sweep before it ended, or would have with its next point."""
    apart = here.rate - before.rate
    return abs(apart) <= SAME_RATE * abs(before.rate) or 0.0 <= apart <= REACH * before.reach


def _doubt_after(here: Shape, before: Shape, earlier: Shape) -> tuple[Finding, ...]:
    """Say where shear may be something else because a step before is not told for sure."""
    few = here.points < FEW
    if few and (before.form in _BY_STRESS or earlier.form in _BY_STRESS):
        reason = f"{here.points} points after a stress that was ramped or held: a stress may be held here too; called shear"
        return told(reason, "caution")
    slow = 0.0 < here.rate <= STARTUP_TOP_RATE
    if _is_unsure(earlier) and (slow or few):
        return told(_AFTER_DOUBT.format("recovery", "shear"), "caution")
    if _is_unsure(before) and (few or slow or before.form in {"up", "steady"} or _at_its_end(here, before)):
        return told(_AFTER_DOUBT.format("hold or a start-up", "shear"), "caution")
    return ()


def _steady_one_by_one(shapes: Sequence[Shape]) -> frozenset[int]:
    """Return the steps that stand in a row of constant rates, strictly rising or falling over a decade."""
    found: set[int] = set()
    start = 0
    while start < len(shapes):
        row = _row_from(start, shapes)
        if len(row) >= ROW_OF_STEPS:
            ends = sorted((abs(shapes[row[0]].rate), abs(shapes[row[-1]].rate)))
            if 0.0 < ends[0] * HIGH_OVER_LOW <= ends[1]:
                found.update(row)
        start += max(1, len(row) - 1)
    return frozenset(found)


def _row_from(start: int, shapes: Sequence[Shape]) -> list[int]:
    row: list[int] = []
    sign = 0
    for index in range(start, len(shapes)):
        here = shapes[index]
        if row and here.points < FEW and here.rate == 0.0 and here.kind == "shear":
            continue  # no rate is known
        badly_held = here.points < FEW and here.rate > 0.0 and _is_unsure(here)
        if here.form != "constant" and not (row and badly_held):
            break
        if row:
            change = here.rate - shapes[row[-1]].rate
            turn = (change > 0.0) - (change < 0.0)
            if turn == 0 or sign not in {0, turn} or abs(change) <= 0.05 * abs(shapes[row[-1]].rate):
                break
            sign = turn
        row.append(index)
    return row


def _is_recovery(index: int, shapes: Sequence[Shape]) -> bool:
    """Tell whether a step is low after high after low, by rotation, by oscillation, or the low ones by oscillation."""
    if index < 2:
        return False
    first, sheared, here = shapes[index - 2 : index + 1]
    if here.form == "oscillation":
        large = sheared.form == "oscillation" and sheared.strain >= LARGE_OVER_SMALL * max(here.strain, first.strain) > 0.0
        return first.form == "oscillation" and (large or sheared.form == "constant")
    if sheared.form != "constant" or here.form != "constant" or first.form not in {"constant", "oscillation"}:
        return False
    low = max(abs(here.rate), abs(first.rate) if first.form == "constant" else 0.0)
    return abs(sheared.rate) >= HIGH_OVER_LOW * low


def _opens_recovery_test(index: int, shapes: Sequence[Shape]) -> bool:
    return index + 2 < len(shapes) and _is_recovery(index + 2, shapes)
