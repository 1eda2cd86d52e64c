"""Weighting: what is taken for the standard deviations of the points, and whether their scale is known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError, printable
from rheokit.base.show import number
from rheokit.fitting.request import BoolArray

__all__ = ["Scale", "Weighting", "weighting_of"]

Scale = Literal["estimated", "known"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Weighting:
    """How points are weighted.

    Attributes
    ----------
    kind
        `relative` (deviations proportional to the fitted value), `absolute` (all alike) or `given`.
    floor
        For `relative`, in the unit of y: deviations are proportional to the root of fitted² + floor².
    given
        For `given`, the standard deviations, (N,).
    scale
        `estimated` from the residuals, or `known`: the deviations are taken at their word.
    unit
        Unit of y, for messages.
    """

    kind: Literal["relative", "absolute", "given"]
    floor: float = 0.0
    given: FloatArray | None = None
    scale: Scale = "estimated"
    unit: str = ""

    @property
    def follows_fit(self) -> bool:
        """Whether the deviations depend on the fit, so that it is repeated until they settle."""
        return self.kind == "relative"

    @property
    def text(self) -> str:
        """What a record prints."""
        scale = "scale known" if self.scale == "known" else "scale from the residuals"
        if self.kind == "relative":
            floor = f" with a floor of {number(self.floor)} {self.unit}".rstrip() if self.floor else ""
            return f"standard deviations proportional to the fitted value{floor}, {scale}"
        if self.kind == "absolute":
            return f"equal standard deviations, {scale}"
        return f"standard deviations given, {scale}"

    def first(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Return deviations to begin with, (N,).

        Relative ones begin from the median of each point and its neighbours along x, so that one stray point does not rule the search.
        """
        if self.given is not None:
            return self.given
        if self.kind == "absolute":
            return np.ones(y.size)
        smooth = np.maximum(_median_of_three(x, y), 0.0)
        sizes, strayed = np.hypot(smooth, self.floor), np.abs(y[y != 0.0])
        if not sizes.any() and not strayed.size:
            raise FitError("all values are zero, so relative weights have no scale; give a floor or use weighting='absolute'")
        return np.where(sizes > 0.0, sizes, np.median(sizes[sizes > 0.0] if sizes.any() else strayed))

    def of_fit(self, fitted: FloatArray) -> FloatArray:
        """Return the deviations that go with fitted values, (N,)."""
        if self.given is not None:
            return self.given
        return np.ones(fitted.size) if self.kind == "absolute" else np.hypot(fitted, self.floor)

    def cost(self, y: FloatArray, fitted: FloatArray, weighted: FloatArray) -> float:
        """Return what is minimised: the sum of squares, or for deviations that follow the fit their quasi-deviance.

        That is the function whose slope vanishes where least squares under settled deviations is stationary; near there it is the sum
        of squares of the weighted residuals (N,) as well. Repeating least squares until the deviations settle ends at the same point,
        where it ends.

        References
        ----------
        Wedderburn, Biometrika 61 (1974) 439, for variances that follow the fitted value (from memory).
        """
        if not self.follows_fit:
            return float(weighted @ weighted)
        if self.floor == 0.0:
            # With y = fitted (1 + w) each term is 2 (w - log(1 + w)); the logarithm of y is left out where it has none.
            ratio = y / fitted
            near = np.abs(ratio - 1.0) < 0.5
            far = np.where(ratio > 0.0, -np.log(np.where(ratio > 0.0, ratio, 1.0)), np.log(np.abs(fitted)))
            logs = np.where(near, -np.log1p(np.where(near, ratio - 1.0, 0.0)), far)
            return 2.0 * float((ratio - 1.0 + logs).sum())
        floor = self.floor
        logs = np.log1p((fitted - y) * (fitted + y) / (y**2 + floor**2))
        angles = np.arctan2((fitted - y) * floor, floor**2 + fitted * y)
        return float((logs - 2.0 * y / floor * angles).sum())


def _median_of_three(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the median of each value and its two neighbours along x; the ends take that of the three outermost."""
    if y.size < 3 or x.ndim != 1:
        return y
    order = np.argsort(x, kind="stable")
    inner = np.median(np.stack([y[order][:-2], y[order][1:-1], y[order][2:]]), axis=0)
    smooth = np.empty_like(y)
    smooth[order] = np.concatenate([inner[:1], inner, inner[-1:]])
    return smooth


def weighting_of(weighting: str | ArrayLike, *, floor: float, scale: str, kept: BoolArray, unit: str) -> Weighting:
    """Return the weighting that a caller asks for; an array has one entry for every point given, `kept` or not.

    Raises
    ------
    FitError
        When it is neither a known word nor positive standard deviations, or an option does not go with it.
    """
    if not (np.isfinite(floor) and floor >= 0.0):
        raise FitError(f"floor: {floor!r} is not a value of zero or more")
    if isinstance(weighting, str):
        return _named(weighting, floor=floor, scale=scale, unit=unit)
    if floor:
        raise FitError("floor goes with weighting='relative'; add it to the standard deviations given instead")
    if scale not in {"estimated", "known"}:
        raise FitError(f"scale: {printable(scale)!r} is neither 'estimated' nor 'known'")
    given = np.asarray(weighting, dtype=np.float64)
    if given.shape != kept.shape:
        raise FitError(f"weighting: {given.size} standard deviations for {kept.size} points; give one for each")
    used = given[kept]
    if not (np.isfinite(used) & (used > 0.0)).all():
        raise FitError("weighting: a standard deviation is not a positive number; leave the point out instead")
    return Weighting(kind="given", given=used, scale="known" if scale == "known" else "estimated", unit=unit)


def _named(weighting: str, *, floor: float, scale: str, unit: str) -> Weighting:
    if scale != "estimated":
        raise FitError(f"scale={printable(scale)!r} goes with an array of standard deviations; {weighting!r} takes it from the residuals")
    if weighting == "relative":
        return Weighting(kind="relative", floor=float(floor), unit=unit)
    if weighting != "absolute":
        raise FitError(f"weighting: {printable(weighting)!r} is none of 'relative', 'absolute' or an array of standard deviations")
    if floor:
        raise FitError("floor goes with weighting='relative'; 'absolute' weights all points alike")
    return Weighting(kind="absolute", unit=unit)
