"""Faults that follow the course of a run: spikes, ringing, points not waited for, secondary flow, heat, lost points."""

from __future__ import annotations

from math import pi

import numpy as np

from .ink import FloatArray, Ink
from .instrument import ConePlate, Faults, stream
from .simulation import History


def disturbance(faults: Faults, history: History, instrument: ConePlate, seed: int) -> FloatArray:
    """Return by what these faults multiply the torque at each point; shape (N,)."""
    factor = np.ones_like(history.time)
    if faults.spike_share > 0.0:
        factor = factor * spiked(faults, history.time.size, seed)
    if faults.ringing_size > 0.0:
        factor = factor * ringing(faults, history.step_time)
    if faults.density > 0.0:
        factor = factor * (1.0 + 6e-4 * reynolds_number(faults, history, instrument) ** 2)
    factor = factor * unsettled(faults, history)
    warmth = faults.heating * history.stress * history.true_rate
    return np.asarray(factor * np.exp(-faults.fall_per_kelvin * warmth), dtype=np.float64)


def spiked(faults: Faults, count: int, seed: int) -> FloatArray:
    """Return 1 but for the points that a particle passes; shape (count,)."""
    hit = stream(seed, 5).random(count) < faults.spike_share
    return np.where(hit, 1.0 + faults.spike_size, 1.0)


def ringing(faults: Faults, step_time: FloatArray) -> FloatArray:
    """Return the swing of the torque after each step began; shape (N,)."""
    swing = np.exp(-step_time / faults.ringing_decay) * np.cos(2.0 * pi * step_time / faults.ringing_period)
    return np.asarray(1.0 + faults.ringing_size * swing, dtype=np.float64)


def unsettled(faults: Faults, history: History) -> FloatArray:
    """Return what a torque that lags behind a new rate shows, counted from the first point at that rate; shape (N,)."""
    if faults.lag_size == 0.0:
        return np.ones_like(history.time)
    since = np.zeros_like(history.time)
    for index in range(1, since.size):
        same = history.apparent_rate[index] == history.apparent_rate[index - 1] and history.step[index] == history.step[index - 1]
        since[index] = since[index - 1] + history.time[index] - history.time[index - 1] if same else 0.0
    return np.asarray(1.0 + faults.lag_size * np.exp(-since / faults.lag_time), dtype=np.float64)


def reynolds_number(faults: Faults, history: History, instrument: ConePlate) -> FloatArray:
    """Return `ρ Ω (R α)²/η` under the cone; shape (N,), 0 at rest."""
    rim = instrument.radius * instrument.angle
    top = faults.density * history.apparent_rate**2 * instrument.angle * rim**2
    return np.divide(top, history.stress, out=np.zeros_like(top), where=history.stress > 0.0)


def lost_points(faults: Faults, count: int, seed: int) -> FloatArray:
    """Return NaN for the points that the export lost, 1 for the others; shape (count,)."""
    return np.where(stream(seed, 6).random(count) < faults.lost_share, np.nan, 1.0)


def plate_excess(ink: Ink, rim_rate: FloatArray, *, rings: int = 2000) -> FloatArray:
    """Return the apparent over the true stress at the rim of parallel plates, the ink in equilibrium at every radius; shape (N,).

    The torque `2π ∫ r² τ(r) dr` by the midpoint rule over rings, held against `π R³ τ/2`.
    """
    place = (np.arange(rings) + 0.5) / rings
    inside = ink.equilibrium_stress(rim_rate[:, None] * place)
    return np.asarray(4.0 * np.mean(place**2 * inside, axis=1) / ink.equilibrium_stress(rim_rate), dtype=np.float64)
