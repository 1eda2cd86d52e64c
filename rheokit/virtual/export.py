"""Write a run the way instruments export it: delimited text in one of several shapes.

A shape is data: the columns, where their units stand, the separators. A new shape is a new ``Shape``.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from math import isnan, pi
from pathlib import Path
from types import MappingProxyType
from typing import Literal

import numpy as np

from .ink import FloatArray
from .measurement import Measurement

UNITS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "": (1.0, 0.0),
        "s": (1.0, 0.0),
        "min": (1.0 / 60.0, 0.0),
        "1/s": (1.0, 0.0),
        "Pa": (1.0, 0.0),
        "Pa·s": (1.0, 0.0),
        "mPa·s": (1e3, 0.0),
        "N·m": (1.0, 0.0),
        "mN·m": (1e3, 0.0),
        "µN·m": (1e6, 0.0),
        "rad/s": (1.0, 0.0),
        "1/min": (60.0 / (2.0 * pi), 0.0),
        "K": (1.0, 0.0),
        "°C": (1.0, -273.15),
    }
)
"""Factor and offset from the SI value to the printed number."""


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of an export.

    Parameters
    ----------
    quantity : str
        Name of the array in the measurement.
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

    def printed(self, measurement: Measurement) -> FloatArray:
        """Numbers to print, shape (N,)."""
        factor, offset = UNITS[self.unit if self.written_in is None else self.written_in]
        return np.asarray(getattr(measurement, self.quantity) * factor + offset, dtype=np.float64)


@dataclass(frozen=True, kw_only=True)
class Shape:
    """How an export is laid out."""

    name: str
    columns: tuple[Column, ...]
    units: Literal["in header", "own row"]
    delimiter: str = ","
    encoding: str = "utf-8"
    digits: int = 5


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


def export_text(measurement: Measurement, shape: Shape, preamble: Mapping[str, str] | None = None) -> str:
    """Text of an export: preamble lines and an empty line if there is a preamble, header, one row a point.

    A number that does not exist (the viscosity at a rate of zero) is an empty cell.
    """
    text = io.StringIO()
    writer = csv.writer(text, delimiter=shape.delimiter, lineterminator="\n")
    if preamble:
        writer.writerows(preamble.items())
        writer.writerow(())
    writer.writerows(_header(shape))
    for row in zip(*(column.printed(measurement) for column in shape.columns), strict=True):
        writer.writerow([_cell(float(value), shape.digits) for value in row])
    return text.getvalue()


def write_export(path: Path, measurement: Measurement, shape: Shape, preamble: Mapping[str, str] | None = None) -> None:
    """Write an export; an existing file is never replaced.

    Raises
    ------
    FileExistsError
        If the path exists.
    """
    with path.open("x", encoding=shape.encoding, newline="") as file:
        file.write(export_text(measurement, shape, preamble))


def _header(shape: Shape) -> list[list[str]]:
    """Header rows of a shape."""
    headings = [column.heading for column in shape.columns]
    units = [column.unit for column in shape.columns]
    if shape.units == "own row":
        return [headings, units]
    return [[f"{heading} [{unit}]" if unit else heading for heading, unit in zip(headings, units, strict=True)]]


def _cell(value: float, digits: int) -> str:
    """One printed number."""
    return "" if isnan(value) else f"{value:.{digits}g}"
