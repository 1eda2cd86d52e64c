"""Hold the strain against shear rate times time: where a sample is sheared, one is the sum of the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import log10

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.run import Step
from rheokit.reading.columns import Column
from rheokit.reading.profile import middle
from rheokit.reading.single_rows import named

__all__ = ["check_strain"]

_NEEDED = ("shear_strain", "shear_rate", "time")
_OSCILLATION = ("storage_modulus", "loss_modulus", "complex_viscosity")
"""There the strain is an amplitude."""

_FEWEST = 4
"""Changes from row to row that tell (our choice)."""

_AGREES = 0.3
"""[1] In powers of ten, a factor of 2: the mean of two neighbouring rates is up to 1.5 times off what a staircase of two levels a decade
sheared between them."""

_POWER = 0.2
"""[1] In powers of ten, from a whole one: a factor of 1.6; minutes for seconds (60) are 0.22 from a hundred."""


def check_strain(steps: Sequence[Step], columns: Sequence[Column]) -> tuple[Finding, ...]:
    """Return a caution where the changes of strain are not shear rate times the changes of time, by a factor that most rows share."""
    if any(column not in steps[0].columns for column in _NEEDED) or any(name in steps[0].columns for name in _OSCILLATION):
        return ()
    if not {"shear_strain", "shear_rate", "time"} <= {column.meaning for column in columns}:
        return ()
    with np.errstate(all="ignore"):
        ratios = np.concatenate([_ratios(step.columns) for step in steps])
    ratios = ratios[np.isfinite(ratios) & (ratios > 0.0)]
    if ratios.size < _FEWEST:
        return ()
    ratio = middle(ratios)
    power = log10(ratio)
    if abs(power) <= _AGREES or np.count_nonzero(np.abs(np.log10(ratios) - power) <= _AGREES) < 0.75 * ratios.size:
        return ()
    strain, rate, time = (named(columns, name) for name in _NEEDED)
    whole = round(power)
    factor = f"{ratio:.3g}" if abs(power - whole) > _POWER else f"{10**whole:,}" if whole > 0 else f"1/{10**-whole:,}"
    reason = (
        f"{strain} changes by {factor} times {rate} times {time}: one of the columns is in another unit than its heading says "
        "(per cent shown by a spreadsheet are parts of one); find out which, and correct the heading or name the unit in a layout file"
    )
    return (Finding(check="unit_mix_up", severity="caution", reason=reason, value=ratio, limit=1.0, unit="1"),)


def _ratios(columns: Mapping[str, FloatArray]) -> FloatArray:
    """Return the change of strain over the mean rate times the change of time, of each two neighbouring rows."""
    strain, rate, time = (columns[name] for name in _NEEDED)
    return np.abs(np.diff(strain) / (0.5 * (rate[1:] + rate[:-1]) * np.diff(time)))
