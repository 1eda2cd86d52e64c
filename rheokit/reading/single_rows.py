"""Find single rows in which columns that hang together contradict each other by more than their printed digits can explain."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.run import Step
from rheokit.reading.body import Body
from rheokit.reading.columns import Column
from rheokit.reading.numbers import last_digit
from rheokit.reading.profile import middle

__all__ = ["AGREEMENT", "check_clocks", "check_product", "check_proportion", "named"]

AGREEMENT = 0.02
"""Relative. Three printed digits leave at most 0.5 % in each of the three numbers, 1.5 % together; and an instrument that averages the
viscosity over a point does not print quite the ratio of its averages. A power of ten is far outside."""

CLOCK_AGREEMENT = 0.25
"""[s] Two clocks of one row are read within the same tenth of a second (common practice, no source), and printed to a tenth."""

CLOCK_DIGITS = 5e-3
"""Relative. Three printed digits of a time leave at most 0.5 %."""


def named(columns: Sequence[Column], name: str) -> str:
    """Return the heading of the column of a quantity, in quotes."""
    return next(repr(column.heading) for column in columns if column.meaning == name)


def check_product(body: Body, columns: Sequence[Column]) -> tuple[Finding, ...]:
    """Say in which rows viscosity times rate is not the stress, whatever their signs; a row that lacks one of them says nothing."""
    product = f"{named(columns, 'viscosity')} times {named(columns, 'shear_rate')}"
    out = _odd_rows(body, columns, ("viscosity", "shear_rate"), "shear_stress", 1.0)
    return _said(body, out, f"{product} differs from {named(columns, 'shear_stress')}", "")


def check_proportion(body: Body, columns: Sequence[Column], name: str, whole: str) -> tuple[Finding, ...]:
    """Say in which rows two columns of one geometry, such as torque and stress, are not in the proportion of the others."""
    one, other = body.values[name], body.values[whole]
    with np.errstate(all="ignore"):
        ratios = other / one
    usual = ratios[np.isfinite(ratios) & (ratios != 0.0)]
    if not usual.size:
        return ()
    out = _odd_rows(body, columns, (name,), whole, middle(usual))
    remedy = "; a number was changed, or one of the columns is corrected and the other is not"
    return _said(body, out, f"{named(columns, name)} is out of proportion with {named(columns, whole)}", remedy)


def check_clocks(body: Body, steps: Sequence[Step]) -> tuple[Finding, ...]:
    """Say in which rows the time since the run began and the time since the step began do not go together."""
    if "time" not in body.values or "step_time" not in body.values:
        return ()
    apart = body.values["time"] - body.values["step_time"]
    usual = np.empty_like(apart)
    end = 0
    for step in steps:
        begin, end = end, end + len(step)
        usual[begin:end] = _median(apart[begin:end])
    with np.errstate(all="ignore"):
        out = np.abs(apart - usual) > CLOCK_AGREEMENT + CLOCK_DIGITS * np.abs(body.values["time"])
    return _said(body, np.flatnonzero(out).tolist(), "the time of the run and the time within the step do not go together", "", "")


def _median(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return middle(known) if known.size else np.nan


def _said(body: Body, out: Sequence[int], what: str, remedy: str, by: str = f" by more than {AGREEMENT:.0%}") -> tuple[Finding, ...]:
    if not out:
        return ()
    first, last = body.lines[out[0]], body.lines[out[-1]]
    reason = f"{what}{by} in {len(out)} of {len(body.lines)} rows, the first in line {first}{remedy}"
    return (Finding(check="columns_disagree", severity="caution", reason=reason, rows=(first, last)),)


def _product(body: Body, names: Sequence[str]) -> FloatArray | float:
    """Return the product of columns, 1 where there is none."""
    product: FloatArray | float = 1.0
    for name in names:
        product = product * body.values[name]
    return product


def _odd_rows(body: Body, columns: Sequence[Column], parts: tuple[str, ...], whole: str, factor: float) -> list[int]:
    """Return the rows in which factor times the parts is not the whole."""
    stress = body.values[whole]
    with np.errstate(all="ignore"):
        product = factor * _product(body, parts)
        larger, smaller = np.maximum(np.abs(product), np.abs(stress)), np.minimum(np.abs(product), np.abs(stress))
        suspect = np.abs(product - stress) > AGREEMENT * larger  # never where one of them is missing
    if not suspect.any():
        return []
    if len(parts) > 1:  # at rest, some programs print a viscosity of zero where there is none
        suspect &= np.any([body.values[name] != 0.0 for name in parts], axis=0)
    half = {name: _half_last_digit(body.written[name], columns, name) for name in (*parts, whole)}
    with np.errstate(all="ignore"):
        # Relative errors of the digits add up; where a number is printed as zero, its digit counts by what it is multiplied with.
        excused = AGREEMENT * larger + np.where(stress == 0.0, half[whole], smaller * half[whole] / np.abs(stress))
        for name in parts:
            rest = np.abs(factor * _product(body, [other for other in parts if other != name]))
            zero = body.values[name] == 0.0
            excused = excused + np.where(zero, rest * half[name], smaller * half[name] / np.abs(body.values[name]))
        return np.flatnonzero(suspect & (np.abs(product - stress) > excused)).tolist()


def _half_last_digit(cells: Sequence[str], columns: Sequence[Column], name: str) -> float:
    """Return half the worth of the finest digit in a column, in SI.

    Exact for a fixed number of decimals. With a fixed number of significant digits it is too small for large numbers, but those have
    digits enough for `AGREEMENT`.
    """
    unit = next(column.unit for column in columns if column.meaning == name)
    finest = min((worth for cell in cells if (worth := last_digit(cell)) == worth), default=0.0)  # NaN differs from itself
    return 0.5 * (finest if unit is None else unit.scale_to_si(finest))
