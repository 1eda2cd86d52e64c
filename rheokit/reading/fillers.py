"""Numbers that stand for a missing value: read as numbers, they would be judged as measurements."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.units import Unit
from rheokit.reading.body import Body
from rheokit.reading.columns import Column
from rheokit.reading.single_rows import named

__all__ = ["check_fillers"]

FILLERS = (-999.0, -9999.0, -99999.0, -999999.0, 99999.0, 999999.0, 9999999.0)
"""Runs of nines that programs write for "no value" (common practice, no source)."""
_LEAST = 999.0 * (1.0 - 1e-9)
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
        odd = _odd_rows(values, unit)
        if odd.size:
            first = int(odd[0])
            row, seen = body.lines[first], unit.from_si(float(values[first]))
            reason = (
                f"{named(columns, meaning)} holds {seen:g} in line {row}, which looks like a mark for a missing value "
                f"({odd.size} of {values.size} rows); leave such cells empty, or export them so"
            )
            found.append(Finding(check="filler", severity="invalid", reason=reason, rows=(row, row)))
    return tuple(found)


def _odd_rows(values: FloatArray, unit: Unit) -> NDArray[np.intp]:
    """Return the index of every number that looks like a missing value."""
    least = unit.scale_to_si(_LEAST)
    # The two ends first: most columns hold nothing so large, and a long one is looked through in one go.
    high, low = float(np.fmax.reduce(values, initial=0.0)), float(np.fmin.reduce(values, initial=0.0))
    if high < least and low > -least:
        return np.empty(0, dtype=np.intp)
    large = np.flatnonzero((values >= least) | (values <= -least) if low <= -least else values >= least)
    with np.errstate(over="ignore"):
        shown = np.round(unit.from_si(values[large]), 6)
    odd = (values[large] > LARGEST) | (values[large] < -LARGEST)
    for filler in FILLERS:
        if low <= -least or filler > 0.0:
            odd |= shown == filler
    return large[odd]
