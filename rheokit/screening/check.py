"""What a check is: a look at one run that yields numbers, a limit they are held against, and how bad each side of it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rheokit.base.finding import SEVERITIES, Finding, Severity
from rheokit.base.run import Run, Step, StepKind
from rheokit.screening.known import Known

__all__ = ["CAUTION", "Check", "Look", "Rung", "Seen", "judge"]


@dataclass(frozen=True, kw_only=True)
class Rung:
    """One rung of a ladder of severities: reached beyond so many times the limit."""

    severity: Severity
    times: float = 1.0


CAUTION = (Rung(severity="caution"),)
"""The ladder of a check that never makes a number invalid."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """One number that a look yields.

    Attributes
    ----------
    value
        What is shown.
    words
        The sentence of the finding, should the number be beyond a limit.
    step
        Where it was seen; None for the whole run.
    margin
        What chance alone may add to the number; it is taken off before the number is held against a limit.
    most
        Worst severity that this number can have.
    """

    value: float
    words: str
    step: Step | None = None
    margin: float = 0.0
    most: Severity = "invalid"

    @property
    def held(self) -> float:
        """Return the size that is held against a limit from above: less what chance alone may add."""
        return max(abs(self.value) - self.margin, 0.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Look:
    """What a check saw in one run: numbers; or why it could not look, with the remedy; or why it has nothing to look at."""

    seen: tuple[Seen, ...] = ()
    blind: str = ""
    idle: str = ""


@dataclass(frozen=True, kw_only=True)
class Check:
    """One check of a measurement.

    Attributes
    ----------
    name
        In snake_case.
    kinds
        Kinds of step that it looks at.
    number
        What is held against the limit, in words.
    look
        The function from a run and what is known of its instrument and sample to what is seen.
    limit, unit, source
        The limit where no other is set, and where it is from.
    ladder
        Rungs from the mildest to the worst, in multiples of the limit.
    falling
        Whether the number is bad below the limit; else above it.
    lowest, highest
        Between which the limit can be set.
    """

    name: str
    kinds: tuple[StepKind, ...]
    number: str
    look: Callable[[Run, Known], Look]
    limit: float
    unit: str
    source: str
    ladder: tuple[Rung, ...] = CAUTION
    falling: bool = False
    lowest: float = 1e-6
    highest: float = 1.0

    def findings(self, run: Run, known: Known, limit: float | None = None) -> tuple[Finding, ...]:
        """Return what the check finds in a run, the worst of each step, with a limit of one's own or the check's."""
        return tuple(judge(self, self.look(run, known), self.limit if limit is None else limit))


def judge(check: Check, look: Look, limit: float) -> list[Finding]:
    """Return the findings of a look held against a limit: of each step the worst, the first where several are alike."""
    found: dict[int, Finding] = {}
    for seen in look.seen:
        rung = _rung(check, seen, limit)
        if rung is None:
            continue
        place = 0 if seen.step is None else seen.step.number
        finding = Finding(
            check=check.name,
            severity=_milder(rung.severity, seen.most),
            reason=seen.words,
            value=seen.value,
            limit=limit * rung.times,
            unit=check.unit,
            rows=None if seen.step is None else seen.step.rows,
        )
        if place not in found or SEVERITIES.index(finding.severity) > SEVERITIES.index(found[place].severity):
            found[place] = finding
    return list(found.values())


def _rung(check: Check, seen: Seen, limit: float) -> Rung | None:
    """Return the worst rung that a number reaches; on the limit itself it does not reach it."""
    if check.falling:
        reached = [rung for rung in check.ladder if seen.value < limit * rung.times]
    else:
        reached = [rung for rung in check.ladder if seen.held > limit * rung.times]
    return reached[-1] if reached else None


def _milder(one: Severity, other: Severity) -> Severity:
    return min(one, other, key=SEVERITIES.index)
