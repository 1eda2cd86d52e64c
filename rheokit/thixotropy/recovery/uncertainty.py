"""The uncertainty of what is read off a recovery: from the law, from the rest it is compared with and from where the shear ended."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.estimate import Interval
from rheokit.fitting.bands import gradient_error
from rheokit.fitting.result import Fit
from rheokit.statistics.budget import Budget, Part
from rheokit.statistics.student import student_quantile

__all__ = ["LEVEL", "Known", "Mix", "ratio_error", "ratio_interval"]

LEVEL = 0.95
"""Level of every interval here."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Mix:
    """A number made of the law, the rest and the end of the shear.

    Attributes
    ----------
    value
        The number.
    gradient
        Its derivatives by the parameters of the law, (p,).
    rest, shear
        What the values at rest and at the end of the shear count in it.
    """

    value: float
    gradient: FloatArray
    rest: float = 0.0
    shear: float = 0.0

    def __sub__(self, other: Mix) -> Mix:
        return Mix(
            value=self.value - other.value,
            gradient=self.gradient - other.gradient,
            rest=self.rest - other.rest,
            shear=self.shear - other.shear,
        )

    def times(self, factor: float) -> Mix:
        """Return it multiplied."""
        return Mix(value=factor * self.value, gradient=factor * self.gradient, rest=factor * self.rest, shear=factor * self.shear)


@dataclass(frozen=True, kw_only=True, eq=False)
class Known(Carried):
    """How well law, rest and end of the shear are known.

    Attributes
    ----------
    fit
        Of the law.
    widening
        Factor by which points that remember one another widen every error; 1 where they do not.
    rest, shear
        Standard error and its degrees of freedom.
    """

    fit: Fit
    widening: float
    rest: tuple[float, float]
    shear: tuple[float, float]

    def _curve(self, gradient: FloatArray) -> float:
        """Return the error by the law alone: 0 where the points lie on it to rounding, infinite where it does not hold."""
        if self.fit.converged and self.fit.spread.scale == 0.0:
            return 0.0
        if self.fit.no_scatter:
            return math.inf
        return float(gradient_error(self.fit, gradient[None])[0])

    def _parts(self, mix: Mix) -> tuple[tuple[float, float], ...]:
        """Return size and degrees of freedom of each part; points that remember one another are worth fewer free ones."""
        free = max(float(self.fit.degrees_of_freedom) / self.widening**2, 1.0)
        law = self.widening * self._curve(mix.gradient), free
        ends = ((self.widening * abs(share) * size, freedom) for share, (size, freedom) in ((mix.rest, self.rest), (mix.shear, self.shear)))
        return law, *ends

    def error(self, mix: Mix) -> float:
        """Return the standard error of a mix."""
        return math.hypot(*(size for size, _ in self._parts(mix)))

    def freedom(self, mix: Mix) -> float:
        """Return the effective degrees of freedom of that error (JCGM 100:2008, G.4.1)."""
        parts = {str(index): Part(size=size, degrees_of_freedom=freedom) for index, (size, freedom) in enumerate(self._parts(mix))}
        return Budget(parts=parts).degrees_of_freedom

    def reach(self, mix: Mix, level: float = LEVEL) -> float:
        """Return how far the interval of a mix reaches to either side: Student's t times its standard error."""
        error = self.error(mix)
        return error if error == 0.0 or math.isinf(error) else student_quantile(0.5 + 0.5 * level, self.freedom(mix)) * error

    def covariance(self, one: Mix, other: Mix) -> float:
        """Return the covariance of two mixes."""
        law = float(one.gradient @ self.fit.spread.seen @ other.gradient) if self.fit.spread.scale > 0.0 else 0.0
        ends = one.rest * other.rest * self.rest[0] ** 2 + one.shear * other.shear * self.shear[0] ** 2
        return self.widening**2 * (law + ends)


def ratio_error(known: Known, above: Mix, below: Mix) -> tuple[float, float]:
    """Return the standard error of a ratio by the delta method, and its degrees of freedom."""
    ratio = above.value / below.value
    whole = above - below.times(ratio)
    error = known.error(whole)
    return error / abs(below.value), known.freedom(whole) if 0.0 < error < math.inf else math.inf


def ratio_interval(known: Known, above: Mix, below: Mix) -> Interval:
    """Return the interval of a ratio: not symmetric, and open where what stands below may be zero.

    References
    ----------
    Fieller, J. R. Stat. Soc. B 16 (1954) 175 (from memory).
    """
    ratio = above.value / below.value
    times = student_quantile(0.5 + 0.5 * LEVEL, known.freedom(above - below.times(ratio)))
    variances = known.error(above) ** 2, known.error(below) ** 2
    both, share = known.covariance(above, below), times**2 * known.error(below) ** 2 / below.value**2
    if share >= 1.0 or not np.isfinite(variances).all():
        return Interval(lower=-math.inf, upper=math.inf, level=LEVEL, reason="what shear took away may be nothing: any ratio fits the data")
    middle = (ratio - times**2 * both / below.value**2) / (1.0 - share)
    # Fieller's root, with share × (variance above − both²/variance below) written without a division by the variance below.
    inner = variances[0] - 2.0 * ratio * both + ratio**2 * variances[1]
    inner -= times**2 * (variances[0] * variances[1] - both**2) / below.value**2
    half = times / (abs(below.value) * (1.0 - share)) * math.sqrt(max(inner, 0.0))
    return Interval(lower=middle - half, upper=middle + half, level=LEVEL)
