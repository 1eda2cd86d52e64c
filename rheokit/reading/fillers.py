"""Numbers that stand for a missing value: read as numbers, they would be judged as measurements."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rheokit.base.finding import Finding
from rheokit.reading.body import Body
from rheokit.reading.columns import Column
from rheokit.reading.single_rows import named

__all__ = ["check_fillers"]

FILLERS = (-999.0, -9999.0, -99999.0, -999999.0, 99999.0, 999999.0, 9999999.0)
"""Runs of nines that programs write for "no value" (common practice, no source)."""
LARGEST = 1e20
"""In SI. No rate, stress, viscosity or torque of an ink comes near it; programs write 1e30 or 9.9e37 for "no value"."""
_JUDGED = ("shear_rate", "shear_stress", "viscosity", "torque")


def check_fillers(body: Body, columns: Sequence[Column]) -> tuple[Finding, ...]:
    """Return an invalid finding for each column that holds a number which looks like a missing value."""
    found = []
    for column in columns:
        meaning, unit = column.meaning, column.unit
        values = body.values.get(meaning) if meaning in _JUDGED else None
        if values is None or unit is None or meaning is None:
            continue
        with np.errstate(invalid="ignore"):
            size = np.abs(values)
            if not (size >= abs(unit.scale_to_si(FILLERS[0])) * (1.0 - 1e-9)).any():
                continue
            odd = (size > LARGEST) | np.isin(np.round(unit.from_si(values), 6), FILLERS)
        if odd.any():
            first = int(np.argmax(odd))
            row, seen = body.lines[first], unit.from_si(float(values[first]))
            reason = (
                f"{named(columns, meaning)} holds {seen:g} in line {row}, which looks like a mark for a missing value "
                f"({int(odd.sum())} of {odd.size} rows); leave such cells empty, or export them so"
            )
            found.append(Finding(check="filler", severity="invalid", reason=reason, rows=(row, row)))
    return tuple(found)
