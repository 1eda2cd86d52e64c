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
from dataclasses import dataclass

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
            if "\t" in line or '"' in line:
                raise _BrokenError
            yield [line.strip()] if line.startswith("#") or ": " in line else line.split()
        return
    for row in csv.reader(lines, delimiter=form.delimiter):
        if any("\n" in cell or "\r" in cell for cell in row):
            raise _BrokenError
        yield row


def _said(sheets: Sequence[tuple[str, list[list[str]]]], form: Form) -> Said:
    kept = [(name, [[cell.strip() for cell in row] for row in rows]) for name, rows in sheets]
    names = headings_of(form)
    tables = [_table(rows, names, form) for name, rows in kept if any(_is_header(row, names) for row in rows)]
    if not tables:
        raise _BrokenError
    header = tables[0].header
    if any(table.header != header for table in tables):
        raise _BrokenError
    blocks = [block for table in tables for block in table.blocks if block]
    if not blocks:
        raise _BrokenError
    columns = _columns(header, tables[0].units, list(itertools.chain.from_iterable(blocks)), names, form)
    labels = columns.pop("step", None)
    lengths = tuple(map(len, blocks))
    if form.steps == "column":
        if labels is None:
            raise _BrokenError
        lengths = tuple(len(list(group)) for _, group in itertools.groupby(labels.tolist()))
    elif form.steps == "restarts":
        clock = columns.get("step_time", columns.get("time"))
        lengths = (len(blocks[0]),) if clock is None else _lengths(clock)
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
    header: list[str]
    units: list[str]
    blocks: list[list[list[str]]]


def _table(rows: list[list[str]], names: Mapping[str, tuple[str, str]], form: Form) -> _Table:
    """Cut a table into blocks of data; every row must be what the form allows in its place."""
    first = next(index for index, row in enumerate(rows) if _is_header(row, names))
    header = rows[first]
    units = rows[first + 1] if form.units.startswith("row") and first + 1 < len(rows) else []
    blocks: list[list[list[str]]] = [[]]
    ended = False
    skip = bool(units)
    for row in rows[first + 1 :]:
        text = " ".join(row).strip()
        bare = text.removeprefix(form.comment) if form.comment else text
        if skip:
            skip = False
        elif not text:
            if form.steps == "blank lines":
                blocks.append([])
        elif ended and bare in form.notes:
            continue
        elif row == header and form.steps in {"announced", "headers"}:
            blocks.append([])
            skip = bool(units)
        elif re.fullmatch(r"Step \d+", bare) and form.steps.startswith("announced"):
            blocks.append([])
        elif bare in form.notes:
            ended = True
        elif len(row) == len(header) and not ended and not text.startswith("#"):
            blocks[-1].append(row)
        else:
            raise _BrokenError
    return _Table(header=header, units=units, blocks=[block for block in blocks if block])


def _columns(
    header: Sequence[str], units: Sequence[str], rows: Sequence[Sequence[str]], names: Mapping[str, tuple[str, str]], form: Form
) -> dict[str, Array]:
    columns: dict[str, Array] = {}
    if units and len(units) != len(header):
        raise _BrokenError
    for place, cell in enumerate(header):
        name, unit = names.get(cell, ("", ""))
        if name in {"", *TEXTS}:
            continue
        unit = units[place].strip("[]") if units else unit
        if name in columns or (name != "step" and (unit not in UNITS or name not in UNITS[unit][0])):
            raise _BrokenError
        clock = unit == "h:mm:ss"
        if name == "step":
            columns[name] = _labels([row[place] for row in rows])
            continue
        values = np.array([_number(row[place], form, clock=clock) for row in rows])
        _, factor, offset = UNITS[unit]
        if name == "angular_velocity" and unit == "1/min":
            factor = 2.0 * math.pi / 60.0
        columns[name] = (values + offset) * factor
    return columns


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
    matched = re.fullmatch(rf"[+{re.escape(form.minus)}-]?{whole}(?:{point}\d*)?(?:[eE][+-]?\d+)?", cell, re.ASCII)
    if not matched:
        raise _BrokenError
    return float((cell.replace(thousands, "") if thousands else cell).replace(decimal, ".").replace(form.minus, "-"))


def _labels(cells: Sequence[str]) -> Array:
    """Return the labels of steps as numbers, in the order in which they first come; a missing one says nothing for certain."""
    if "" in cells:
        raise _BrokenError
    order = list(dict.fromkeys(cells))
    return np.array([order.index(cell) for cell in cells], dtype=np.float64)


def _lengths(clock: Array) -> tuple[int, ...]:
    starts = [0, *(np.flatnonzero(np.diff(clock) < 0.0) + 1).tolist(), clock.size]
    return tuple(end - start for start, end in itertools.pairwise(starts))


def _derived(columns: Mapping[str, Array], sheets: Sequence[tuple[str, list[list[str]]]]) -> dict[str, Array]:
    """Return what follows: the third of rate, stress and viscosity, and stress and rate from torque and speed of a cone and plate."""
    full = {**columns, **_third(columns)}
    cone = _cone(sheets)
    if cone is not None:
        radius, angle = cone
        if "torque" in full:
            full.setdefault("shear_stress", 3.0 * full["torque"] / (2.0 * math.pi * radius**3))
        if "angular_velocity" in full:
            full.setdefault("shear_rate", full["angular_velocity"] / angle)
        full |= _third(full)
    return {name: values for name, values in full.items() if name not in columns}


def _third(columns: Mapping[str, Array]) -> dict[str, Array]:
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
    if not (found[0] and found[1]) or "Geometry cone-plate" not in text:
        return None
    return float(found[0][1]) * 1e-3, math.radians(float(found[1][1]))
