"""The numbers of a record as plain rows, which charts over time are made from: batch, retained standard and check oil."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from rheokit.reading.preamble import entry, moment

__all__ = ["CHECK_OIL_ROW", "ROLES", "ResultRow", "result_rows", "rows_from_text", "rows_to_text"]

ROLES = ("batch", "standard", "check oil")
"""Whose number a row holds."""
CHECK_OIL_ROW = "check-oil"
"""Requirement under which the readings of the check oil stand."""


@dataclass(frozen=True, kw_only=True)
class ResultRow:
    """One number of one check.

    Attributes
    ----------
    time
        When it was measured, or else checked: ISO 8601 with its zone, or empty.
    batch, requirement, role
        Whose number it is, which, and of which of ROLES.
    value, standard_error, lower, upper, unit
        In the SI unit; None where there is none. A check oil stands as its
        reading over what is certified, between one less and one plus the tolerance.
    shown_unit
        The unit in which a person wrote the limits.
    outcome
        What it counted as.
    decision_rule
        By which it was judged.
    entry
        Number of the entry of a register that it comes from, 0 for none.
    """

    time: str
    batch: str
    requirement: str
    role: str
    value: float
    unit: str
    standard_error: float | None = None
    lower: float | None = None
    upper: float | None = None
    shown_unit: str = ""
    outcome: str = ""
    decision_rule: str = ""
    entry: int = 0


def result_rows(document: Mapping[str, Any]) -> list[ResultRow]:
    """Return the rows of a record's document; a number that was no measurement is left out, for it says nothing of the process."""
    return [*_lines(document), *_oil(document)]


def _lines(document: Mapping[str, Any]) -> Iterator[ResultRow]:
    runs = {run["name"]: run for run in document["runs"]}
    for line in document["requirements"]:
        known = {"requirement": line["id"], "lower": line["lower"], "upper": line["upper"], "shown_unit": line["shown"]["unit"]}
        known |= {"batch": document["batch"]["id"], "decision_rule": document["specification"]["decision_rule"]}
        held = line["estimate"]
        if held is not None and line["outcome"] != "no measurement":
            yield _row(held, _when(document, line["loads"], runs), role="batch", outcome=line["outcome"], **known)
        standard = line.get("standard")
        if standard is not None and standard["estimate"] is not None:
            yield _row(standard["estimate"], _when(document, standard["loads"], runs), role="standard", outcome="", **known)


def _row(estimate: Mapping[str, Any], time: str, **known: Any) -> ResultRow:
    return ResultRow(time=time, value=estimate["value"], unit=estimate["unit"], standard_error=estimate["standard_error"], **known)


def _oil(document: Mapping[str, Any]) -> Iterator[ResultRow]:
    for reading in document.get("check_oil") or ():
        tolerance = reading["tolerance"]
        yield ResultRow(
            time=reading["time"],
            batch=document["batch"]["id"],
            requirement=f"{CHECK_OIL_ROW} {reading['oil']}".strip(),
            role="check oil",
            value=reading["ratio"],
            unit="1",
            standard_error=reading["relative_error"],
            lower=None if tolerance is None else 1.0 - tolerance,
            upper=None if tolerance is None else 1.0 + tolerance,
        )


def _when(document: Mapping[str, Any], loads: Iterable[Mapping[str, Any]], runs: Mapping[str, Mapping[str, Any]]) -> str:
    for load in loads:
        if load["run"] in runs:
            said = entry(runs[load["run"]]["metadata"], "Measured") or ""
        else:
            conditions = load["estimate"]["conditions"] if load["estimate"] else {}
            said = str(conditions["time"]["value"]) if "time" in conditions else ""
        when = moment(said)
        if when is not None:
            return when.isoformat()
    return document["time"] or ""


def rows_to_text(rows: Iterable[ResultRow]) -> str:
    """Return rows as compact JSON, the same each time."""
    names = [field.name for field in fields(ResultRow) if field.name not in {"batch", "entry"}]
    return json.dumps([[asdict(row)[name] for name in names] for row in rows], ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def rows_from_text(text: str, *, batch: str, number: int) -> list[ResultRow]:
    """Return the rows that a text holds, of a batch and an entry of a register."""
    names = [field.name for field in fields(ResultRow) if field.name not in {"batch", "entry"}]
    found = [ResultRow(batch=batch, **dict(zip(names, held, strict=True))) for held in json.loads(text)] if text else []
    return [replace(row, entry=number) for row in found]
