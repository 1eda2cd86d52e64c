"""Read results.csv: results typed in beside the rheometer's, each an Estimate."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from types import MappingProxyType

from rheokit.base.errors import ReadError, UnitError
from rheokit.base.estimate import Condition, Estimate, Source
from rheokit.base.quantities import QUANTITIES, quantity, unit_of
from rheokit.base.units import Dimension, Unit, parse_unit
from rheokit.reading.files import PathText, read_bytes, sha256_of
from rheokit.reading.folder import RESULTS_FILE
from rheokit.reading.numbers import number_in
from rheokit.reading.preamble import moment
from rheokit.reading.rows import Row, rows_of
from rheokit.reading.text import decode

__all__ = ["HEADER", "read_entered"]

HEADER = ("characteristic", "value", "unit", "standard_uncertainty", "method", "time")
_NAME = re.compile(r"[a-z][a-z0-9_]{0,63}", re.ASCII)
_OTHER_NAMES: Mapping[str, str] = MappingProxyType({"check_oil_viscosity": "viscosity", "check_oil_temperature": "temperature"})
"""Characteristics that are a quantity under another name."""


def read_entered(path: PathText) -> tuple[Estimate, ...]:
    """Return the results typed in by hand, each in SI.

    Raises
    ------
    ReadError
        Naming the line and column of the first entry that cannot be read; then none is used.
    """
    data = read_bytes(path)
    rows = tuple(rows_of(decode(data, path).characters, ",", path))
    header = tuple(cell.strip() for cell in rows[0].cells)
    if header != HEADER:
        raise ReadError(path, f"the header is {','.join(header)!r}", place=f"line {rows[0].line}", remedy=f"write {','.join(HEADER)!r}")
    digest = sha256_of(data)
    return tuple(_estimate(row, digest, path) for row in rows[1:])


def _estimate(row: Row, digest: str, path: PathText) -> Estimate:
    line = f"line {row.line}"
    if len(row.cells) != len(HEADER):
        remedy = "write one cell for each column, and a text with a comma in quotation marks"
        raise ReadError(path, f"{len(row.cells)} cells under {len(HEADER)} columns", place=line, remedy=remedy)
    name, value, written_unit, uncertainty, method, time = (cell.strip() for cell in row.cells)
    if not _NAME.fullmatch(name):
        remedy = "write words in small letters joined by underscores, such as 'density'"
        raise ReadError(path, f"{name!r} is no name of a characteristic", place=f"{line}, characteristic", remedy=remedy)
    if not method:
        raise ReadError(path, "no method is given", place=f"{line}, method", remedy="say how it was measured")
    unit, shown = _unit(name, written_unit, line, path)
    error = _uncertainty(uncertainty, unit, line, path)
    return Estimate(
        name=name,
        value=_finite(unit.to_si(_number(value, f"{line}, value", path)), f"{line}, value", path),
        unit=shown,
        standard_error=error,
        method=method,
        degrees_of_freedom=None if error is None else math.inf,
        conditions={"time": Condition(value=_time(time, line, path))},
        components={} if error is None else {"entered": error},
        reason="no uncertainty was entered" if error is None else "",
        sources=(Source(sha256=digest, run=RESULTS_FILE, rows=(row.line, row.last_line)),),
    )


def _unit(name: str, written: str, line: str, path: PathText) -> tuple[Unit, str]:
    """Return the unit as written, and the SI unit that the value is given in."""
    known = _OTHER_NAMES.get(name, name)
    try:
        if known in QUANTITIES:
            return unit_of(written, known), quantity(known).unit
        unit = parse_unit(written)
    except UnitError as error:
        raise ReadError(path, str(error), place=f"{line}, unit") from None
    return unit, _si_unit(unit.dimension)


def _si_unit(dimension: Dimension) -> str:
    """Return how the SI unit of a dimension is written: as a quantity of ours writes it, else in base units."""
    for entry in QUANTITIES.values():
        if entry.unit != "Pa·s^n" and parse_unit(entry.unit).dimension == dimension:
            return entry.unit
    symbols = zip(("kg", "m", "s", "K", "rad", "mol"), dimension, strict=True)
    return "·".join(symbol if power == 1 else f"{symbol}^{power}" for symbol, power in symbols if power)


def _number(text: str, place: str, path: PathText) -> float:
    value = number_in(text)
    if value is None:
        raise ReadError(path, f"{text!r} is not a number", place=place, remedy="write it with a decimal point")
    return value


def _finite(value: float, place: str, path: PathText) -> float:
    if not math.isfinite(value):
        raise ReadError(path, "the number is too large in SI units", place=place)
    return value


def _uncertainty(text: str, unit: Unit, line: str, path: PathText) -> float | None:
    if not text:
        return None
    place = f"{line}, standard_uncertainty"
    size = _finite(unit.scale_to_si(_number(text, place, path)), place, path)
    if not size > 0.0:
        raise ReadError(path, f"a standard uncertainty is positive, not {text!r}", place=place, remedy="leave it empty where none is known")
    return size


def _time(text: str, line: str, path: PathText) -> str:
    found = moment(text)
    if found is None:
        remedy = "write ISO 8601 with the offset from UTC, such as 2026-09-14T09:30:00+02:00 or 2026-09-14T07:30:00Z"
        raise ReadError(path, f"{text!r} is no time with an offset", place=f"{line}, time", remedy=remedy)
    return found.isoformat()
