"""How an export is laid out: its columns, units, signs, and how steps are told apart. A new shape is a new ``Shape``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import isnan, pi
from types import MappingProxyType
from typing import Literal, Protocol

import numpy as np

from .ink import FloatArray
from .measurement import Measurement

Cell = float | str | None
"""A number, a text, or nothing."""


class Reported(Protocol):
    """Anything that has the number of its step for every point, and an array for each quantity that a column names."""

    @property
    def step(self) -> FloatArray:
        """Number of the step of each point, from 1; shape (N,)."""


UNITS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "": (1.0, 0.0),
        "%": (100.0, 0.0),
        "s": (1.0, 0.0),
        "min": (1.0 / 60.0, 0.0),
        "h:mm:ss": (1.0, 0.0),
        "1/s": (1.0, 0.0),
        "s⁻¹": (1.0, 0.0),
        "Pa": (1.0, 0.0),
        "Pa·s": (1.0, 0.0),
        "Pas": (1.0, 0.0),
        "mPa·s": (1e3, 0.0),
        "N·m": (1.0, 0.0),
        "mN·m": (1e3, 0.0),
        "mNm": (1e3, 0.0),
        "µN·m": (1e6, 0.0),
        "rad/s": (1.0, 0.0),
        "1/min": (60.0 / (2.0 * pi), 0.0),
        "K": (1.0, 0.0),
        "°C": (1.0, -273.15),
    }
)
"""Factor and offset from the SI value to the printed number."""

CLOCK = "h:mm:ss"
LOW_TORQUE = 2e-6
"""[N·m] Ten times the torque floor of the demo instrument: a point below is given the status "low torque"."""


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of an export.

    Parameters
    ----------
    quantity : str
        Name of the array in the measurement, or ``point``, ``status`` or ``remark``.
    heading : str
        What the header says.
    unit : str
        What the export claims.
    written_in : str or None
        Unit the numbers are really in; None for the claimed one. Anything else is a unit mix-up.
    """

    quantity: str
    heading: str
    unit: str = ""
    written_in: str | None = None

    def cells(self, measurement: Reported) -> list[Cell]:
        """One cell a point; a number that does not exist is None."""
        if self.quantity in _TEXTS:
            return _TEXTS[self.quantity](measurement)
        factor, offset = UNITS[self.unit if self.written_in is None else self.written_in]
        values = np.asarray(getattr(measurement, self.quantity) * factor + offset, dtype=np.float64)
        return [None if isnan(value) else value for value in values.tolist()]


def _point(measurement: Reported) -> list[Cell]:
    return [float(number) for number in range(1, measurement.step.size + 1)]


def _status(measurement: Reported) -> list[Cell]:
    if not isinstance(measurement, Measurement):
        raise TypeError("a status is told by the torque, which this run does not have")
    return ["low torque" if abs(torque) < LOW_TORQUE else "ok" for torque in measurement.torque.tolist()]


def _remark(measurement: Reported) -> list[Cell]:
    steps = measurement.step.tolist()
    return [f"step {step:.0f} begins" if step != before else None for before, step in zip([None, *steps], steps, strict=False)]


_TEXTS: Mapping[str, Callable[[Reported], list[Cell]]] = MappingProxyType({"point": _point, "status": _status, "remark": _remark})


