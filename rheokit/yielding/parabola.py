"""The top of a hump: a parabola, or a cubic where the hump leans, through the points around it, with the error of its height and place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray

__all__ = ["Top", "top_of"]

_LEAST_BESIDE = 2
_ROUNDS = 20

Where = Literal["inside", "start", "end", "flat"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Top:
    """The top of a hump.

    Attributes
    ----------
    place, height
        Where the curve through the points is highest, in the units of x and y.
    place_error, height_error
        Their standard errors by the scatter of the points about the curve.
    degrees_of_freedom
        Points less coefficients.
    scatter
        Standard deviation of a point about the curve.
    at, curve
        Where the curve was fitted, and its values there, (M,).
    where
        `inside`; or `start` or `end`, where the top lies at or beyond the first or last points; or `flat`, where there is none.
    """

    place: float
    height: float
    place_error: float
    height_error: float
    degrees_of_freedom: int
    scatter: float
    at: FloatArray
    curve: FloatArray
    where: Where


def top_of(x: FloatArray, y: FloatArray, reach: float, degree: Literal[2, 3] = 2) -> Top:
    """Return the top of a hump of points (N,), sorted by x.

    The curve goes through the points within `reach` of its top; it is fitted first around the highest point and again around the top
    found until the points no longer change. Three points more than the degree are taken, the nearest where fewer lie within reach.
    """
    centre = float(x[np.argmax(y)])
    inside = np.zeros(x.size, dtype=bool)
    found: tuple[float, FloatArray, float] | None = None
    for _ in range(_ROUNDS):
        chosen = _around(x, centre, max(reach, float(np.sort(np.abs(x - centre))[min(degree + 3, x.size) - 1])))
        if (chosen == inside).all():
            break
        inside = chosen
        middle = float(x[inside].mean())
        coefficients: FloatArray = np.asarray(
            np.linalg.lstsq(np.vander(x[inside] - middle, degree + 1, increasing=True), y[inside], rcond=None)[0], dtype=np.float64
        )
        place = _highest(coefficients)
        if place is None:
            return _no_top(x, y, inside, _scatter(x[inside] - middle, y[inside], coefficients))
        found = place, coefficients, middle
        centre = float(np.clip(middle + place, x[0], x[-1]))
    return _no_top(x, y, inside, 0.0) if found is None else _judged(x, y, inside, found)


def _around(x: FloatArray, centre: float, reach: float) -> NDArray[np.bool_]:
    return np.asarray(np.abs(x - centre) <= reach * (1.0 + 1e-12))


def _highest(coefficients: FloatArray) -> float | None:
    """Return the maximum of a polynomial of degree two or three, or None."""
    first, second = float(coefficients[1]), 2.0 * float(coefficients[2])
    third = 3.0 * float(coefficients[3]) if coefficients.size > 3 else 0.0
    if abs(third) < 1e-12 * max(abs(second), 1e-300):
        return -first / second if second < 0.0 else None
    inner = second**2 - 4.0 * third * first
    # Of the two zeros of the slope, that where the slope falls: 2 third x + second = -√inner.
    return None if inner <= 0.0 else (-second - inner**0.5) / (2.0 * third)


def _scatter(x: FloatArray, y: FloatArray, coefficients: FloatArray) -> float:
    """Return the standard deviation of points about a polynomial; 0 where there are no more points than coefficients."""
    rest, freedom = y - np.vander(x, coefficients.size, increasing=True) @ coefficients, x.size - coefficients.size
    return (float(rest @ rest) / freedom) ** 0.5 if freedom > 0 else 0.0


def _no_top(x: FloatArray, y: FloatArray, inside: NDArray[np.bool_], scatter: float) -> Top:
    """Return where the highest point lies of points that no curve with a top follows; they scatter about the curve all the same."""
    highest = float(x[np.argmax(y)])
    where: Where = "start" if highest <= x[_LEAST_BESIDE - 1] else "end" if highest >= x[-_LEAST_BESIDE] else "flat"
    return Top(
        place=highest, height=float(y.max()), place_error=0.0, height_error=0.0, degrees_of_freedom=0, scatter=scatter, at=x[inside],
        curve=y[inside], where=where,
    )  # fmt: skip


def _judged(x: FloatArray, y: FloatArray, inside: NDArray[np.bool_], found: tuple[float, FloatArray, float]) -> Top:
    """Return the top with its errors, and where it lies."""
    place, coefficients, middle = found
    powers = np.arange(coefficients.size)
    design = np.vander(x[inside] - middle, coefficients.size, increasing=True)
    fitted = design @ coefficients
    freedom = int(inside.sum()) - coefficients.size
    rest = y[inside] - fitted
    variance = float(rest @ rest) / freedom if freedom > 0 else 0.0
    covariance = variance * np.linalg.pinv(design.T @ design)
    by_height = place ** powers.astype(np.float64)
    slopes = powers[1:] * place ** (powers[1:] - 1.0)
    bend = float((powers[2:] * (powers[2:] - 1) * place ** (powers[2:] - 2.0)) @ coefficients[2:])
    by_place = np.concatenate([[0.0], -slopes / bend])
    before, after = int((x < middle + place).sum()), int((x > middle + place).sum())
    return Top(
        place=middle + place,
        height=float(by_height @ coefficients),
        place_error=float(by_place @ covariance @ by_place) ** 0.5,
        height_error=float(by_height @ covariance @ by_height) ** 0.5,
        degrees_of_freedom=freedom,
        scatter=variance**0.5,
        at=x[inside],
        curve=fitted,
        where="start" if before < _LEAST_BESIDE else "end" if after < _LEAST_BESIDE else "inside",
    )
