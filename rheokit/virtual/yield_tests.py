"""Runs of the yield tests as the instrument reports them: stress ramp, creep, amplitude sweep, start-ups after rests.

Each has faults of its own and a seed; ``Reading()`` is a perfect instrument.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from .ink import FloatArray, Ink
from .oscillation import Gel
from .protocol import Protocol, constant, evenly
from .shape import Column, Shape
from .stress_control import StressHistory, StressSegment, rested_structure, simulate_stress


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What spoils a yield test; everything is off by default.

    Parameters
    ----------
    noise_sd : float
        Relative standard deviation of independent noise on every measured value of a point (rate and strain under stress, moduli in
        oscillation); 0.5 to 2 % is usual (common practice, no source).
    rate_floor : float
        Standard deviation of absolute noise on a rate [1/s]: the encoder near standstill.
    strain_floor : float
        Standard deviation of absolute noise on a strain under stress, without unit.
    slip_rate : float
        Apparent rate per stress that wall slip adds under stress [1/(s·Pa)].
    lost_after : float
        Part of the points, from the end, that are missing: a test that was stopped.

    Raises
    ------
    ValueError
        If a value is negative or not finite, or nothing is left.
    """

    noise_sd: float = 0.0
    rate_floor: float = 0.0
    strain_floor: float = 0.0
    slip_rate: float = 0.0
    lost_after: float = 0.0

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if not (value >= 0.0 and isfinite(value)):
                raise ValueError(f"{name} is {value}; it must be zero or more and finite")
        if not self.lost_after < 1.0:
            raise ValueError(f"lost_after is {self.lost_after}; it must be below 1")


@dataclass(frozen=True, kw_only=True, eq=False)
class YieldMeasurement:
    """What the instrument reports of a yield test: read-only arrays of shape (N,), SI; NaN where a test has no such quantity.

    ``step`` (from 1), ``time`` and ``step_time`` [s], ``shear_rate`` [1/s], ``shear_strain``, ``shear_stress`` [Pa],
    ``angular_frequency`` [rad/s], ``storage_modulus`` and ``loss_modulus`` [Pa], ``temperature`` [K].
    """

    step: FloatArray
    time: FloatArray
    step_time: FloatArray
    shear_rate: FloatArray
    shear_strain: FloatArray
    shear_stress: FloatArray
    angular_frequency: FloatArray
    storage_modulus: FloatArray
    loss_modulus: FloatArray
    temperature: FloatArray

    def __post_init__(self) -> None:
        for field in fields(self):
            values = np.array(getattr(self, field.name), dtype=np.float64)
            values.flags.writeable = False
            object.__setattr__(self, field.name, values)


def measure_under_stress(
    ink: Ink, segments: Sequence[StressSegment], reading: Reading, seed: int, *, rest: float = 300.0, history: StressHistory | None = None
) -> YieldMeasurement:
    """Measure steps of stress on a sample sheared at 100 1/s and rested [s]; a history given saves integrating it again."""
    if history is None:
        history = simulate_stress(ink, segments, structure=rested_structure(ink, rest))
    random = np.random.default_rng((seed, 11))
    slipped = reading.slip_rate * history.stress
    rate = _noisy(history.rate + slipped, reading.noise_sd, reading.rate_floor, random)
    strain = _noisy(history.strain + slipped * history.step_time, reading.noise_sd, reading.strain_floor, random)
    kept = _kept(history.step, reading.lost_after)
    return _measurement(
        history.step[kept],
        history.time[kept],
        history.step_time[kept],
        shear_rate=rate[kept],
        shear_strain=strain[kept],
        shear_stress=history.stress[kept],
    )