@dataclass(frozen=True, kw_only=True)
class Shape:
    """How an export is laid out.

    Parameters
    ----------
    name : str
        What it is called.
    columns : tuple of Column
        From left to right.
    units : {"in header", "own row"}
        Where the units stand.
    heading : str
        How a heading and its unit share a cell, where they do.
    container : {"text", "xlsx", "ods"}
        Delimited text or a workbook.
    suffix : str
        Of the file name.
    delimiter, encoding, line_end : str
        Of a text. A blank as delimiter is a run of blanks that lines the columns up.
    digits : int
        Significant digits of a number.
    decimal, thousands, minus, missing : str
        Signs of a number in a text, and what stands where there is none.
    steps : {"one table", "blocks", "sheets"}
        One table for all steps (a step column tells them apart, or a clock that starts again), blocks under each
        other, or one sheet of a workbook for each.
    announcement : str
        Line above each block, with ``{number}``; none when empty.
    header_repeated : bool
        Whether each block has the header again.
    preamble : str
        A line of the preamble, with ``{key}``, ``{delimiter}`` and ``{value}``.
    comment : str
        Mark before every line that is not of the table.
    notes : tuple of str
        Lines under the table.
    margin : int
        Empty rows above and empty columns before the table of a workbook.
    """

    name: str
    columns: tuple[Column, ...]
    units: Literal["in header", "own row"]
    heading: str = "{heading} [{unit}]"
    container: Literal["text", "xlsx", "ods"] = "text"
    suffix: str = ".csv"
    delimiter: str = ","
    encoding: str = "utf-8"
    line_end: str = "\n"
    digits: int = 5
    decimal: str = "."
    thousands: str = ""
    minus: str = "-"
    missing: str = ""
    steps: Literal["one table", "blocks", "sheets"] = "one table"
    announcement: str = ""
    header_repeated: bool = True
    preamble: str = "{key}{delimiter}{value}"
    comment: str = ""
    notes: tuple[str, ...] = ()
    margin: int = 0

    def header(self) -> list[list[str]]:
        """Header rows."""
        headings = [column.heading for column in self.columns]
        units = [column.unit for column in self.columns]
        if self.units == "own row":
            return [headings, units]
        pairs = zip(headings, units, strict=True)
        return [[self.heading.format(heading=heading, unit=unit) if unit else heading for heading, unit in pairs]]

    def printed(self, cell: Cell, unit: str = "") -> str:
        """One cell as text."""
        if cell is None:
            return self.missing
        if isinstance(cell, str):
            return cell
        number = f"{cell:.{self.digits}g}"
        if unit == CLOCK:
            return _clock(Decimal(number)).replace(".", self.decimal)
        if self.thousands:
            number = f"{Decimal(number):,f}"
        sign, size = (self.minus, number[1:]) if number.startswith("-") else ("", number)
        return sign + size.translate({ord(","): self.thousands, ord("."): self.decimal})


def _clock(seconds: Decimal) -> str:
    """Time as on a clock, to the digits it has."""
    minutes, rest = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    whole, point, decimals = f"{rest:f}".partition(".")
    return f"{hours:.0f}:{minutes:02.0f}:{whole:0>2}{point}{decimals}"


HEADER_UNITS = Shape(
    name="header units",
    units="in header",
    columns=(
        Column(quantity="step", heading="Step"),
        Column(quantity="time", heading="Time", unit="s"),
        Column(quantity="step_time", heading="Step time", unit="s"),
        Column(quantity="shear_rate", heading="Shear rate", unit="1/s"),
        Column(quantity="shear_stress", heading="Shear stress", unit="Pa"),
        Column(quantity="viscosity", heading="Viscosity", unit="Pa·s"),
        Column(quantity="torque", heading="Torque", unit="µN·m"),
        Column(quantity="temperature", heading="Temperature", unit="°C"),
    ),
)
"""Units in square brackets behind each heading."""

UNITS_ROW = Shape(
    name="units row",
    units="own row",
    columns=(
        Column(quantity="step", heading="Step"),
        Column(quantity="time", heading="Time", unit="s"),
        Column(quantity="shear_rate", heading="Shear rate", unit="1/s"),
        Column(quantity="shear_stress", heading="Shear stress", unit="Pa"),
        Column(quantity="viscosity", heading="Viscosity", unit="mPa·s"),
        Column(quantity="angular_velocity", heading="Angular velocity", unit="rad/s"),
        Column(quantity="torque", heading="Torque", unit="mN·m"),
        Column(quantity="temperature", heading="Temperature", unit="°C"),
    ),
)
"""Headings in one row, units in the next."""
