"""Request: data, law, bounds, fixed values and starts of one fit, checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError, printable
from rheokit.base.show import number
from rheokit.law import Law

__all__ = ["BoolArray", "Bounds", "Request", "as_columns", "request"]

Bounds = Mapping[str, tuple[float, float]]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class Request(Carried):
    """One fit, ready to be solved.

    Attributes
    ----------
    x, y
        Finite data, shapes (N, …) and (N,).
    lower, upper, fixed, start
        Shape (p,), in the order of the law; NaN where nothing is fixed or no start is given.
    """

    law: Law
    x: FloatArray
    y: FloatArray
    lower: FloatArray
    upper: FloatArray
    fixed: FloatArray
    start: FloatArray

    def __post_init__(self) -> None:
        for name in ("x", "y", "lower", "upper", "fixed", "start"):
            values = np.asarray(getattr(self, name), dtype=np.float64).view()
            values.setflags(write=False)
            object.__setattr__(self, name, values)

    @property
    def free(self) -> BoolArray:
        """Which parameters are free, shape (p,)."""
        return np.isnan(self.fixed)

    def first_point(self, needed: BoolArray) -> FloatArray:
        """Return fixed values, the caller's starts and, where one is needed and missing, the law's guess; NaN elsewhere. Shape (p,)."""
        point = np.where(self.free, self.start, self.fixed)
        if self.law.guess is not None and np.isnan(point[needed]).any():
            guess = self.law.guess(self.x, self.y)
            point = np.where(np.isnan(point), [guess.get(name, np.nan) for name in self.law.names], point)
        return np.clip(point, self.lower, self.upper)


def request(
    x: FloatArray,
    y: FloatArray,
    law: Law,
    *,
    fixed: Mapping[str, float] | None,
    bounds: Bounds | None,
    start: Mapping[str, float] | None,
) -> Request:
    """Return a checked request for finite data.

    Raises
    ------
    FitError
        When a name is no parameter of the law, a bound, fixed value or start makes no sense, or there are too few points.
    """
    lower = np.array([parameter.lower for parameter in law.parameters])
    upper = np.array([parameter.upper for parameter in law.parameters])
    for name, pair in (bounds or {}).items():
        index = _index(law, name, "bounds")
        lower[index], upper[index] = _pair(name, pair)
    held = _numbers(law, fixed or {}, "fixed")
    begun = _numbers(law, start or {}, "start")
    for what, values in (("fixed", held), ("start", begun)):
        for index in map(int, np.flatnonzero((values < lower) | (values > upper))):
            allowed = f"{number(lower[index])} to {number(upper[index])}"
            raise FitError(
                f"{what}: {law.names[index]} = {values[index]:g} lies outside its bounds {allowed}; "
                f"move it inside, or widen them with bounds={{{law.names[index]!r}: (lower, upper)}}"
            )
    twice = [name for name in law.names if name in (fixed or {}) and name in (start or {})]
    if twice:
        raise FitError(f"{twice[0]} is fixed and has a start; leave it out of one of the two")
    wanted = int(np.isnan(held).sum())
    if y.size < max(wanted, 1):
        raise FitError(
            f"{y.size} usable point{'' if y.size == 1 else 's'} for the {wanted} free parameters of {law.name}; "
            "measure more points, fix parameters with fixed={...}, or take a law with fewer"
        )
    return Request(law=law, x=x, y=y, lower=lower, upper=upper, fixed=held, start=begun)


def _index(law: Law, name: str, where: str) -> int:
    if name not in law.names:
        raise FitError(f"{where}: {law.name} has no parameter {printable(name)!r}; it has {', '.join(law.names)}")
    return law.names.index(name)


def _pair(name: str, pair: tuple[float, float]) -> tuple[float, float]:
    ends = np.asarray(pair, dtype=np.float64)
    if ends.shape != (2,) or not ends[0] < ends[1]:
        raise FitError(f"bounds: {name} needs a lower bound below an upper one, not {printable(pair)}; to hold it, use fixed={{...}}")
    return float(ends[0]), float(ends[1])


def _numbers(law: Law, given: Mapping[str, float], where: str) -> FloatArray:
    values = np.full(len(law.names), np.nan)
    for name, value in given.items():
        index = _index(law, name, where)
        values[index] = float(value)
        if not np.isfinite(values[index]):
            raise FitError(f"{where}: {name} = {printable(value)} is no finite number")
    return values


def as_columns(x: ArrayLike, y: ArrayLike, names: tuple[str, str]) -> tuple[FloatArray, FloatArray]:
    """Return data as float64 arrays of equally many rows.

    Raises
    ------
    FitError
        When they are not.
    """
    first, second = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if second.ndim != 1 or first.ndim == 0 or len(first) != len(second):
        raise FitError(
            f"{names[0]} of shape {first.shape} and {names[1]} of shape {second.shape}: give as many rows of one as of the other"
        )
    return first, second
