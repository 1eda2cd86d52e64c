"""Desirability: several aims in one number that never goes without its parts; and the setting where it is greatest."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ComparisonError
from rheokit.base.show import Table, number

__all__ = ["Aim", "Desirability", "desirability", "most_desirable"]


@dataclass(frozen=True, kw_only=True)
class Aim:
    """What is wanted of one response: nothing below `lower` or above `upper`, everything at `target`.

    `target` equal to `upper` is "as large as that", equal to `lower` "as small as that", between them "this value". `weight` above 1
    asks to come near the target, below 1 is content early.
    """

    lower: float
    upper: float
    target: float
    weight: float = 1.0

    def __post_init__(self) -> None:
        if not (self.lower < self.upper and self.lower <= self.target <= self.upper and self.weight > 0.0):
            raise ComparisonError(f"an aim needs lower < upper, a target between them and a weight above zero, not {self}")

    def degree(self, value: FloatArray | float) -> FloatArray:
        """Return how far the aim is met, 0 to 1, of the shape of the value."""
        y = np.asarray(value, dtype=np.float64)
        rising = np.clip((y - self.lower) / (self.target - self.lower), 0.0, 1.0) if self.target > self.lower else np.ones_like(y)
        falling = np.clip((self.upper - y) / (self.upper - self.target), 0.0, 1.0) if self.target < self.upper else np.ones_like(y)
        return np.asarray(np.minimum(rising, falling) ** self.weight)


@dataclass(frozen=True, kw_only=True)
class Desirability:
    """The parts, by response, and their geometric mean; one part of zero makes the whole zero."""

    parts: Mapping[str, float]

    @property
    def whole(self) -> float:
        """Geometric mean of the parts."""
        return math.prod(self.parts.values()) ** (1.0 / len(self.parts))

    def table(self) -> Table:
        """Return whole and parts as a table: never the one without the other."""
        rows = [(name, number(part, 3)) for name, part in self.parts.items()]
        return Table(
            title="desirability", columns=("aim", "degree"), rows=(*rows, ("all together", number(self.whole, 3))), right=("degree",)
        )

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def desirability(values: Mapping[str, float], aims: Mapping[str, Aim]) -> Desirability:
    """Return how far each aim is met, and all together.

    Raises
    ------
    ComparisonError
        When a response has no value.

    References
    ----------
    Derringer & Suich, J. Qual. Technol. 12 (1980) 214.
    """
    missing = [name for name in aims if name not in values]
    if missing or not aims:
        raise ComparisonError(f"no value of {', '.join(missing) or 'anything'}; every aim needs one")
    return Desirability(parts={name: float(aim.degree(values[name])) for name, aim in aims.items()})


def most_desirable(
    predict: Mapping[str, Callable[[FloatArray], FloatArray]],
    aims: Mapping[str, Aim],
    lower: FloatArray,
    upper: FloatArray,
    *,
    seed: int = 0,
    allowed: Callable[[FloatArray], FloatArray] | None = None,
) -> tuple[FloatArray, Desirability]:
    """Return the setting, (k,), of the greatest desirability in a box, and its parts.

    Parameters
    ----------
    predict
        Response to its prediction at settings (M, k), returning (M,).
    aims
        Response to aim.
    lower, upper
        Of the box, (k,).
    seed
        Of the first points.
    allowed
        Settings (M, k) to whether they may be taken, (M,): a sphere, a mixture's sum.

    Raises
    ------
    ComparisonError
        When nothing that was looked at is allowed.

    Notes
    -----
    Many points spread over the box, then shrinking clouds about the best few: the ridge of a desirability is flat and has kinks, so no
    slope is used. Of several equal settings any may be returned.
    """
    rng = np.random.default_rng(seed)
    width = np.asarray(upper, dtype=np.float64) - lower

    def whole(points: FloatArray) -> FloatArray:
        parts = np.array([aim.degree(predict[name](points)) for name, aim in aims.items()])
        value = np.prod(parts, axis=0) ** (1.0 / len(aims))
        return value if allowed is None else np.where(allowed(points), value, -1.0)

    points = lower + width * rng.random((20_000, width.size))
    for turn in range(60):
        order = np.argsort(whole(points))[::-1][:20]
        best = points[order]
        spread = 0.25 * 0.8**turn
        cloud = np.repeat(best, 40, axis=0) + spread * width * rng.standard_normal((800, width.size))
        points = np.vstack([best, np.clip(cloud, lower, upper)])
    found = points[int(np.argmax(whole(points)))]
    if allowed is not None and not allowed(found[None])[0]:
        raise ComparisonError("no setting that was looked at may be taken; widen the box or what is allowed")
    parts = {name: float(aim.degree(predict[name](found[None]))[0]) for name, aim in aims.items()}
    return found, Desirability(parts=parts)
