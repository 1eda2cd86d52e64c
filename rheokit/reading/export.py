"""Read one export: the front door `read_run`, and the same with the decisions that were taken on the way."""

from __future__ import annotations

import os
from dataclasses import dataclass

from rheokit.base.estimate import Source
from rheokit.base.run import Run
from rheokit.geometry import Geometry
from rheokit.reading.columns import Column
from rheokit.reading.consistency import check_units, derive
from rheokit.reading.decimals import NumberStyle
from rheokit.reading.files import PathText, read_bytes, sha256_beside
from rheokit.reading.fillers import check_fillers
from rheokit.reading.geometries import GeometryFound, settle_geometry
from rheokit.reading.layout import Layout, read_layout
from rheokit.reading.midnight import over_midnight
from rheokit.reading.pages import over_pages
from rheokit.reading.parts import read_parts
from rheokit.reading.single_rows import check_clocks
from rheokit.reading.steps import divide_into_steps
from rheokit.reading.strain import check_strain

__all__ = ["Decisions", "Reading", "read_export", "read_run"]


@dataclass(frozen=True, kw_only=True)
class Decisions:
    """How an export was read: what a person checks before believing the numbers."""

    encoding: str
    delimiter: str
    header_line: int
    units_line: int | None
    style: NumberStyle
    steps: str
    geometry: GeometryFound
    points: int
    columns: tuple[Column, ...]
    layout: str | None


@dataclass(frozen=True, kw_only=True)
class Reading:
    """A run, and how it was read."""

    run: Run
    decisions: Decisions


def read_run(path: PathText, layout: PathText | None = None) -> Run:
    """Read one export of a rheometer: the steps of one load, in SI.

    The file is text (UTF-8, UTF-16 or cp1252; divided by commas, semicolons, tabs, bars or spaces; a decimal point or comma) or a workbook
    (.xlsx, .xls, .ods): a preamble of `key,value` or `key: value` lines, a header that names the quantities, their units in the header or
    in a row under or above it, and one row a point. Columns stand in any order; those not known are named in a finding and not used. Steps
    are told by a step column, by blocks, by sheets, or by point numbers or times that start again. A unit is never guessed, and neither is
    a decimal mark: what the file does not say is refused, and a layout file settles it.

    Parameters
    ----------
    path
        The export.
    layout
        A layout file (TOML) that names the column and unit of a quantity where the header does not.

    Returns
    -------
    Run
        Its `findings` say what was seen while reading; those of single steps stand with the steps.

    Raises
    ------
    ReadError
        When the file is missing, empty, binary, no table, without header, points or units, or holds a cell or row that cannot be
        read; the message names the line and column and what would do.
    """
    return read_export(path, layout).run


def read_export(
    path: PathText, layout: PathText | Layout | None = None, *, name: str | None = None, geometry: Geometry | None = None
) -> Reading:
    """Read one export and return how it was read as well; the run is called `name`, or as the file.

    `geometry` is what the batch file says was used.
    """
    data = read_bytes(path)
    sha256 = sha256_beside(data)
    known = layout if layout is None or isinstance(layout, Layout) else read_layout(layout)
    parts = read_parts(data, path, known)
    body, metadata = over_pages(over_midnight(parts.body)), parts.metadata
    given = {"the layout file": None if known is None else known.geometry, "the batch file": geometry}
    found = settle_geometry(metadata, given, path)
    values, derived = derive(body, metadata, found, path)
    steps, about_steps = divide_into_steps(values, body.labels, body.lines, {} if known is None else known.steps)
    run_name = os.path.basename(path) if name is None else name  # noqa: PTH119 - quicker, for text alone
    disagree = (*check_fillers(body, body.columns), *check_units(body, body.columns, found, steps), *check_clocks(body, steps))
    disagree += check_strain(steps, body.columns)
    findings = (*parts.findings, *body.findings, *derived, *disagree, *about_steps)
    run = Run(
        name=run_name,
        steps=steps,
        metadata=metadata,
        findings=tuple(finding.at(run_name) for finding in findings),
        source=Source(sha256=sha256(), run=run_name, rows=(body.lines[0], body.lines[-1])),
    )
    decisions = Decisions(
        encoding=parts.encoding,
        delimiter=parts.delimiter,
        header_line=parts.header_line,
        units_line=parts.units_line,
        style=body.style,
        steps=body.how,
        geometry=found,
        points=len(body.lines),
        columns=body.columns,
        layout=None if known is None else known.name,
    )
    return Reading(run=run, decisions=decisions)
