"""What a spoilt file still says, read by somebody who knows the form it was written in and guesses nothing.

The reader under test must find out how a file is laid out; this one is told. It shares no code with it. Where the file no longer
keeps to its form, anywhere, the answer is None: such a file says nothing for certain.
"""

from __future__ import annotations

import csv
import io
import itertools
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from studies.written_export import NAMES, TEXTS, Form, Sheet, heading

Array = NDArray[np.float64]

# Unit as written: (quantities it may stand for, factor to SI, offset before it). BIPM, The International System of Units, 9th ed. (2019).
UNITS: Mapping[str, tuple[tuple[str, ...], float, float]] = {
    "s": (("time", "step_time"), 1.0, 0.0),
    "min": (("time", "step_time"), 60.0, 0.0),
    "h:mm:ss": (("time",), 1.0, 0.0),
    "1/s": (("shear_rate",), 1.0, 0.0),
    "1/min": (("shear_rate", "angular_velocity"), 1.0 / 60.0, 0.0),
    "Pa": (("shear_stress",), 1.0, 0.0),
    "kPa": (("shear_stress",), 1e3, 0.0),
    "mPa": (("shear_stress",), 1e-3, 0.0),
    "Pa·s": (("viscosity",), 1.0, 0.0),
    "mPa·s": (("viscosity",), 1e-3, 0.0),
    "mPas": (("viscosity",), 1e-3, 0.0),
    "N·m": (("torque",), 1.0, 0.0),
    "mN·m": (("torque",), 1e-3, 0.0),
    "µN·m": (("torque",), 1e-6, 0.0),
    "µN·mm": (("torque",), 1e-9, 0.0),
    "mN·mm": (("torque",), 1e-6, 0.0),
    "rad/s": (("angular_velocity",), 1.0, 0.0),
    "°C": (("temperature",), 1.0, 273.15),
    "K": (("temperature",), 1.0, 0.0),
    "N": (("normal_force",), 1.0, 0.0),
    "%": (("shear_strain",), 1e-2, 0.0),
    "1": (("shear_strain",), 1.0, 0.0),
}
MISSING = {"", "n/a", "nan", "---", "k.A."}
GEOMETRY = re.compile(r"(\d+(?:\.\d+)?) (mm|°)")


@dataclass(frozen=True, kw_only=True, eq=False)
class Said:
    """Quantity to values in SI, each of shape (N,), written or following from those, and the rows of each step."""

    columns: Mapping[str, Array]
    derived: Mapping[str, Array]
    lengths: tuple[int, ...]


class _BrokenError(Exception):
    """The file does not keep to its form."""


def said_by_text(data: bytes, form: Form) -> Said | None:
    """Return what the bytes of a text say."""
    try:
        text = data.decode(form.encoding, errors="strict")
        return None if "\0" in text else _said([("", list(_rows(text, form)))], form)
    except (UnicodeDecodeError, _BrokenError, csv.Error):
        return None


def said_by_sheets(sheets: Sequence[Sheet], form: Form) -> Said | None:
    """Return what the sheets of a workbook say."""
    try:
        return _said([(name, [row.cells for row in rows]) for name, rows in sheets], form)
    except _BrokenError:
        return None


def _rows(text: str, form: Form) -> Iterator[list[str]]:
    """Cells of each line; the comment mark is taken away before lines that are not of the table."""
    lines = io.StringIO(text, newline="")
    if form.delimiter == " ":
        for line in lines:
            if '"' in line:
                raise _BrokenError
            yield [line.strip()] if line.startswith("#") or ": " in line else line.split()
        return
    for row in csv.reader(lines, delimiter=form.delimiter):
        torn = any("\n" in cell or "\r" in cell for cell in row)
        if torn and any(cell[:1].isdigit() for cell in row):
            raise _BrokenError  # a line break belongs into a heading at most
        yield [" ".join(cell.split()) for cell in row] if torn else row


