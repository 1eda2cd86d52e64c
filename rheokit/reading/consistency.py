"""Hold shear rate, shear stress and viscosity against each other, and derive the one that was not exported."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import log10

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.reading.body import Body
from rheokit.reading.columns import Column
from rheokit.reading.numbers import last_digit, number_in

__all__ = ["AGREEMENT", "check_units", "complete"]

_TRIO = ("shear_rate", "shear_stress", "viscosity")

AGREEMENT = 0.02
"""Relative. Three printed digits leave at most 0.5 % in each of the three numbers, 1.5 % together; and an instrument that averages the
viscosity over a point does not print quite the ratio of its averages. A power of ten is far outside."""


def complete(values: Mapping[str, FloatArray]) -> tuple[dict[str, FloatArray], tuple[Finding, ...]]:
    """Return the columns with the third of rate, stress and viscosity, when exactly two were exported.

    Whole columns only; a row where one of the two is missing, or the divisor is zero, holds NaN.
    """
    full = dict(values)
    absent = [name for name in _TRIO if name not in values]
    if len(absent) != 1:
        return full, ()
    with np.errstate(all="ignore"):
        if absent == ["shear_stress"]:
            derived, how = full["viscosity"] * full["shear_rate"], "viscosity times shear rate"
        elif absent == ["viscosity"]:
            derived, how = full["shear_stress"] / full["shear_rate"], "shear stress over shear rate"
        else:
            derived, how = full["shear_stress"] / full["viscosity"], "shear stress over viscosity"
    full[absent[0]] = np.where(np.isfinite(derived), derived, np.nan)
    reason = f"{absent[0].replace('_', ' ')} was not exported; it is {how}"
    return full, (Finding(check="derived_column", severity="info", reason=reason),)


def check_units(body: Body, columns: Sequence[Column]) -> tuple[Finding, ...]:
    """Check that viscosity times rate is the stress, where all three were exported.

    The median over the rows with positive rate, stress and viscosity decides: a power of ten (within `AGREEMENT`) is a mix-up of
    units and makes the run invalid; any other disagreement of the median, or of single rows beyond their printed digits, is a caution.
    """
    if any(name not in body.values for name in _TRIO):
        return ()
    rate, stress, viscosity = (body.values[name] for name in _TRIO)
    usable = (rate > 0.0) & (stress > 0.0) & (viscosity > 0.0)
    if not usable.any():
        return ()
    with np.errstate(all="ignore"):
        ratios = viscosity[usable] * rate[usable] / stress[usable]
    ratio = float(np.median(ratios))
    if not 0.0 < ratio < np.inf:
        return (_disagreement(ratio, columns),)
    power = round(log10(ratio))
    if abs(ratio / 10.0**power - 1.0) > AGREEMENT:
        return (_disagreement(ratio, columns),)
    if power != 0:
        return (_mix_up(power, ratio, columns),)
    return _single_rows(body, columns, np.flatnonzero(usable)[np.abs(ratios - 1.0) > AGREEMENT])


def _named(columns: Sequence[Column], name: str) -> str:
    return next(repr(column.heading) for column in columns if column.meaning == name)


def _mix_up(power: int, ratio: float, columns: Sequence[Column]) -> Finding:
    factor = f"{10**power:,}" if power > 0 else f"1/{10**-power:,}"
    stress, viscosity, rate = (_named(columns, name) for name in ("shear_stress", "viscosity", "shear_rate"))
    reason = (
        f"{viscosity} times {rate} is {factor} times {stress}: one of the columns is in another unit than its heading says; "
        "find out which, and correct the heading or name the unit in a layout file"
    )
    return Finding(check="unit_mix_up", severity="invalid", reason=reason, value=ratio, limit=1.0, unit="1")


def _disagreement(ratio: float, columns: Sequence[Column]) -> Finding:
    stress, viscosity, rate = (_named(columns, name) for name in ("shear_stress", "viscosity", "shear_rate"))
    reason = f"{viscosity} times {rate} is not {stress} but {ratio:.4g} times it, on the median; ask how the instrument made them"
    return Finding(check="columns_disagree", severity="caution", reason=reason, value=ratio, limit=1.0, unit="1")


def _single_rows(body: Body, columns: Sequence[Column], suspects: np.ndarray[tuple[int], np.dtype[np.intp]]) -> tuple[Finding, ...]:
    """Say which rows disagree by more than the digits they are printed with can explain."""
    if suspects.size == 0:
        return ()
    half = {name: _half_last_digit(body.written[name]) for name in _TRIO}
    out = [index for index in suspects.tolist() if not _rounding_explains(body, index, half)]
    if not out:
        return ()
    first = body.lines[out[0]]
    reason = (
        f"{_named(columns, 'viscosity')} times {_named(columns, 'shear_rate')} differs from {_named(columns, 'shear_stress')} "
        f"by more than {AGREEMENT:.0%} in {len(out)} of {len(body.lines)} rows, the first in line {first}"
    )
    return (Finding(check="columns_disagree", severity="caution", reason=reason, rows=(first, body.lines[out[-1]])),)


def _half_last_digit(cells: Sequence[str]) -> float:
    """Return half the worth of the finest digit in a column.

    Exact for a fixed number of decimals. With a fixed number of significant digits it is too small for large numbers, but those have
    digits enough for `AGREEMENT`.
    """
    return 0.5 * min(worth for cell in cells if (worth := last_digit(cell)) == worth)  # NaN differs from itself


def _rounding_explains(body: Body, index: int, half: Mapping[str, float]) -> bool:
    # Relative errors add up for a product and a quotient.
    written = {name: abs(number_in(body.written[name][index]) or np.nan) for name in _TRIO}
    allowed = AGREEMENT + sum(half[name] / written[name] for name in _TRIO)
    rate, stress, viscosity = (float(body.values[name][index]) for name in _TRIO)
    return bool(abs(viscosity * rate / stress - 1.0) <= allowed)
