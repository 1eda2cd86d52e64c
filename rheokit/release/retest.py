"""Measuring again: by a rule that the specification fixed beforehand, with every result counted; beyond it, refused.

A check of the same batch by the same specification counts for good, unless a person voided it for an assignable cause. Rework makes
another material, whose looks begin anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from rheokit.base.errors import RetestError, printable
from rheokit.statistics.repeated_looks import LookRisk

__all__ = ["EarlierCheck", "RetestRule", "counted_results", "retest_document", "retest_words"]

Results = Mapping[str, frozenset[str]]
"""Test, or requirement of a typed-in result, to what tells its results apart: the sha256 of an export, or value and time."""


@dataclass(frozen=True, kw_only=True)
class RetestRule:
    """How often a batch may be measured again, and by how many fresh loads each time.

    Attributes
    ----------
    fresh_loads, retests
        Loads that each retest brings to a test that it repeats, and how many retests there may be.
    stated
        False acceptance at a limit that the specification allows, or None.
    risk
        The simulated one of the requirement that suffers most, or None where no repeatability is stated.
    requirement
        Its id.
    """

    fresh_loads: int
    retests: int
    stated: float | None
    risk: LookRisk | None
    requirement: str = ""

    @property
    def words(self) -> str:
        """How often and by how many loads, without the risk."""
        loads = "one fresh load" if self.fresh_loads == 1 else f"{self.fresh_loads} fresh loads"
        times = "one retest" if self.retests == 1 else f"up to {self.retests} retests"
        return f"{times} of {loads} of a test"

    def __str__(self) -> str:
        said = f"{self.words} after a hold; the mean of all loads is judged"
        if self.risk is None:
            return f"{said}; no repeatability is stated, so its risk is not known"
        allowed = "" if self.stated is None else f"; {100.0 * self.stated:.3g} % are allowed"
        return f"{said}; {self.risk}{allowed}"


@dataclass(frozen=True, kw_only=True)
class EarlierCheck:
    """An earlier check of the batch by the same specification: its entry in the register, what it rested on, and why it is void."""

    number: int
    hash: str
    disposition: str
    results: Results = field(default_factory=dict)
    void: str = ""
    void_entry: int = 0

    def __post_init__(self) -> None:
        object.__setattr__(self, "results", MappingProxyType(dict(self.results)))


def counted_results(document: Mapping[str, Any]) -> dict[str, frozenset[str]]:
    """Return what a record rests on: for each test that a requirement needs its exports, for each typed-in requirement its results."""
    needed = {line["test"] for line in document["requirements"] if line["test"] is not None}
    found: dict[str, set[str]] = {test: set() for test in needed}
    for run in document["runs"]:
        if run["test"] in needed and run["role"] == "batch":
            found[run["test"]].add(run["sha256"])
    for line in document["requirements"]:
        if line["test"] is None:
            found[line["id"]] = {_typed(load["estimate"]) for load in line["loads"] if load["estimate"] is not None}
    return {name: frozenset(held) for name, held in found.items()}


def _typed(estimate: Mapping[str, Any]) -> str:
    when = estimate["conditions"].get("time")
    return f"{estimate['value']!r} {when['value'] if when else ''}"


def retest_document(
    document: Mapping[str, Any], rule: RetestRule | None, loads: Mapping[str, int], earlier: Sequence[EarlierCheck]
) -> dict[str, Any] | None:
    """Return what a record says of earlier looks at the batch, or None where there were none.

    Parameters
    ----------
    document
        Of the check at hand.
    rule
        Of the specification; None allows no retest.
    loads
        Test to the loads that its method asks for.
    earlier
        Earlier checks in their order, void ones too.

    Raises
    ------
    RetestError
        When a rejection stands, an earlier result is left out, or there are more looks or loads than the rule allows.
    """
    if not earlier:
        return None
    counted, now = [one for one in earlier if not one.void], counted_results(document)
    looks = _looks(counted)
    if dict(now) not in looks:  # the same results looked at again are nothing new
        looks.append(dict(now))
        if counted:
            _refuse_rejected(counted)
            _refuse_left_out(counted, now)
            _refuse_more(looks, now, rule, loads, counted[-1].number)
    return {
        "rule": None if rule is None else str(rule),
        "look": looks.index(dict(now)) + 1,
        "counted": [{"entry": one.number, "hash": one.hash, "disposition": one.disposition} for one in counted],
        "void": [{"entry": one.number, "hash": one.hash, "cause": one.void, "by_entry": one.void_entry} for one in earlier if one.void],
    }


def retest_words(document: Mapping[str, Any]) -> list[str]:
    """Return what a page says of looking again, from a record's document; nothing where nothing was looked at before."""
    held = document.get("retest")
    rule = document["specification"].get("retest")
    said = [f"Retest rule: {rule}."] if rule else []
    if held is None:
        return said
    before = ", ".join(f"entry {one['entry']} ({one['disposition']})" for one in held["counted"]) or "none"
    said.append(f"Look {held['look']} at this batch; every result counts. Earlier checks that count: {before}.")
    return said + [f"Entry {one['entry']} is void by entry {one['by_entry']}: {one['cause']}." for one in held["void"]]


