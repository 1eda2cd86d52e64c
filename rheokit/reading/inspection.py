"""Show how an export was read, so that a person can check every decision before believing the numbers."""

from __future__ import annotations

from rheokit.base.finding import findings_table
from rheokit.base.quantities import quantity
from rheokit.base.show import Table
from rheokit.reading.columns import Column
from rheokit.reading.export import Decisions, Reading, read_export
from rheokit.reading.files import PathText
from rheokit.reading.words import STEP

__all__ = ["inspect_export", "inspection_tables"]


def inspect_export(path: PathText, layout: PathText | None = None) -> tuple[Table, ...]:
    """Read an export and return what was decided: the file, its columns, steps, preamble and findings.

    Raises
    ------
    ReadError
        As `read_run`.
    """
    return inspection_tables(read_export(path, layout))


def inspection_tables(reading: Reading) -> tuple[Table, ...]:
    """Return what was decided while reading: file, columns, steps, and preamble and findings where there are any."""
    run = reading.run
    tables = [_file(reading), _columns(reading.decisions), run.table()]
    if run.metadata:
        tables.append(Table(title="preamble", columns=("key", "value"), rows=tuple(run.metadata.items())))
    findings = (*run.findings, *(finding.at(run.name) for step in run.steps for finding in step.findings))
    if findings:
        tables.append(findings_table(findings))
    return tuple(tables)


def _file(reading: Reading) -> Table:
    decided = reading.decisions
    rows = (
        ("encoding", decided.encoding),
        ("cells divided by", decided.delimiter),
        ("header", f"line {decided.header_line}" if decided.header_line else "none: columns by number"),
        ("units row", "none" if decided.units_line is None else f"line {decided.units_line}"),
        ("numbers", f"{decided.style} ({decided.style.why})" if decided.style.why else str(decided.style)),
        ("steps", decided.steps),
        ("geometry", _geometry(decided)),
        ("points", str(decided.points)),
        ("layout file", decided.layout or "none"),
        ("sha256", reading.run.source.sha256),
    )
    return Table(title=f"file {reading.run.name}", columns=("what", "decided"), rows=rows)


def _geometry(decided: Decisions) -> str:
    found = decided.geometry
    if found.geometry is not None:
        return f"{found.geometry}, by {found.where}"
    return f"not used: {found.problem}" if found.problem else "none is named"


def _columns(decided: Decisions) -> Table:
    rows = tuple((str(column.number), column.heading, *_meaning(column)) for column in decided.columns)
    columns = ("column", "heading", "read as", "unit", "unit from", "in SI")
    return Table(title="columns", columns=columns, rows=rows, right=("column",))


def _meaning(column: Column) -> tuple[str, str, str, str]:
    """Return what a column is read as, its unit, where that was written, and how it becomes SI."""
    if column.meaning is None:
        return "not used", "", "", ""
    if column.meaning == STEP or column.unit is None:
        return "step", "", "", ""
    unit = column.unit
    shift = "" if unit.offset == 0 else f"(number + {float(unit.offset):.6g}) "
    factor = f"{shift}× {unit.scale_to_si(1.0):.6g} {quantity(column.meaning).unit}"
    how = "by the layout file" if column.from_layout else ""
    return f"{column.meaning.replace('_', ' ')} {how}".strip(), unit.symbol, column.unit_from, factor
