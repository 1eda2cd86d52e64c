"""A capillary: pressure drop and flow to stress and true rate at the wall; the bench road to 10⁴ 1/s and beyond."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import GeometryError
from rheokit.geometry.corrected_flow import CorrectedFlow
from rheokit.geometry.sensitivity import Powers, relative_uncertainty
from rheokit.geometry.slopes import SlopeRule, logarithms, slope_weights
from rheokit.geometry.words import require_between

__all__ = ["Capillary", "end_pressure_drop", "wall_flow"]


@dataclass(frozen=True, kw_only=True)
class Capillary:
    """A round capillary.

    Parameters
    ----------
    radius, length
        [m]

    Raises
    ------
    GeometryError
        When a dimension is no length of an instrument, or the length is less than five diameters: then the ends rule.
    """

    radius: float
    length: float

    def __post_init__(self) -> None:
        require_between("capillary radius", self.radius, 1e-5, 0.01, "m")
        require_between("capillary length", self.length, 10.0 * self.radius, 2.0, "m")

    @property
    def powers(self) -> dict[str, Powers]:
        """How stress and rate go with each dimension."""
        return {"radius": Powers(stress=1.0, rate=-3.0), "length": Powers(stress=-1.0)}


def wall_flow(
    pressure_drop: ArrayLike,
    volume_flow: ArrayLike,
    capillary: Capillary,
    *,
    end_pressure: ArrayLike = 0.0,
    slope: SlopeRule = "local",
    pressure_error: float = 0.0,
    dimension_errors: Mapping[str, float] | None = None,
) -> CorrectedFlow:
    """Return stress and true shear rate at the wall of a capillary.

    Parameters
    ----------
    pressure_drop
        Over the whole capillary, ends included [Pa], (N,).
    volume_flow
        [m³/s], (N,), rising or falling.
    capillary
        Its dimensions.
    end_pressure
        What the two ends take of the pressure [Pa], one number or (N,); `end_pressure_drop` gives it from two lengths or more.
    slope
        Rule for n' = d ln stress/d ln(4 Q/(π R³)).
    pressure_error
        Relative standard deviation of one pressure reading [1].
    dimension_errors
        Dimension (`radius`, `length`) to relative standard uncertainty [1]; common to all points.

    Returns
    -------
    CorrectedFlow
        Stress `Δp R/(2 L)` at the rate `4 Q/(π R³) (3 + 1/n')/4`.

    Raises
    ------
    GeometryError
        When a reading is not positive, there are fewer than three, or stress does not rise with flow.

    Notes
    -----
    A jet under pressure injects through skin: shield it, and leave pressure equipment to qualified people and local codes.

    References
    ----------
    Rabinowitsch, Z. phys. Chem. A 145 (1929) 1 (from memory); exact for any law, by differentiating Q(wall stress).
    """
    pressure, flow = read_only(pressure_drop, "pressure_drop"), read_only(volume_flow, "volume_flow")
    if pressure.size != flow.size:
        raise GeometryError(f"columns of unequal length: pressure drop {pressure.size}, volume flow {flow.size}")
    stress = (pressure - np.asarray(end_pressure, dtype=np.float64)) * capillary.radius / (2.0 * capillary.length)
    apparent = 4.0 * flow / (pi * capillary.radius**3)
    weights = slope_weights(logarithms("volume flow", apparent), slope)
    slopes = weights @ logarithms("wall stress", stress)
    if not np.all(slopes > 0.0):
        raise GeometryError("the wall stress does not rise with the flow everywhere; average or leave out points, or take the global slope")
    factor = 0.25 * (3.0 + 1.0 / slopes)
    # ln rate goes with -1/n' / (3 n' + 1) times the error of n'; at a stated rate that is times n' of the stress.
    carried = np.eye(pressure.size) + weights / (3.0 * slopes + 1.0)[:, None]
    share = pressure / (pressure - np.asarray(end_pressure, dtype=np.float64))
    readings = pressure_error * np.sqrt(((carried * share[None, :]) ** 2).sum(axis=1))
    common = np.array([relative_uncertainty(capillary.powers, dimension_errors or {}, float(index)) for index in slopes])
    return CorrectedFlow(
        shear_rate=apparent * factor,
        shear_stress=stress,
        apparent_rate=apparent,
        apparent_stress=stress,
        slope=slopes,
        relative_standard_error=np.hypot(readings, common),
        method=f"capillary, rate at the wall by the {slope} slope of stress",
    )


def end_pressure_drop(lengths: ArrayLike, pressures: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return what the ends take of the pressure [Pa] and its standard error, for each flow, from capillaries of one radius.

    Parameters
    ----------
    lengths
        [m], (L,), at least two different ones; three for a standard error.
    pressures
        Pressure drop [Pa] of each length at each flow, (L, N): the same flows on every capillary.

    Returns
    -------
    end_pressure, standard_error
        (N,) each: intercept of the straight line of pressure over length; the error is NaN for two lengths.

    Raises
    ------
    GeometryError
        When lengths and pressures do not fit together, or there are not two lengths.

    References
    ----------
    Bagley, J. Appl. Phys. 28 (1957) 624 (from memory).
    """
    long, drop = read_only(lengths, "lengths"), np.atleast_2d(np.asarray(pressures, dtype=np.float64))
    if drop.shape[0] != long.size or np.unique(long).size < 2:
        raise GeometryError(
            f"the ends need pressures at two lengths or more at the same flows, not {long.size} lengths and {drop.shape[0]} rows"
        )
    away = long - long.mean()
    spread = away @ away
    gradient = away @ drop / spread
    intercept = drop.mean(axis=0) - gradient * long.mean()
    freedom = long.size - 2
    if freedom == 0:
        return intercept, np.full_like(intercept, np.nan)
    residual = drop - intercept - long[:, None] * gradient
    variance = (residual**2).sum(axis=0) / freedom
    return intercept, np.sqrt(variance * (1.0 / long.size + long.mean() ** 2 / spread))