def measure_amplitude_sweep(
    gel: Gel, reading: Reading, seed: int, *, strains: tuple[float, float] = (1e-4, 1.0), points: int = 41, seconds_per_point: float = 10.0
) -> YieldMeasurement:
    """Measure the moduli at rising strain amplitudes and 10 rad/s."""
    random = np.random.default_rng((seed, 12))
    strain = np.geomspace(*strains, points)
    storage, loss = (_noisy(modulus, reading.noise_sd, 0.0, random) for modulus in gel.moduli(strain))
    step, time = np.ones(points), seconds_per_point * np.arange(1.0, points + 1.0)
    kept = _kept(step, reading.lost_after)
    return _measurement(
        step[kept], time[kept], time[kept], shear_strain=strain[kept], shear_stress=(strain * np.hypot(storage, loss))[kept],
        angular_frequency=np.full(points, 10.0)[kept], storage_modulus=storage[kept], loss_modulus=loss[kept],
    )  # fmt: skip


def startup_series_protocol(*, rests: Sequence[float] = (10.0, 100.0, 1000.0), rate: float = 0.1, duration: float = 60.0) -> Protocol:
    """Conditioning at 100 1/s, rest and start-up at a low rate [1/s], once for each rest [s]."""
    segments = []
    for index, rest in enumerate(rests):
        segments += [
            constant(3 * index + 1, 100.0, 60.0, evenly(60.0, 20)),
            constant(3 * index + 2, 0.0, rest, evenly(rest, 5)),
            constant(3 * index + 3, rate, duration, tuple(float(time) for time in np.geomspace(duration / 200.0, duration, 120))),
        ]
    return Protocol(name="startup", segments=tuple(segments))


def _noisy(values: FloatArray, relative: float, floor: float, random: np.random.Generator) -> FloatArray:
    factors, added = random.standard_normal(values.size), random.standard_normal(values.size)
    return np.asarray(values * (1.0 + relative * factors) + floor * added, dtype=np.float64)


def _kept(step: FloatArray, lost: float) -> NDArray[np.bool_]:
    """Which points are there: of each step, all but the last part."""
    kept = np.zeros(step.size, dtype=bool)
    for number in np.unique(step):
        rows = np.flatnonzero(step == number)
        kept[rows[: max(1, round(rows.size * (1.0 - lost)))]] = True
    return kept


def _measurement(step: FloatArray, time: FloatArray, step_time: FloatArray, **known: FloatArray) -> YieldMeasurement:
    names = [field.name for field in fields(YieldMeasurement)][3:-1]
    absent = np.full(step.size, np.nan)
    columns = {name: known.get(name, absent) for name in names}
    return YieldMeasurement(step=step, time=time, step_time=step_time, temperature=np.full(step.size, 296.15), **columns)


_COMMON = (
    Column(quantity="step", heading="Step"),
    Column(quantity="time", heading="Time", unit="s"),
    Column(quantity="step_time", heading="Step time", unit="s"),
)
UNDER_STRESS = Shape(
    name="under stress",
    units="in header",
    digits=6,
    columns=(
        *_COMMON,
        Column(quantity="shear_stress", heading="Shear stress", unit="Pa"),
        Column(quantity="shear_rate", heading="Shear rate", unit="1/s"),
        Column(quantity="shear_strain", heading="Shear strain", unit="%"),
        Column(quantity="temperature", heading="Temperature", unit="°C"),
    ),
)
"""Stress ramp and creep, units in square brackets behind each heading."""

OSCILLATION = Shape(
    name="oscillation",
    units="own row",
    digits=6,
    columns=(
        *_COMMON,
        Column(quantity="shear_strain", heading="Shear strain", unit="%"),
        Column(quantity="shear_stress", heading="Shear stress", unit="Pa"),
        Column(quantity="angular_frequency", heading="Angular frequency", unit="rad/s"),
        Column(quantity="storage_modulus", heading="Storage modulus", unit="Pa"),
        Column(quantity="loss_modulus", heading="Loss modulus", unit="Pa"),
        Column(quantity="temperature", heading="Temperature", unit="°C"),
    ),
)
"""Amplitude sweep, headings in one row, units in the next."""
