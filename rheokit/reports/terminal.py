"""A record as a page for the terminal: the decision first, then the evidence."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TextIO

from rheokit.base.errors import printable
from rheokit.base.finding import SEVERITIES
from rheokit.base.show import LONGEST_CELL, Table
from rheokit.release.document import decisions_table, loads_table
from rheokit.release.retest import retest_words
from rheokit.reports.standard_part import standard_tables

__all__ = ["findings_of", "print_record", "record_tables"]

PLAIN_WIDTH = 160
"""Columns of a page in a pipe or file; a terminal has its own."""

_WORD = {"release": "RELEASE", "hold": "HOLD", "reject": "REJECT"}


def record_tables(document: Mapping[str, Any]) -> tuple[Table, ...]:
    """Return the tables of the page in their order: decision, loads, findings."""
    return tuple(
        table
        for table in (decisions_table(document), *standard_tables(document), loads_table(document), findings_of(document))
        if table.rows
    )


def findings_of(document: Mapping[str, Any]) -> Table:
    """Return the findings of a record as a table, the worst first."""
    findings = sorted(document["findings"], key=lambda finding: -SEVERITIES.index(finding["severity"]))
    rows = tuple((finding["severity"], finding["source"], finding["reason"]) for finding in findings)
    return Table(title="Findings", columns=("severity", "where", "what"), rows=rows)


def print_record(document: Mapping[str, Any], file: TextIO) -> None:
    """Print a record: as ruled tables that fit a terminal, or as plain text in a pipe or file."""
    if file.isatty():
        _print_rich(document, file)
        return
    file.write("\n\n".join(table.text(PLAIN_WIDTH) for table in record_tables(document)))
    file.write("\n\n" + "\n".join(printable(line, LONGEST_CELL) for line in _closing(document)) + "\n")


def _closing(document: Mapping[str, Any]) -> list[str]:
    head = document["specification"]
    return [
        f"decision rule: {head['decision_rule']}",
        f"rounding: {head['rounding']}",
        *retest_words(document),
        *document["cautions"],
        "",
        f"{_WORD[document['disposition']]}  {document['reason']}",
    ]


def _print_rich(document: Mapping[str, Any], file: TextIO) -> None:
    from rich.console import Console  # noqa: PLC0415 - only wanted on a terminal
    from rich.table import Table as Ruled  # noqa: PLC0415 - only wanted on a terminal

    console = Console(file=file, markup=False, highlight=False, emoji=False)
    for table in record_tables(document):
        ruled = Ruled(
            title=printable(table.title), title_justify="left", title_style="bold", show_lines=False, box=None, padding=(0, 2, 0, 0)
        )
        for name in table.columns:
            # Only the last column, the words, is folded; an id or a number is never broken.
            ruled.add_column(name, justify="right" if name in table.right else "left", no_wrap=name != table.columns[-1], overflow="fold")
        for row in table.rows:
            ruled.add_row(*(printable(cell, LONGEST_CELL) for cell in row))
        console.print(ruled)
        console.print()
    *before, last = _closing(document)
    for line in before:
        console.print(printable(line, LONGEST_CELL))
    console.print(printable(last, LONGEST_CELL), style="bold")
