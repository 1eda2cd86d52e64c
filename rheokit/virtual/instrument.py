"""The virtual instrument: cone and plate, its faults, and what it reports."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, pi

import numpy as np

from .ink import FloatArray


@dataclass(frozen=True, kw_only=True)
class ConePlate:
    """A cone over a plate.

    Parameters
    ----------
    radius : float
        [m]
    angle : float
        Between cone and plate [rad]; small, so that ``rate = angular velocity / angle``.

    References
    ----------
    ISO 3219-2 (geometries of rotational rheometers); the formulas follow from a uniform shear rate.
    """

    radius: float = 0.0125
    angle: float = 2.0 * pi / 180.0

    def __post_init__(self) -> None:
        if not (self.radius > 0.0 and self.angle > 0.0):
            raise ValueError(f"radius is {self.radius} m and angle {self.angle} rad; both must be above zero")

    @property
    def torque_per_stress(self) -> float:
        """Torque over shear stress, ``2 pi R^3 / 3`` [m³]."""
        return 2.0 * pi * self.radius**3 / 3.0

    @property
    def slip_gap(self) -> float:
        """Gap [m] at two thirds of the radius, which stands for the whole cone where walls slip.

        The slip part of the rate is larger near the tip; one gap for all is a simplification.
        """
        return 2.0 / 3.0 * self.radius * self.angle


@dataclass(frozen=True, kw_only=True)
class Faults:
    """What spoils a run; everything is off by default, and each switch leaves the others as they are.

    Parameters
    ----------
    load_factor_sd : float
        Relative standard deviation of the stress scale, one draw per load (trimming, gap, filling).
        2 % is the repeatability that good laboratories reach (common practice, no source).
    point_noise_sd : float
        Relative standard deviation of independent noise on every point; 0.5 to 1 % is usual on a gel
        (common practice, no source).
    correlated_noise_sd, correlated_noise_coefficient : float
        Relative standard deviation of noise that remembers, and what it keeps from one point to the
        next (first-order autoregression, stationary from the first point).
    torque_floor : float
        Standard deviation of absolute torque noise [N·m]; 2e-7 N·m is 0.05 Pa on a 12.5 mm cone, one
        part in a thousand of this ink's yield stress (invented).
    inertia : float
        Moment of inertia [kg·m²] whose ``I dOmega/dt`` the instrument books as torque of the ink during ramps.
    slip_coefficient : float
        Slip velocity per stress [m/(s·Pa)]: ``apparent rate = rate + 2 Vs/h`` with ``Vs = coefficient * stress``.
    edge_fracture_time : float or None
        From here on [s], counted from the start of the run, the sheared radius shrinks and stays small.
        0 with a spread of 0 is an underfilled gap.
    edge_fracture_radius_loss, edge_fracture_spread : float
        How much of the radius is lost in the end, and over what time [s]. Torque goes with the radius
        cubed: a loss of 0.09 lowers the stress by 25 %.
    drying_rate : float
        Relative rise of the stress per time [1/s].
    temperature_offset : float
        How much warmer the ink is than the sensor says [K].
    temperature_scatter : float
        Standard deviation of the sensor's reading [K]; the ink does not feel it.
    temperature_drift : float
        How fast the sensor's reading moves [K/s]; the ink does not feel it.
    spike_share, spike_size : float
        Part of the points that a particle passes, and the relative rise of their torque.
    ringing_size, ringing_period, ringing_decay : float
        Relative swing of the torque after each step began, the time of one swing [s] and over what time [s] it dies away.
    lag_size, lag_time : float
        How far, relative, the torque is off at the first point of a new rate, and over what time [s] it catches up.
    density : float
        Of the ink [kg/m³]; above 0 secondary flow under the cone adds torque, 1 + 6e-4 Re² (from memory).
    heating, fall_per_kelvin : float
        Warming of the ink per power that the shear puts into a volume [K/(W/m³)], and the relative fall of the stress [1/K].
    lost_share : float
        Part of the points that the export lost.

    Raises
    ------
    ValueError
        If a value is not finite, negative (except the temperature offset and drift, drying rate and lag), or a
        coefficient or radius loss is 1 or more.
    """

    load_factor_sd: float = 0.0
    point_noise_sd: float = 0.0
    correlated_noise_sd: float = 0.0
    correlated_noise_coefficient: float = 0.8
    torque_floor: float = 0.0
    inertia: float = 0.0
    slip_coefficient: float = 0.0
    edge_fracture_time: float | None = None
    edge_fracture_radius_loss: float = 0.09
    edge_fracture_spread: float = 20.0
    drying_rate: float = 0.0
    temperature_offset: float = 0.0
    temperature_scatter: float = 0.0
    temperature_drift: float = 0.0
    spike_share: float = 0.0
    spike_size: float = 0.2
    ringing_size: float = 0.0
    ringing_period: float = 6.0
    ringing_decay: float = 20.0
    lag_size: float = 0.0
    lag_time: float = 10.0
    density: float = 0.0
    heating: float = 0.0
    fall_per_kelvin: float = 0.07
    lost_share: float = 0.0

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if value is None:
                continue
            if not isfinite(value):
                raise ValueError(f"{name} is {value}; it must be finite")
            if value < 0.0 and name not in _EITHER_SIGN:
                raise ValueError(f"{name} is {value}; it must be zero or more")
        for name in ("correlated_noise_coefficient", "edge_fracture_radius_loss"):
            if getattr(self, name) >= 1.0:
                raise ValueError(f"{name} is {getattr(self, name)}; it must be below 1")


_EITHER_SIGN = ("temperature_offset", "temperature_drift", "drying_rate", "lag_size")


def sheared_radius(faults: Faults, time: FloatArray) -> FloatArray:
    """Radius that is still filled, over the full radius, at each time [s]; shape (N,)."""
    if faults.edge_fracture_time is None:
        return np.ones_like(time)
    since = time - faults.edge_fracture_time
    if faults.edge_fracture_spread == 0.0:
        grown = np.where(since >= 0.0, 1.0, 0.0)
    else:
        grown = np.clip(since / faults.edge_fracture_spread, 0.0, 1.0)
    return np.asarray(1.0 - faults.edge_fracture_radius_loss * grown, dtype=np.float64)


def load_factor(faults: Faults, seed: int) -> float:
    """Stress scale of one load; drawn once from the seed, 1 when the fault is off."""
    return 1.0 + faults.load_factor_sd * float(stream(seed, 0).standard_normal())


def relative_noise(faults: Faults, count: int, seed: int) -> FloatArray:
    """Relative noise of each point, independent and correlated together; shape (count,)."""
    independent = faults.point_noise_sd * stream(seed, 1).standard_normal(count)
    return np.asarray(independent + _correlated(faults, stream(seed, 2).standard_normal(count)), dtype=np.float64)


def _correlated(faults: Faults, draws: FloatArray) -> FloatArray:
    """First-order autoregression with the stated standard deviation at every point."""
    if faults.correlated_noise_sd == 0.0:
        return np.zeros_like(draws)
    kept = faults.correlated_noise_coefficient
    series = np.empty_like(draws)
    previous = 0.0
    for index, draw in enumerate(draws):
        share = 1.0 if index == 0 else np.sqrt(1.0 - kept**2)
        previous = kept * previous + share * draw
        series[index] = previous
    return faults.correlated_noise_sd * series


def torque_noise(faults: Faults, count: int, seed: int) -> FloatArray:
    """Absolute torque noise [N·m]; shape (count,)."""
    return np.asarray(faults.torque_floor * stream(seed, 3).standard_normal(count), dtype=np.float64)


def sensor_noise(faults: Faults, count: int, seed: int) -> FloatArray:
    """Scatter of the temperature reading [K]; shape (count,)."""
    return np.asarray(faults.temperature_scatter * stream(seed, 4).standard_normal(count), dtype=np.float64)


def stream(seed: int, number: int) -> np.random.Generator:
    """Random numbers of one fault: each has a stream of its own, so switching one leaves the others alone."""
    return np.random.default_rng((seed, number))