def _said(sheets: Sequence[tuple[str, list[list[str]]]], form: Form) -> Said:
    kept = [(name, [[cell.strip() for cell in row] for row in rows]) for name, rows in sheets]
    names = headings_of(form)
    tables = [table for _, rows in kept if any(_is_header(row, names) for row in rows) for table in _tables(rows, names, form)]
    if not tables:
        raise _BrokenError
    blocks = [block for table in tables for block in table.blocks]
    columns, labels = _columns(tables, names, form)
    lengths = tuple(map(len, blocks))
    if form.steps == "column":
        if labels is None:
            raise _BrokenError
        lengths = tuple(len(list(group)) for _, group in itertools.groupby(labels))
    elif form.steps == "restarts":
        clock = columns.get("step_time", columns.get("time"))
        lengths = (sum(lengths),) if clock is None else _lengths(clock)
    return Said(columns=columns, derived=_derived(columns, kept), lengths=lengths)


def headings_of(form: Form) -> dict[str, tuple[str, str]]:
    """Return every heading that the form could have: text to quantity and unit."""
    found = {}
    for name in NAMES[form.words]:
        units = [unit for unit, (quantities, *_) in UNITS.items() if name in quantities]
        for unit in ("", *units):
            found[heading(form, name, unit)] = (name, "" if form.units.startswith("row") else unit)
    return found


def _is_header(row: Sequence[str], names: Mapping[str, tuple[str, str]]) -> bool:
    known = [names[cell][0] for cell in row if cell in names]
    return sum(name not in TEXTS for name in known) >= 2 and 2 * len(known) > len([cell for cell in row if cell])


@dataclass(frozen=True, kw_only=True)
class _Table:
    """One header, the units below it, and its blocks of rows."""

    header: list[str]
    units: list[str]
    blocks: list[list[list[str]]]


def _tables(rows: list[list[str]], names: Mapping[str, tuple[str, str]], form: Form) -> list[_Table]:
    """Cut rows into tables and blocks; every row must be what the form allows in its place."""
    first = next(index for index, row in enumerate(rows) if _is_header(row, names))
    tables: list[_Table] = []
    ended = awaits_units = False
    for row in rows[first:]:
        text = " ".join(row).strip()
        bare = text.removeprefix(form.comment) if form.comment else text
        if awaits_units:
            tables[-1].units.extend(row)
            awaits_units = False
        elif not tables or (_is_header(row, names) and form.steps in {"announced", "headers"}):
            tables.append(_Table(header=row, units=[], blocks=[[]]))
            awaits_units = form.units.startswith("row")
        elif not text:
            if form.steps == "blank lines":
                tables[-1].blocks.append([])
        elif re.fullmatch(r"Step \d+", bare) and form.steps.startswith("announced"):
            tables[-1].blocks.append([])
        elif bare in form.notes or (row is rows[-1] and not any(sign.isdigit() for sign in text)):
            ended = True  # a note, or a line that was cut off before any number of it
        elif len(row) == len(tables[-1].header) and not ended and not text.startswith("#"):
            tables[-1].blocks[-1].append(row)
        else:
            raise _BrokenError
    filled = [replace(table, blocks=[block for block in table.blocks if block]) for table in tables]
    return [table for table in filled if table.blocks]


def _columns(tables: Sequence[_Table], names: Mapping[str, tuple[str, str]], form: Form) -> tuple[dict[str, Array], list[str] | None]:
    """Return the columns of all tables under each other, missing where a table lacks one, and the labels of steps."""
    parts = [_part(table, names, form) for table in tables]
    columns = {}
    for name in dict.fromkeys(name for part, _, _ in parts for name in part):
        columns[name] = np.concatenate([part.get(name, np.full(count, np.nan)) for part, _, count in parts])
    labels = [label for _, found, _ in parts for label in found]
    return columns, labels or None


def _part(table: _Table, names: Mapping[str, tuple[str, str]], form: Form) -> tuple[dict[str, Array], list[str], int]:
    rows = list(itertools.chain.from_iterable(table.blocks))
    columns: dict[str, Array] = {}
    labels: list[str] = []
    if form.units.startswith("row") and len(table.units) != len(table.header):
        raise _BrokenError
    for place, cell in enumerate(table.header):
        name, unit = names.get(cell, ("", ""))
        if name in {"", *TEXTS}:
            continue
        if name == "step":
            labels = [row[place] for row in rows]
            continue
        unit = table.units[place].strip("[]") if table.units else unit
        if name in columns or unit not in UNITS or name not in UNITS[unit][0]:
            raise _BrokenError
        values = np.array([_number(row[place], form, clock=unit == "h:mm:ss") for row in rows])
        _, factor, offset = UNITS[unit]
        if name == "angular_velocity" and unit == "1/min":
            factor = 2.0 * math.pi / 60.0
        columns[name] = (values + offset) * factor
    if "" in labels:
        raise _BrokenError  # a row that names no step says nothing for certain
    return columns, labels, len(rows)


