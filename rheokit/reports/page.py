"""A record as one HTML page that needs nothing else: no network, no script. The same record gives the same bytes."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from rheokit.base.errors import printable
from rheokit.base.show import LONGEST_CELL, Table, number
from rheokit.release.document import MARKS, judged, loads_table
from rheokit.reports.figures import figures_of, limit_strip
from rheokit.reports.terminal import findings_of

if TYPE_CHECKING:
    from jinja2 import Template

__all__ = ["page"]

Json = Mapping[str, Any]
PASSPORT = ("sample", "retained_sample", "made", "operator")
"""What stands on page one of the batch's passport, besides time and operator of the check."""


def page(document: Json) -> str:
    """Return the page of a record's document."""
    from markupsafe import Markup  # noqa: PLC0415 - comes with jinja2, which is only wanted here

    lines = [_line(line) | {"strip": Markup(limit_strip(line))} for line in document["requirements"]]
    figures = [(Markup(drawing), caption) for drawing, caption in figures_of(document)]
    return _template().render(
        record=document,
        reason=document["reason"],
        passport=_passport(document),
        lines=lines,
        figures=figures,
        tables=[table for table in (_budget(document), loads_table(document), findings_of(document), _runs(document)) if table.rows],
        footer=_footer(document),
    )


@cache
def _template() -> Template:
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - only wanted where a page is made

    environment = Environment(loader=PackageLoader("rheokit.reports"), autoescape=True, undefined=StrictUndefined)
    environment.filters["p"] = lambda value: printable(value, LONGEST_CELL)
    return environment.get_template("record.html")


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
        "reason": line["reason"],
    }


def _passport(document: Json) -> list[tuple[str, str]]:
    known = document["batch"]["passport"]
    rows = [(key.replace("_", " "), known[key]) for key in PASSPORT if key in known]
    rows += [("checked", _time(document["time"])), ("checked by", document["operator"] or "not stated")]
    return [*rows, ("specification", f"{document['specification']['file']}, revision {document['specification']['revision']}")]


def _time(written: str | None) -> str:
    """Return a time as a person reads it: the record keeps it in UTC."""
    return "time not stated" if written is None else written.replace("T", " ").replace("+00:00", " UTC")


def _budget(document: Json) -> Table:
    """Return the uncertainty budget: which part of each standard error comes from where."""
    rows = []
    for line in document["requirements"]:
        estimate = line["estimate"]
        if estimate is None or estimate["standard_error"] is None:
            continue
        freedom = estimate["degrees_of_freedom"]
        known = "known" if freedom == "infinite" else number(freedom, 3)
        parts = ", ".join(f"{part} {number(size, 2)}" for part, size in estimate["components"].items())
        rows.append((line["id"], number(estimate["standard_error"], 2), estimate["unit"], parts, known, estimate["method"]))
    columns = ("requirement", "standard error", "unit (SI)", "made up of", "degrees of freedom", "method")
    return Table(title="Uncertainty", columns=columns, rows=tuple(rows), right=("standard error",))


def _runs(document: Json) -> Table:
    rows = tuple(
        (run["name"], run["test"], str(run["load"]), run["role"], " ".join(step["kind"] for step in run["steps"]), run["sha256"])
        for run in document["runs"]
    )
    columns = ("export", "test", "load", "role", "steps", "sha256")
    return Table(title="Exports", columns=columns, rows=rows, right=("load",))


def _footer(document: Json) -> str:
    versions = ", ".join(f"{name} {version}" for name, version in sorted(document["versions"].items()))
    head = document["specification"]
    return f"Made from the record alone. Specification sha256 {head['sha256']}. {versions}."
