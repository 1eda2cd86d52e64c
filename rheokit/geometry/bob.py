"""True shear rate at the inner of two concentric cylinders: where all of the gap is sheared, and where only a part is."""

from __future__ import annotations

from collections.abc import Mapping
from math import pi

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import GeometryError
from rheokit.geometry.concentric_cylinders import ConcentricCylinders
from rheokit.geometry.corrected_flow import CorrectedFlow
from rheokit.geometry.sensitivity import relative_uncertainty
from rheokit.geometry.slopes import SlopeRule, logarithms, slope_weights

__all__ = ["bob_flow", "krieger_correction", "plug_radius"]


def krieger_correction(x: ArrayLike) -> FloatArray:
    """Return g(x) = x (eˣ (x - 2) + x + 2) / (2 (eˣ - 1)²), the weight of the curvature of ln Ω over ln M.

    Its greatest value is 0.1061 at x = 2.606; for small x it is x²/12 to leading order and is summed as a series. x is zero or more, (N,).

    References
    ----------
    Krieger's correction as in Steffe, Rheological Methods in Food Process Engineering, 2nd ed. (1996), p. 167.
    """
    values = np.atleast_1d(np.asarray(x, dtype=np.float64))
    small = np.abs(values) < 0.3
    safe = np.where(small, 1.0, values)
    # e^-x throughout, so that a large x does not overflow.
    shrunk = np.exp(-np.abs(safe))
    far = safe * ((safe - 2.0) * shrunk + (safe + 2.0) * shrunk**2) / (2.0 * (1.0 - shrunk) ** 2)
    # Below it the sum (x - 2) e^x + x + 2 = Σ (k - 2) x^k / k!, k = 3, 4, … is free of cancellation.
    near = np.zeros_like(values)
    term = values**2 / 2.0
    for power in range(3, 16):
        term = term * values / power
        near += (power - 2.0) * term
    with np.errstate(divide="ignore", invalid="ignore"):
        close = np.where(values == 0.0, 0.0, values * near / (2.0 * np.expm1(np.minimum(values, 1.0)) ** 2))
    return np.where(small, close, far)


def bob_flow(
    torque: ArrayLike,
    angular_velocity: ArrayLike,
    cylinders: ConcentricCylinders,
    *,
    slope: SlopeRule = "local",
    yield_stress: float = 0.0,
    torque_error: float = 0.0,
    dimension_errors: Mapping[str, float] | None = None,
) -> CorrectedFlow:
    """Return stress and true shear rate at the inner cylinder, whatever the flow law.

    Parameters
    ----------
    torque
        [N·m], (N,), positive.
    angular_velocity
        [rad/s], (N,), rising or falling.
    cylinders
        The two cylinders.
    slope
        Rule for N = d ln Ω/d ln M; with `local` its own slope N' is used too.
    yield_stress
        [Pa]; where the stress at the outer cylinder lies below it, the ink there stands still and the rate is `2 Ω N`, exactly.
    torque_error
        Relative standard deviation of one torque reading [1].
    dimension_errors
        Dimension to relative standard uncertainty [1]; common to all points.

    Returns
    -------
    CorrectedFlow
        All sheared: `2 N Ω/(1 - δ^-2N) (1 + N'/N² g(2 N ln δ))` with δ the outer over the inner radius; else `2 N Ω`.

    Raises
    ------
    GeometryError
        When a reading is not positive, there are fewer than three, columns differ in length, or speed does not rise with torque.

    References
    ----------
    Krieger, Trans. Soc. Rheol. 12 (1968) 5 (from memory); Steffe, 2nd ed. (1996), p. 167; the partly sheared gap by differentiating
    Ω = ½ ∫ rate(stress)/stress d stress from the yield stress to the stress at the inner cylinder.
    """
    moment, speed = read_only(torque, "torque"), read_only(angular_velocity, "angular_velocity")
    if moment.size != speed.size:
        raise GeometryError(f"columns of unequal length: torque {moment.size}, angular velocity {speed.size}")
    weights = slope_weights(logarithms("torque", moment), slope)
    slopes = weights @ logarithms("angular velocity", speed)
    if not np.all(slopes > 0.0):
        raise GeometryError("the speed does not rise with the torque everywhere; average or leave out points, or take the global slope")
    curvature = weights @ slopes
    at_bob = moment / (2.0 * pi * cylinders.length * cylinders.inner_radius**2 * cylinders.end_factor)
    partly = at_bob / cylinders.ratio**2 < yield_stress
    through = 2.0 * slopes * np.log(cylinders.ratio)
    whole = -1.0 / np.expm1(-through) * (1.0 + curvature / slopes**2 * krieger_correction(through))
    rate = 2.0 * slopes * speed * np.where(partly, 1.0, whole)
    # An error s of ln M acts as -N s of ln Ω, so as -W s of ln N; d ln rate/d ln N is what a narrow gap leaves of it; at a stated
    # rate it counts with the flow index, 1/N.
    left = np.where(partly, 1.0, 1.0 - through / np.expm1(through)) / slopes
    by_readings = torque_error * np.sqrt(((weights * left[:, None] + np.eye(moment.size)) ** 2).sum(axis=1))
    powers = cylinders.powers
    common = np.array([relative_uncertainty(powers, dimension_errors or {}, float(1.0 / index)) for index in slopes])
    said = f"; {int(partly.sum())} of {moment.size} points partly sheared" if partly.any() else ""
    return CorrectedFlow(
        shear_rate=rate,
        shear_stress=at_bob,
        apparent_rate=cylinders.shear_rate(speed),
        apparent_stress=cylinders.shear_stress(moment),
        slope=slopes,
        relative_standard_error=np.hypot(by_readings, common),
        method=f"concentric cylinders, rate at the inner cylinder by the {slope} slope of speed{said}",
    )


def plug_radius(torque: ArrayLike, yield_stress: float, cylinders: ConcentricCylinders) -> FloatArray:
    """Return the radius [m] beyond which the ink stands still at a torque [N·m], no larger than the outer cylinder; (N,).

    Raises
    ------
    GeometryError
        When the yield stress is not positive.
    """
    if not yield_stress > 0.0:
        raise GeometryError(f"the yield stress is {yield_stress:.4g} Pa; a plug needs one above zero")
    moment = np.atleast_1d(np.asarray(torque, dtype=np.float64))
    radius = np.sqrt(moment / (2.0 * pi * cylinders.length * cylinders.end_factor * yield_stress))
    return np.asarray(np.clip(radius, cylinders.inner_radius, cylinders.outer_radius))
