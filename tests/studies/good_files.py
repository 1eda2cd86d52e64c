"""The good files that are spoilt: one small invented run in every shape that the reader says it reads."""

from __future__ import annotations

import math

import numpy as np

from studies.written_export import Form, Points, without

RADIUS, ANGLE = 12.5e-3, math.radians(2.0)

GEOMETRY = (("Geometry", "cone-plate"), ("Cone radius", "12.5 mm"), ("Cone angle", "2 °"))
PREAMBLE = (("Batch", "B1"), ("Operator", "technician 2"), *GEOMETRY, ("Set temperature", "23.0 °C"))


def points(seed: int = 0, *, thousands: bool = False) -> Points:
    """Return a pre-shear, an up and a down ramp of a yield-stress fluid, with 0.3 % of noise; printed with five digits."""
    random = np.random.default_rng(seed)
    lengths = (6, 12, 12)
    rate = np.concatenate([np.full(6, 100.0), np.linspace(8.0, 100.0, 12), np.linspace(100.0, 8.0, 12)])
    scale = 20.0 if thousands else 1.0
    stress = scale * (60.0 + 20.0 * np.sqrt(rate) + 0.63 * rate) * (1.0 + 0.003 * random.standard_normal(rate.size))
    step_time = np.concatenate([np.arange(1, length + 1) * 5.25 for length in lengths])
    time = step_time + np.repeat([0.0, 33.5, 98.75], lengths)
    values = {
        "time": ("s", time),
        "step_time": ("s", step_time),
        "shear_rate": ("1/s", rate),
        "shear_stress": ("Pa", stress),
        "viscosity": ("Pa·s", stress / rate),
        "torque": ("µN·m", stress * 2.0 * math.pi * RADIUS**3 / 3.0 * 1e6),
        "angular_velocity": ("rad/s", rate * ANGLE),
        "temperature": ("°C", 23.0 + 0.03 * random.standard_normal(rate.size)),
    }
    columns = {name: (unit, tuple(f"{value:.5g}" for value in column)) for name, (unit, column) in values.items()}
    return Points(columns=columns, lengths=lengths)


def _in(points_: Points, name: str, unit: str, factor: float) -> Points:
    """Return the same points with one column in another unit."""
    cells = tuple(f"{float(cell) * factor:.5g}" for cell in points_.columns[name][1])
    return Points(columns={**points_.columns, name: (unit, cells)}, lengths=points_.lengths)


_ALL = without(points(1), "angular_velocity")
_FEW = without(points(2), "step_time", "torque", "angular_velocity")
_RESTART = without(points(3), "time", "torque", "angular_velocity")
_LARGE = _in(without(points(4, thousands=True), "step_time", "angular_velocity"), "viscosity", "mPa·s", 1e3)
_TURNS = _in(without(points(5), "shear_rate", "shear_stress", "viscosity", "step_time"), "angular_velocity", "1/min", 30.0 / math.pi)
_SPEED = without(points(6), "step_time")

GOOD: tuple[tuple[Form, Points], ...] = (
    (Form(name="comma, units in brackets, step column", preamble=PREAMBLE), _ALL),
    (Form(name="UTF-8 with mark, semicolon, decimal comma, units row", encoding="utf-8-sig", delimiter=";", decimal=",", units="row",
          preamble=PREAMBLE, preamble_with="colon", line_end="\r\n"), _SPEED),
    (Form(name="UTF-16, tab, announced blocks", encoding="utf-16", delimiter="\t", suffix=".txt", steps="announced", units="row",
          preamble=PREAMBLE), _FEW),
    (Form(name="cp1252, semicolon, decimal comma, thousands point, German", encoding="cp1252", delimiter=";", decimal=",", thousands=".",
          words="german", units="in", line_end="\r\n"), _LARGE),
    (Form(name="bar, thousands comma, remarks, notes", delimiter="|", thousands=",", units="round", extra=("point", "status", "remark"),
          suffix=".txt", notes=("End of data", "Checked by technician 1")), _LARGE),
    (Form(name="blanks, comment marks, symbols", delimiter=" ", words="symbols", units="slash", comment="# ", preamble=PREAMBLE,
          suffix=".dat", missing="nan"), _FEW),
    (Form(name="comma, clock starts again", steps="restarts", units="comma", delimiter=";"), _RESTART),
    (Form(name="comma, blocks with the header again", steps="headers", missing="n/a"), _SPEED),
    (Form(name="tab, blocks after blank lines", steps="blank lines", delimiter="\t", suffix=".tsv", units="row in brackets"), _FEW),
    (Form(name="announced blocks, one header", steps="announced once", delimiter=";", comment="# ", preamble=PREAMBLE), _FEW),
    (Form(name="torque and speed with the geometry", preamble=PREAMBLE, preamble_with="colon", suffix=""), _TURNS),
    (Form(name="clock times, quoted, decimal comma in commas", quoted=True, decimal=",", clock=True), _FEW),
    (Form(name="any order of columns", order=(5, 2, 7, 0, 3, 6, 1, 4), extra=("status",)), _ALL),
    (Form(name="xlsx, one sheet a step", container="xlsx", suffix=".xlsx", steps="sheets", preamble=PREAMBLE), _SPEED),
    (Form(name="xlsx, all on one sheet", container="xlsx", suffix=".xlsx", preamble=PREAMBLE, margin=1, units="row"), _ALL),
    (Form(name="ods, all on one sheet", container="ods", suffix=".ods", extra=("remark",)), _FEW),
)  # fmt: skip
"""Form and points of each."""
