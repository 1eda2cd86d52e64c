"""Finding: what a check saw, how bad it is, and why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from rheokit.base.show import Table, number

__all__ = ["SEVERITIES", "Finding", "Severity", "findings_table", "worst"]

Severity = Literal["info", "caution", "invalid"]
SEVERITIES: tuple[Severity, ...] = ("info", "caution", "invalid")


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing a check saw.

    Attributes
    ----------
    check
        Name of the check, in snake_case.
    severity
        `info` (worth knowing), `caution` (believe with care) or `invalid` (no number that rests on this is used).
    reason
        One sentence: what was seen and what to do. It is the `str()` of the finding.
    value, limit, unit
        The number seen, the limit it was held against and their unit, where there are any.
    rows
        First and last line of the export concerned, where that is known.
    source
        File, step or characteristic concerned.
    """

    check: str
    severity: Severity
    reason: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    rows: tuple[int, int] | None = None
    source: str = ""

    def __post_init__(self) -> None:
        if self.severity not in SEVERITIES:
            raise ValueError(f"finding {self.check!r}: severity {self.severity!r} is none of {', '.join(SEVERITIES)}")
        if not self.reason:
            raise ValueError(f"finding {self.check!r} gives no reason")

    def __str__(self) -> str:
        return self.reason

    def at(self, source: str) -> Finding:
        """Return this finding with the source named, unless it already has one."""
        return self if self.source else replace(self, source=source)


def worst(findings: Iterable[Finding]) -> Severity | None:
    """Return the worst severity among findings, or None when there are none."""
    found = {finding.severity for finding in findings}
    return next((severity for severity in reversed(SEVERITIES) if severity in found), None)


def findings_table(findings: Iterable[Finding], title: str = "findings") -> Table:
    """Return findings as a table, the worst first."""
    ordered = sorted(findings, key=lambda finding: -SEVERITIES.index(finding.severity))
    rows = tuple((seen.severity, seen.source, seen.check.replace("_", " "), _measured(seen), seen.reason) for seen in ordered)
    return Table(title=title, columns=("severity", "where", "check", "value (limit)", "reason"), rows=rows)


def _measured(finding: Finding) -> str:
    if finding.value is None:
        return ""
    unit = "" if finding.unit in {"", "1"} else f" {finding.unit}"
    limit = "" if finding.limit is None else f" ({number(finding.limit, 3)}{unit})"
    return f"{number(finding.value, 3)}{unit}{limit}"
