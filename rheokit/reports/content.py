"""What stands on the pages of a record, whatever they are made into: plain words and drawings from the document alone."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from rheokit.base.show import Table
from rheokit.release.document import MARKS, judged, loads_table
from rheokit.release.retest import retest_words
from rheokit.reports.figures import figures_of, limit_strip, share_bar
from rheokit.reports.standard_part import standard_figures, standard_tables
from rheokit.reports.terminal import findings_of

__all__ = ["content_of"]

Json = Mapping[str, Any]
PASSPORT = ("sample", "retained_sample", "made", "operator")
"""What stands on page one of the batch's passport, besides its age, and time and operator of the check."""
NOT_STATED = "not stated"


def content_of(document: Json, registered: str = "") -> dict[str, Any]:
    """Return what a page of a record's document shows: page one first, then the evidence; drawings are SVG text."""
    return {
        "reason": document["reason"],
        "retest": retest_words(document),
        "passport": _passport(document),
        "lines": [_line(line) for line in document["requirements"]],
        "figures": [*figures_of(document), *standard_figures(document)],
        "budgets": [budget for line in document["requirements"] if (budget := _budget(line))],
        "tables": [
            table for table in (*standard_tables(document), loads_table(document), findings_of(document), _runs(document)) if table.rows
        ],
        "footer": _footer(document, registered),
    }


def _line(line: Json) -> dict[str, str]:
    value, error = judged(line)
    where = ", ".join(str(part) for part in (line["test"], line["step"]) if part is not None) or "typed in"
    return {
        "mark": MARKS[line["outcome"]],
        "outcome": line["outcome"],
        "id": line["id"],
        "where": where,
        "value": value,
        "error": error,
        "unit": line["shown"]["unit"],
        "limits": line["limits"],
        "strip": limit_strip(line),
        "reason": line["reason"],
    }


def _passport(document: Json) -> list[tuple[str, str]]:
    known, head = document["batch"]["passport"], document["specification"]
    rows = [(key.replace("_", " "), known.get(key, NOT_STATED)) for key in PASSPORT]
    age = document["batch"]["age_at_test"]
    rows.insert(3, ("age at test", age["shown"] if age else "not known"))
    rows += [("checked", _time(document["time"])), ("checked by", document["operator"] or NOT_STATED)]
    since = f", effective {head['effective']}" if head["effective"] else ""
    before = f", supersedes {head['supersedes']}" if head["supersedes"] else ""
    rows.append(("specification", f"{head['file']}, revision {head['revision']}{since}{before}"))
    if used := head.get("instrument"):
        rows.append(("instrument", f"{used['id']}, {used['geometry']['id']} ({used['file']}, sha256 {used['sha256'][:12]})"))
    return rows


def _time(written: str | None) -> str:
    """Return a time as a person reads it: the record keeps it in UTC."""
    return "time not stated" if written is None else written.replace("T", " ").replace("+00:00", " UTC")


def _budget(line: Json) -> dict[str, Any] | None:
    """Return the uncertainty budget of a requirement: each part of the standard error with its share of the square."""
    estimate = line["estimate"]
    if estimate is None or estimate["standard_error"] is None:
        return None
    error, freedom, stated = estimate["standard_error"], estimate["degrees_of_freedom"], line["stated_uncertainty"]
    parts = [
        {
            "name": PART_NAMES.get(part, part),
            "size": line["shown"]["components"][part],
            "share": f"{100.0 * (size / error) ** 2:.0f} %",
            "bar": share_bar((size / error) ** 2),
            "stated": stated[part]["shown"] if part in stated else "from the data",
        }
        for part, size in sorted(estimate["components"].items(), key=lambda item: -item[1])
    ]
    return {
        "id": line["id"],
        "error": line["shown"]["standard_error"],
        "unit": line["shown"]["unit"],
        "freedom": "known" if freedom == "infinite" else f"{freedom:.3g}",
        "method": estimate["method"],
        "parts": parts,
    }


PART_NAMES: Mapping[str, str] = MappingProxyType({"fit": "scatter inside a load", "load": "between loads", "day": "between days"})
"""Part of a budget to the words for it, where its name alone does not say enough."""


def _runs(document: Json) -> Table:
    rows = tuple(
        (run["name"], run["test"], str(run["load"]), run["role"], " ".join(step["kind"] for step in run["steps"]), run["sha256"])
        for run in document["runs"]
    )
    columns = ("export", "test", "load", "role", "steps", "sha256")
    return Table(title="Exports", columns=columns, rows=rows, right=("load",))


def _footer(document: Json, registered: str) -> str:
    versions = ", ".join(f"{name} {version}" for name, version in sorted(document["versions"].items()))
    head = document["specification"]
    kept = f" Kept as {registered}." if registered else ""
    return f"Made from the record alone. Specification sha256 {head['sha256']}. {versions}.{kept}"
