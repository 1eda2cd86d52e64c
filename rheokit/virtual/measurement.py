"""One run of the virtual rheometer: an ink, a protocol, an instrument, its faults and a seed."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from .disturbance import disturbance, lost_points
from .ink import FloatArray, Ink
from .instrument import ConePlate, Faults, load_factor, relative_noise, sensor_noise, sheared_radius, torque_noise
from .protocol import Protocol
from .simulation import History, simulate

LABORATORY_TEMPERATURE = 296.15
"""23 °C [K], the set temperature of every method of the demo scenario."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Measurement:
    """What the instrument reports: read-only arrays of shape (N,), SI.

    ``step`` (from 1), ``time`` and ``step_time`` [s], ``shear_rate`` (apparent) [1/s], ``shear_stress``
    [Pa], ``viscosity`` [Pa·s] (NaN at a rate of 0), ``torque`` [N·m], ``angular_velocity`` [rad/s],
    ``temperature`` of the sensor [K].
    """

    step: FloatArray
    time: FloatArray
    step_time: FloatArray
    shear_rate: FloatArray
    shear_stress: FloatArray
    viscosity: FloatArray
    torque: FloatArray
    angular_velocity: FloatArray
    temperature: FloatArray

    def __post_init__(self) -> None:
        for field in fields(self):
            values = np.array(getattr(self, field.name), dtype=np.float64)
            values.flags.writeable = False
            object.__setattr__(self, field.name, values)

    def rows(self, step: int) -> slice:
        """Rows of one step, as a slice.

        Raises
        ------
        ValueError
            If the run has no such step.
        """
        found = np.flatnonzero(self.step == step)
        if found.size == 0:
            raise ValueError(f"step {step} is not in this run; it has {sorted({int(number) for number in self.step})}")
        return slice(int(found[0]), int(found[-1]) + 1)


def measure(
    ink: Ink,
    protocol: Protocol,
    instrument: ConePlate,
    faults: Faults,
    seed: int,
    *,
    set_temperature: float = LABORATORY_TEMPERATURE,
    history: History | None = None,
) -> Measurement:
    """Measure an ink; the same arguments give the same numbers.

    Parameters
    ----------
    ink : Ink
        Its values at its own reference temperature; it is brought to the temperature of the run.
    protocol : Protocol
        What the drive does.
    instrument : ConePlate
        Geometry between torque and stress, speed and rate.
    faults : Faults
        ``Faults()`` is a perfect instrument.
    seed : int
        Zero or more; one seed is one load.
    set_temperature : float
        [K]
    history : History or None
        What `simulate` gave for the same ink, protocol, temperature and slip: it saves integrating it once more.

    Returns
    -------
    Measurement

    Raises
    ------
    ValueError
        If the seed is negative or the temperature is not above zero.
    """
    if history is None:
        slip = 2.0 * faults.slip_coefficient / instrument.slip_gap
        history = simulate(ink.at_temperature(set_temperature + faults.temperature_offset), protocol, slip=slip)
    torque = _torque(history, instrument, faults, seed) * lost_points(faults, history.time.size, seed)
    stress = torque / instrument.torque_per_stress
    rate = history.apparent_rate
    viscosity = np.divide(stress, rate, out=np.full_like(stress, np.nan), where=rate > 0.0)
    return Measurement(
        step=history.step,
        time=history.time,
        step_time=history.step_time,
        shear_rate=rate,
        shear_stress=stress,
        viscosity=viscosity,
        torque=torque,
        angular_velocity=rate * instrument.angle,
        temperature=set_temperature + faults.temperature_drift * history.time + sensor_noise(faults, rate.size, seed),
    )


def _torque(history: History, instrument: ConePlate, faults: Faults, seed: int) -> FloatArray:
    """Torque [N·m] that the instrument books for the ink."""
    count = history.time.size
    scale = load_factor(faults, seed) * sheared_radius(faults, history.time) ** 3
    scale = scale * (1.0 + faults.drying_rate * history.time) * (1.0 + relative_noise(faults, count, seed))
    own = instrument.torque_per_stress * history.stress * scale * disturbance(faults, history, instrument, seed)
    acceleration = history.rate_change * instrument.angle
    return np.asarray(own + faults.inertia * acceleration + torque_noise(faults, count, seed), dtype=np.float64)
