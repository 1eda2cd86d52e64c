"""The fall from one viscosity plateau to another, in forms that neither overflow nor lose digits, for real and complex arrays."""

from __future__ import annotations

import numpy as np

from rheokit.law import Array

__all__ = ["bend", "half_viscosity_rate", "log_product", "logistic"]

# Stands for the logarithm of zero: far below any product of rate and time, and finite times any exponent.
_LOG_ZERO = -690.0


def log_product(time_constant: Array | complex, rate: Array) -> Array:
    """Return the logarithm of time constant times rate, a large negative number where that is zero."""
    product = np.asarray(time_constant * rate)
    zero = product == 0.0
    if not zero.any():
        return np.asarray(np.log(product))
    return np.where(zero, _LOG_ZERO, np.log(np.where(zero, 1.0, product)))


def logistic(exponent: Array) -> Array:
    """Return 1 / (1 + exp(-exponent))."""
    rising = exponent.real < 0.0
    small = np.exp(np.where(rising, exponent, -exponent))
    return np.asarray(np.where(rising, small, 1.0) / (1.0 + small))


def bend(log_rate: Array, transition_index: Array | complex) -> Array:
    """Return log(1 + exp(a · log_rate)) / a: 0 far below the transition, log_rate far above it."""
    above = log_rate.real > 0.0
    beyond = np.where(above, log_rate, -log_rate)
    small = np.exp(-transition_index * beyond)
    # log1p(x) = 2 artanh(x / (2 + x)): numpy's complex log1p loses digits at small x, this one does not.
    return np.asarray(np.where(above, log_rate, 0.0) + 2.0 * np.arctanh(small / (2.0 + small)) / transition_index)


def half_viscosity_rate(rate: Array, stress: Array) -> float:
    """Return the rate at which the viscosity passes the geometric mean of its extremes: a first guess of where thinning sets in."""
    order = np.argsort(rate)
    viscosity = stress[order] / rate[order]
    below = viscosity <= np.sqrt(viscosity.max() * viscosity.min())
    return float(rate[order][int(np.argmax(below))])
