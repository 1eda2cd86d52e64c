"""Read batch.toml: the passport of the sample, and what each export is.

::

    format = 1
    [batch]
    id = "B26-041"                  # also product, sample, retained_sample, made, operator: all optional
    role = "batch"                  # or "reference"
    layout = "layout.toml"          # optional: a layout file in the folder, for every run
    [geometry]                      # optional: as in a layout file, for every run that has none of its own
    kind = "cone-plate"
    radius = "12.5 mm"
    angle = "2 °"
    [[run]]
    file = "loop_load1.csv"
    test = "loop"
    load = 1
    role = "batch"                  # optional: as in [batch]
    set_temperature = "23.0 °C"     # optional
    layout = "other.toml"           # optional: instead of the one in [batch]
    geometry = { kind = "parallel plates", radius = "25 mm", gap = "1 mm" }     # optional: instead of [geometry]
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from rheokit.base.errors import ReadError, UnitError
from rheokit.base.quantities import parse_amount
from rheokit.base.run import RunPlace
from rheokit.geometry import Geometry
from rheokit.reading.files import PathText
from rheokit.reading.folder import BATCH_FILE, inside
from rheokit.reading.geometries import geometry_in_table
from rheokit.reading.layout import Layout, read_layout
from rheokit.reading.toml_file import check_keys, nearest, read_toml, table_in, text_in

__all__ = ["TEST_NAME", "BatchFile", "ListedRun", "read_batch_file", "set_temperature"]

_PASSPORT = ("id", "product", "sample", "retained_sample", "made", "operator", "role", "layout")
_NO_PASSPORT = ("role", "layout")
_RUN_KEYS = ("file", "test", "load", "role", "set_temperature", "layout", "geometry")
_ROLES: tuple[Literal["batch", "reference"], ...] = ("batch", "reference")

_LONGEST_NAME = 200
"""Characters of a file name; file systems end at 255 bytes."""

TEST_NAME = re.compile(r"[a-z][a-z0-9_]{0,63}")
"""A test is called by one word in small letters, as the specification calls it."""


@dataclass(frozen=True, kw_only=True)
class ListedRun:
    """One run that the batch file lists: the file as written, its path, its place, and what else is said about it."""

    file: str
    path: Path
    place: RunPlace
    layout: Layout | None = None
    geometry: Geometry | None = None


@dataclass(frozen=True, kw_only=True)
class _Usual:
    """What holds for every run that does not say otherwise."""

    role: Literal["batch", "reference"]
    layout: Layout | None
    geometry: Geometry | None


@dataclass(frozen=True, kw_only=True)
class BatchFile:
    """The passport (without the role) and the runs listed."""

    passport: Mapping[str, str]
    runs: tuple[ListedRun, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "passport", MappingProxyType(dict(self.passport)))


def read_batch_file(folder: Path) -> BatchFile:
    """Return what batch.toml says.

    Raises
    ------
    ReadError
        Naming the key: unknown, missing, of the wrong type, a file outside the folder or listed twice, two runs for one load.
    """
    path = folder / BATCH_FILE
    tables = read_toml(path)
    check_keys(tables, ("format", "batch", "geometry", "run"), "", path)
    batch = table_in(tables, "batch", path)
    check_keys(batch, _PASSPORT, "batch.", path)
    usual = _Usual(
        role=_role(batch, "batch.", "batch", path),
        layout=_layout(batch, "batch.", folder, path),
        geometry=geometry_in_table(table_in(tables, "geometry", path), "geometry", path) if "geometry" in tables else None,
    )
    entries = tables.get("run", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise ReadError(path, "it is not a list of tables", place="run", remedy="write '[[run]]' above each run")
    runs = tuple(_listed(entry, number, usual, folder, path) for number, entry in enumerate(entries, 1))
    _refuse_twice(runs, path)
    passport = {key: value for key in _PASSPORT if key not in _NO_PASSPORT and (value := _passport_text(batch, key, path)) is not None}
    return BatchFile(passport=passport, runs=runs)


def _passport_text(batch: Mapping[str, object], key: str, path: PathText) -> str | None:
    value = batch.get(key)
    if key == "made" and isinstance(value, dt.date):  # a date and time is a date as well
        return value.isoformat()
    return text_in(batch, key, "batch.", path)


def _role(table: Mapping[str, object], place: str, usual: Literal["batch", "reference"], path: PathText) -> Literal["batch", "reference"]:
    written = text_in(table, "role", place, path)
    if written is None:
        return usual
    for role in _ROLES:
        if written == role:
            return role
    raise ReadError(path, f"unknown role {written!r}", place=f"{place}role", remedy=nearest(written, _ROLES))


def _layout(table: Mapping[str, object], place: str, folder: Path, path: PathText) -> Layout | None:
    """Return the layout file that a table names, or None."""
    file = text_in(table, "layout", place, path)
    if file is None:
        return None
    target = inside(folder, file) if len(file) <= _LONGEST_NAME else None
    if target is None:
        raise ReadError(path, f"{file!r} is not inside the folder", place=f"{place}layout", remedy="name a file of the folder")
    return read_layout(target)


def _geometry(entry: Mapping[str, object], place: str, path: PathText) -> Geometry | None:
    """Return the geometry of one run, or None."""
    table = entry.get("geometry")
    if table is None:
        return None
    if not isinstance(table, dict):
        remedy = 'write { kind = "cone-plate", radius = "12.5 mm", angle = "2 °" }'
        raise ReadError(path, f"it is {table!r}, not a table", place=f"{place}geometry", remedy=remedy)
    return geometry_in_table(table, f"{place}geometry", path)


def _listed(entry: Mapping[str, object], number: int, usual: _Usual, folder: Path, path: PathText) -> ListedRun:
    place = f"run {number}, "
    check_keys(entry, _RUN_KEYS, place, path)
    file, test = _required(entry, "file", place, path), _required(entry, "test", place, path)
    target = inside(folder, file) if len(file) <= _LONGEST_NAME else None
    if target is None:
        raise ReadError(path, f"{file!r} is not inside the folder", place=f"{place}file", remedy="name a file of the folder")
    if not TEST_NAME.fullmatch(test):
        remedy = "write one word in small letters, such as 'loop'"
        raise ReadError(path, f"{test!r} is no name of a test", place=f"{place}test", remedy=remedy)
    load = entry.get("load")
    if not isinstance(load, int) or isinstance(load, bool) or load < 1:
        seen = f"it is {load!r}" if "load" in entry else "it is missing"
        raise ReadError(path, seen, place=f"{place}load", remedy="write a whole number from 1")
    written = text_in(entry, "set_temperature", place, path)
    try:
        temperature = None if written is None else set_temperature(written)
    except UnitError as error:
        raise ReadError(path, str(error), place=f"{place}set_temperature", remedy="write for example '23.0 °C'") from None
    role = _role(entry, place, usual.role, path)
    learnt = RunPlace(test=test, load=load, role=role, set_temperature=temperature, learnt_from=BATCH_FILE)
    layout, geometry = _layout(entry, place, folder, path) or usual.layout, _geometry(entry, place, path) or usual.geometry
    return ListedRun(file=file, path=target, place=learnt, layout=layout, geometry=geometry)


def _required(entry: Mapping[str, object], key: str, place: str, path: PathText) -> str:
    found = text_in(entry, key, place, path)
    if found is None:
        raise ReadError(path, "it is missing", place=f"{place}{key}", remedy="every run has a file, a test and a load")
    return found


def set_temperature(text: str) -> float:
    """Return a temperature such as `23.0 °C` in K.

    Raises
    ------
    UnitError
        When it is no temperature, or carries a tolerance, which is the specification's to state.
    """
    amount = parse_amount(text, "temperature")
    if amount.tolerance is not None:
        raise UnitError(f"{text!r} has a tolerance; a set temperature is one number")
    if not amount.value > 0.0:
        raise UnitError(f"{text!r} is below absolute zero")
    return amount.value


def _refuse_twice(runs: tuple[ListedRun, ...], path: PathText) -> None:
    files: dict[Path, int] = {}
    loads: dict[tuple[str, int, str], int] = {}
    for number, run in enumerate(runs, 1):
        where = (run.place.test, run.place.load, run.place.role)
        if run.path in files:
            raise ReadError(path, f"{run.file!r} is listed in run {files[run.path]} as well", place=f"run {number}, file")
        if where in loads:
            seen = f"load {run.place.load} of {run.place.test} is run {loads[where]} already"
            raise ReadError(path, seen, place=f"run {number}, load", remedy="number the loads of a test 1, 2, 3")
        files[run.path], loads[where] = number, number
