"""Hold rate, stress and viscosity, torque and stress, speed and rate against each other, and derive what was not exported."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from math import log10

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding, Severity
from rheokit.base.run import Step
from rheokit.reading.absent import about_absent, about_relative
from rheokit.reading.body import Body
from rheokit.reading.columns import Column
from rheokit.reading.files import PathText
from rheokit.reading.geometries import GeometryFound
from rheokit.reading.profile import middle
from rheokit.reading.single_rows import AGREEMENT, check_product, check_proportion, named
from rheokit.reading.torque import require_a_rate, with_stress_and_rate

__all__ = ["check_units", "complete", "derive"]

_FEWEST_ROWS = 3
"""Of a step that is judged by itself: in one row or two, a number that was changed is likelier than another unit."""

_TRIO = ("shear_rate", "shear_stress", "viscosity")


def derive(
    body: Body, metadata: Mapping[str, str], found: GeometryFound, path: PathText
) -> tuple[dict[str, FloatArray], tuple[Finding, ...]]:
    """Return the columns with rate, stress and viscosity as far as they follow: from each other, else from speed and torque.

    Where tables hold different quantities, each is completed by itself.

    Raises
    ------
    ReadError
        When torque, speed or relative readings are all there is and no geometry turns them into a rate.
    """
    columns = body.columns
    full, said = _following(body.values, found) if len(body.tables) == 1 else _in_each_table(body, found)
    require_a_rate(full, columns, metadata, found, path)
    unused = () if found.geometry is not None or not found.problem else (_not_used(found),)
    return full, (*said, *unused, *about_absent(full, columns, found), *about_relative(columns, metadata, found))


def _following(values: Mapping[str, FloatArray], found: GeometryFound) -> tuple[dict[str, FloatArray], tuple[Finding, ...]]:
    full, first = complete(values)
    full, second = with_stress_and_rate(full, found)
    full, third = complete(full) if second else (full, ())
    return full, (*first, *second, *third)


def _in_each_table(body: Body, found: GeometryFound) -> tuple[dict[str, FloatArray], tuple[Finding, ...]]:
    stretches = list(pairwise((*body.tables, len(body.lines))))
    parts = [{name: column[begin:end] for name, column in body.values.items()} for begin, end in stretches]
    held = [{name: column for name, column in part.items() if not np.isnan(column).all()} for part in parts]
    if all(part.keys() == held[0].keys() for part in held):
        return _following(body.values, found)
    completed: list[dict[str, FloatArray]] = []
    said: list[Finding] = []
    for part, (begin, end) in zip(held, stretches, strict=True):
        full, findings = _following(part, found)
        first, last = body.lines[begin], body.lines[end - 1]
        where = f"lines {first} to {last}" if last > first else f"line {first}"
        said += (replace(one, reason=f"{where}: {one.reason}", rows=(first, last)) for one in findings)
        completed.append(full)
    sizes = [end - begin for begin, end in stretches]
    together = {
        name: np.concatenate([part.get(name, np.full(size, np.nan)) for part, size in zip(completed, sizes, strict=True)])
        for name in dict.fromkeys(name for part in completed for name in part)
    }
    return together, tuple(said)


def _not_used(found: GeometryFound) -> Finding:
    reason = f"the geometry in the preamble is not used: {found.problem}"
    return Finding(check="geometry", severity="info", reason=reason)


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


def check_units(body: Body, columns: Sequence[Column], found: GeometryFound, steps: Sequence[Step]) -> tuple[Finding, ...]:
    """Check that viscosity times rate is the stress, and torque and speed by the geometry are stress and rate, where exported.

    The median over the rows with all of them decides: a power of ten (within `AGREEMENT`) is a mix-up of units and makes the run
    invalid; any other disagreement of the median, or of single rows beyond their printed digits, is a caution. Torque and stress, speed
    and rate are in one proportion in every row, whatever the geometry. Where something disagrees, a mix-up in single steps is told by
    their own medians.
    """
    return (*_check_viscosity(body, columns, steps), *_check_geometry(body, columns, found))


def _check_viscosity(body: Body, columns: Sequence[Column], steps: Sequence[Step]) -> tuple[Finding, ...]:
    if any(name not in body.values for name in _TRIO):
        return ()
    rate, stress, viscosity = (body.values[name] for name in _TRIO)
    with np.errstate(all="ignore"):
        usable = (rate * stress > 0.0) & (viscosity > 0.0)  # both are negative where the rotation is reversed
        all_ratios = viscosity * rate / stress
        ratios = all_ratios if usable.all() else all_ratios[usable]
    product, whole = f"{named(columns, 'viscosity')} times {named(columns, 'shear_rate')}", named(columns, "shear_stress")
    remedy = "one of the three columns was changed or is of another measurement: export again"
    found = _disagreement(ratios, product, whole, remedy, severity="invalid")
    found = found or check_product(body, columns)
    return (_mixed_up_steps(np.where(usable, all_ratios, np.nan), steps, product, whole) if found else ()) or found


def _mixed_up_steps(ratios: FloatArray, steps: Sequence[Step], product: str, whole: str) -> tuple[Finding, ...]:
    """Return the mix-up of units in each step that has one by its own median; nothing where all steps have the same."""
    said: list[Finding] = []
    factors: set[float] = set()
    begin = 0
    for step in steps:
        here, begin = ratios[begin : begin + len(step)], begin + len(step)
        here = here[np.isfinite(here)]
        if here.size < _FEWEST_ROWS or step.rows is None:
            continue
        found = _disagreement(here, f"step {step.number} (lines {step.rows[0]} to {step.rows[1]}): {product}", whole, "")
        mixed = [replace(one, rows=step.rows) for one in found if one.check == "unit_mix_up"]
        said += mixed
        factors |= {round(log10(float(one.value or 1.0))) for one in mixed} if mixed else {0.0}
    return tuple(said) if len(factors) > 1 else ()


def _check_geometry(body: Body, columns: Sequence[Column], found: GeometryFound) -> tuple[Finding, ...]:
    geometry = found.geometry
    said: tuple[Finding, ...] = ()
    for name, whole in (("torque", "shear_stress"), ("angular_velocity", "shear_rate")):
        if name not in body.values or whole not in body.values:
            continue
        seen: tuple[Finding, ...] = ()
        if geometry is not None:
            factor = geometry.stress_per_torque if name == "torque" else geometry.rate_per_speed
            with np.errstate(all="ignore"):
                ratios = factor * body.values[name] / body.values[whole]
            product = f"{named(columns, name)} by {geometry}, written in {found.where},"
            remedy = f"the geometry may be another, or {named(columns, whole)} not the {geometry.source}"
            seen = _disagreement(ratios[ratios > 0.0], product, named(columns, whole), remedy)
        said += seen or check_proportion(body, columns, name, whole)
    return said


def _disagreement(ratios: FloatArray, product: str, whole: str, remedy: str, *, severity: Severity = "caution") -> tuple[Finding, ...]:
    """Return what the median of product over whole says: nothing, a mix-up of units, or another disagreement."""
    if not ratios.size:
        return ()
    ratio = middle(ratios)
    power = round(log10(ratio)) if 0.0 < ratio < np.inf else None
    if power is None or abs(ratio / 10.0**power - 1.0) > AGREEMENT:
        reason = f"{product} is not {whole} but {ratio:.4g} times it, on the median; {remedy}"
        return (Finding(check="columns_disagree", severity=severity, reason=reason, value=ratio, limit=1.0, unit="1"),)
    if power == 0:
        return ()
    factor = f"{10**power:,}" if power > 0 else f"1/{10**-power:,}"
    reason = (
        f"{product} is {factor} times {whole}: one of the columns is in another unit than its heading says; "
        "find out which, and correct the heading or name the unit in a layout file"
    )
    return (Finding(check="unit_mix_up", severity="invalid", reason=reason, value=ratio, limit=1.0, unit="1"),)
