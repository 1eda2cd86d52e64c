"""Tell the kind of each step from its shape and its neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rheokit.base.finding import Finding
from rheokit.base.run import Controlled, StepKind
from rheokit.base.show import number
from rheokit.reading.shapes import Shape, told

__all__ = ["Told", "tell_kinds"]

SAME_RATE = 0.1
"""Relative difference up to which a constant rate is the end rate of the ramp before it: a ramp of ten points or more that is recorded
at the start of each interval ends within a tenth of its top."""

HIGH_OVER_LOW = 10.0
"""High over low rate in a rest-shear-recovery step test: 100 to 1000 1/s over 0.1 to 1 1/s is two decades or more."""

STARTUP_TOP_RATE = 1.0
"""[1/s] A constant rate after a rest up to this is a start-up (0.01 to 0.1 1/s are usual); above, it conditions the sample."""


@dataclass(frozen=True, kw_only=True)
class Told:
    """The kind of one step among its neighbours."""

    kind: StepKind
    controlled: Controlled
    findings: tuple[Finding, ...]


def tell_kinds(shapes: Sequence[Shape]) -> tuple[Told, ...]:
    """Return the kind of every step, each seen among its neighbours."""
    return tuple(_told(index, shapes) for index in range(len(shapes)))


def _told(index: int, shapes: Sequence[Shape]) -> Told:
    here = shapes[index]
    if here.kind is not None:
        return Told(kind=here.kind, controlled=here.controlled, findings=here.findings)
    if here.form == "rest":
        return Told(kind="rest", controlled="rate", findings=here.findings)
    if _is_recovery(index, shapes):
        return Told(kind="recovery", controlled=here.controlled, findings=here.findings)
    if here.form == "oscillation":
        said = told("a small oscillation at constant amplitude and frequency: the sample counts as resting")
        return Told(kind="rest", controlled="strain", findings=said)
    return _constant_after(shapes[index - 1] if index else None, index, shapes)


def _constant_after(before: Shape | None, index: int, shapes: Sequence[Shape]) -> Told:
    here = shapes[index]
    if before is not None and before.form == "up" and abs(here.rate - before.rate) <= SAME_RATE * abs(before.rate):
        return Told(kind="hold", controlled="rate", findings=here.findings)
    slow = 0.0 < here.rate <= STARTUP_TOP_RATE
    if before is not None and before.form == "rest" and slow and not _opens_recovery_test(index, shapes):
        said = told(f"{number(here.rate, 3)} 1/s straight after a rest (limit {number(STARTUP_TOP_RATE, 2)} 1/s): a start-up")
        return Told(kind="startup", controlled="rate", findings=(*here.findings, *said))
    return Told(kind="shear", controlled="rate", findings=here.findings)


def _is_recovery(index: int, shapes: Sequence[Shape]) -> bool:
    """Tell whether a step is low after high after low, or an oscillation after shear after an oscillation."""
    if index < 2:
        return False
    first, sheared, here = shapes[index - 2 : index + 1]
    if sheared.form != "constant" or here.form not in {"constant", "oscillation"} or first.form not in {"constant", "oscillation"}:
        return False
    if here.form == "oscillation":
        return first.form == "oscillation"
    low = max(abs(here.rate), abs(first.rate) if first.form == "constant" else 0.0)
    return abs(sheared.rate) >= HIGH_OVER_LOW * low


def _opens_recovery_test(index: int, shapes: Sequence[Shape]) -> bool:
    return index + 2 < len(shapes) and _is_recovery(index + 2, shapes)
