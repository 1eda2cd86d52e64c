"""Exponential breakdown: what is left to break falls by the same share in equal times, to a plateau.

Exact at a constant rate for a structure that breaks in proportion to what is left and rebuilds at a rate of its own (Moore, Houska) where
the stress is linear in the structure; an ink with several structures bends otherwise.
"""

from __future__ import annotations

import math

import numpy as np

from rheokit.law import Array, Law
from rheokit.models.rate import columns
from rheokit.thixotropy.breakdown.parameters import BREAKDOWN_TIME, PLATEAU_STRESS, STRESS_DROP

__all__ = ["EXPONENTIAL_BREAKDOWN"]


def stress(time: Array, plateau_stress: Array | complex, stress_drop: Array | complex, breakdown_time: Array | complex) -> Array:
    """Return the shear stress [Pa] at times [s] since the hold began."""
    return np.asarray(plateau_stress + stress_drop * np.exp(-time / breakdown_time))


def jacobian(time: Array, plateau_stress: Array | float, stress_drop: Array | float, breakdown_time: Array | float) -> Array:
    """Return the derivatives by the parameters."""
    passed = np.asarray(time / breakdown_time)
    left = np.exp(-passed)
    return columns(np.ones(np.shape(left)) + 0.0 * np.asarray(plateau_stress), left, stress_drop * left * passed / breakdown_time)


def basis(time: Array, breakdown_time: Array | float) -> Array:
    """Return what plateau and drop multiply."""
    left = np.exp(-np.asarray(time / breakdown_time))
    return columns(np.ones(np.shape(left)), left)


def guess(time: Array, stresses: Array) -> dict[str, float]:
    """Return the last stress, what the first has more, and the time at which half of that is gone."""
    order = np.argsort(time, kind="stable")
    times, values = time[order], stresses[order]
    few = max(1, times.size // 20)
    first, last = float(np.median(values[:few])), float(np.median(values[-few:]))
    gone = np.abs(values - first) >= 0.5 * abs(first - last)
    half = float(times[int(np.argmax(gone))])
    return {"plateau_stress": max(last, 0.0), "stress_drop": first - last, "breakdown_time": max(half, float(times[0])) / math.log(2.0)}


EXPONENTIAL_BREAKDOWN = Law(
    name="exponential_breakdown",
    formula=r"\tau = \tau_\infty + \Delta\tau\, e^{-t/t_b}",
    parameters=(PLATEAU_STRESS, STRESS_DROP, BREAKDOWN_TIME),
    value=stress,
    jacobian=jacobian,
    guess=guess,
    linear=("plateau_stress", "stress_drop"),
    basis=basis,
    broadcasts=True,
    source="first-order kinetics at a constant rate: Moore, Trans. Br. Ceram. Soc. 58 (1959) 470 (from memory)",
)