def _number(cell: str, form: Form, *, clock: bool) -> float:
    """Return the number in a cell in the signs of the form."""
    if cell in MISSING:
        return math.nan
    plain = form.container != "text"
    decimal, thousands = (".", "") if plain else (form.decimal, form.thousands)
    point = re.escape(decimal)
    if clock:
        matched = re.fullmatch(rf"(\d+):(\d\d):(\d\d(?:{point}\d+)?)", cell, re.ASCII)
        if not matched:
            raise _BrokenError
        return 3600.0 * int(matched[1]) + 60.0 * int(matched[2]) + float(matched[3].replace(decimal, "."))
    whole = r"\d+" if not thousands else rf"(?:\d+|\d{{1,3}}(?:{re.escape(thousands)}\d{{3}})+)"
    matched = re.fullmatch(rf"[+{re.escape(form.minus)}-]?(?:{whole}(?:{point}\d*)?|{point}\d+)(?:[eE][+-]?\d+)?", cell, re.ASCII)
    if not matched:
        raise _BrokenError
    return float((cell.replace(thousands, "") if thousands else cell).replace(decimal, ".").replace(form.minus, "-"))


def _lengths(clock: Array) -> tuple[int, ...]:
    starts = [0, *(np.flatnonzero(np.diff(clock) < 0.0) + 1).tolist(), clock.size]
    return tuple(end - start for start, end in itertools.pairwise(starts))


def _derived(columns: Mapping[str, Array], sheets: Sequence[tuple[str, list[list[str]]]]) -> dict[str, Array]:
    """Return what follows: the third of rate, stress and viscosity, and stress and rate from torque and speed of a cone and plate."""
    full = {**columns, **third_of(columns)}
    cone = _cone(sheets)
    if cone is not None:
        radius, angle = cone
        if "torque" in full:
            full.setdefault("shear_stress", 3.0 * full["torque"] / (2.0 * math.pi * radius**3))
        if "angular_velocity" in full:
            full.setdefault("shear_rate", full["angular_velocity"] / angle)
        full |= third_of(full)
    return {name: values for name, values in full.items() if name not in columns}


def third_of(columns: Mapping[str, Array]) -> dict[str, Array]:
    """Return the third of rate, stress and viscosity where two are there."""
    with np.errstate(all="ignore"):
        match sorted({"shear_stress", "shear_rate", "viscosity"} & set(columns)):
            case ["shear_rate", "shear_stress"]:
                third = {"viscosity": columns["shear_stress"] / columns["shear_rate"]}
            case ["shear_rate", "viscosity"]:
                third = {"shear_stress": columns["viscosity"] * columns["shear_rate"]}
            case ["shear_stress", "viscosity"]:
                third = {"shear_rate": columns["shear_stress"] / columns["viscosity"]}
            case _:
                third = {}
    return {name: np.where(np.isfinite(values), values, np.nan) for name, values in third.items()}


def _cone(sheets: Sequence[tuple[str, list[list[str]]]]) -> tuple[float, float] | None:
    """Return radius [m] and angle [rad] from the lines above the table, if they stand there."""
    text = "\n".join(" ".join(row).replace(":", "") for _, rows in sheets for row in rows if row)
    found = [re.search(rf"^#? ?Cone {word} {GEOMETRY.pattern}$", text, re.MULTILINE) for word in ("radius", "angle")]
    named = re.search(r"^#? ?Geometry (.*)$", text, re.MULTILINE)
    if not (found[0] and found[1]) or (named and named[1] != "cone-plate"):
        return None
    return float(found[0][1]) * 1e-3, math.radians(float(found[1][1]))