def _looks(counted: Sequence[EarlierCheck]) -> list[dict[str, frozenset[str]]]:
    """Return the different sets of results that were looked at, in order."""
    looks: list[dict[str, frozenset[str]]] = []
    for one in counted:
        if dict(one.results) not in looks:
            looks.append(dict(one.results))
    return looks


def _refuse_rejected(counted: Sequence[EarlierCheck]) -> None:
    for one in counted:
        if one.disposition == "reject":
            raise RetestError(
                f"entry {one.number} rejects this batch, and a rejection is not measured away: testing into compliance; void that entry "
                f"for an assignable cause in words, or decide rework or a concession"
            )


def _refuse_left_out(counted: Sequence[EarlierCheck], now: Results) -> None:
    for one in counted:
        for name, held in one.results.items():
            missing = held - now.get(name, frozenset())
            if missing:
                what = "export" if len(missing) == 1 else "exports"
                named = ", ".join(key[:12] for key in sorted(missing))
                raise RetestError(
                    f"every result counts: {len(missing)} {what} or result of {printable(name)} that entry {one.number} rests on ({named}) "
                    f"is not here; put it back beside the fresh ones, or void entry {one.number} for an assignable cause in words"
                )


def _refuse_more(looks: Sequence[Results], now: Results, rule: RetestRule | None, loads: Mapping[str, int], last: int) -> None:
    allowed = 0 if rule is None else rule.retests * rule.fresh_loads
    brought = 0
    for name, held in now.items():
        asked = max(loads.get(name, 1), len(looks[0].get(name, ())))
        fresh = len(held) - asked
        if fresh > allowed:
            by = "the specification allows no retest" if rule is None else f"its rule allows {rule.words}"
            raise RetestError(
                f"{printable(name)}: {len(held)} results where {asked} are asked for: testing into compliance; {by}; decide on what is "
                f"there, or void entry {last} for an assignable cause in words"
            )
        if rule is not None and fresh > 0 and fresh % rule.fresh_loads:
            raise RetestError(
                f"{printable(name)}: {fresh} of {rule.fresh_loads} fresh loads of the retest are here; measure the missing before looking"
            )
        brought = max(brought, fresh)
    most = 1 if rule is None else 1 + rule.retests
    incomplete = sum(_incomplete(look, loads) for look in looks[:-1])
    if brought > 0 and len(looks) - incomplete > most:
        raise RetestError(f"this would be look {len(looks)} where {most} are allowed: testing into compliance; decide on what is there")


def _incomplete(look: Results, loads: Mapping[str, int]) -> bool:
    """Tell whether a look came before all loads were there: nothing could be passed on it."""
    return any(len(held) < loads.get(name, 1) for name, held in look.items())
