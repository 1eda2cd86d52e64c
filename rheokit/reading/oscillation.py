"""Oscillating steps: sweeps of strain or frequency, or small and large oscillation at one of each."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.reading.profile import direction, middle, spread
from rheokit.reading.shape import Shape, not_told, told

__all__ = ["is_oscillation", "oscillation_shape"]

_MODULI = ("storage_modulus", "loss_modulus", "complex_viscosity")
_FREQUENCIES = ("angular_frequency", "frequency")

STRAIN_RATIO, FREQUENCY_RATIO = 10.0, 3.0
"""Least ratio of the ends of a sweep: usual sweeps cover three decades of strain and two of frequency (common practice, no source)."""

HELD_SPREAD = 0.3
"""Spread over level of an amplitude or frequency that is held: a strain that is set by way of the stress wanders by some per cent."""


def is_oscillation(columns: Mapping[str, FloatArray]) -> bool:
    """Tell whether a step oscillates: its rows hold moduli."""
    return any(name in columns and bool(np.isfinite(columns[name]).any()) for name in _MODULI)


def oscillation_shape(columns: Mapping[str, FloatArray]) -> Shape:
    """Return what an oscillating step is by itself."""
    strain = _known(columns, "shear_strain")
    frequency = next((values for name in _FREQUENCIES if (values := _known(columns, name)).size), np.empty(0))
    swept_strain, swept_frequency = _swept(strain, STRAIN_RATIO), _swept(frequency, FREQUENCY_RATIO)
    if swept_strain and swept_frequency:
        return not_told("strain and frequency are both swept")
    if swept_strain:
        return Shape(form="other", kind="amplitude_sweep", controlled="strain", findings=_unknown(frequency, "frequency"))
    if swept_frequency:
        return Shape(form="other", kind="frequency_sweep", controlled="strain", findings=_unknown(strain, "strain"))
    for name, values in (("strain", strain), ("frequency", frequency)):
        if values.size and spread(values) > HELD_SPREAD:
            return not_told(f"the {name} of the oscillation neither holds nor is swept from end to end over a wide range")
    said = (*_unknown(strain, "strain"), *_unknown(frequency, "frequency"))
    return Shape(form="oscillation", controlled="strain", strain=middle(strain) if strain.size else 0.0, findings=said)


def _known(columns: Mapping[str, FloatArray], name: str) -> FloatArray:
    values = columns.get(name, np.empty(0))
    return values[np.isfinite(values)]


def _swept(values: FloatArray, least: float) -> bool:
    if values.size < 3 or not values.min() > 0.0:
        return False
    return bool(values.max() >= least * values.min()) and direction(np.log(values)) != 0


def _unknown(values: FloatArray, name: str) -> tuple[Finding, ...]:
    return () if values.size else told(f"the {name} of the oscillation was not exported; it is taken as held", "caution")
