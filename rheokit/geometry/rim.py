"""True stress at the rim of parallel plates, and the single-point rule."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray, FlowCurve, read_only
from rheokit.base.errors import GeometryError
from rheokit.geometry.corrected_flow import CorrectedFlow
from rheokit.geometry.parallel_plates import ParallelPlates
from rheokit.geometry.sensitivity import relative_uncertainty
from rheokit.geometry.slopes import SlopeRule, logarithms, slope_weights

__all__ = ["rim_flow", "single_point_factor", "single_point_flow"]


def rim_flow(
    torque: ArrayLike,
    rim_rate: ArrayLike,
    plates: ParallelPlates,
    *,
    slope: SlopeRule = "local",
    torque_error: float = 0.0,
    dimension_errors: Mapping[str, float] | None = None,
) -> CorrectedFlow:
    """Return the true shear stress at the rim of parallel plates.

    Parameters
    ----------
    torque
        [N·m], (N,), positive.
    rim_rate
        Shear rate at the rim, `Ω R / h` [1/s], (N,), rising or falling.
    plates
        The plates; only the radius is used.
    slope
        `local` takes d ln M/d ln rate at each point, `global` one straight line through all: steadier, and right for a power law only.
    torque_error
        Relative standard deviation of one torque reading [1].
    dimension_errors
        Dimension (`radius`, `gap`) to relative standard uncertainty [1]; common to all points.

    Returns
    -------
    CorrectedFlow
        Stress `M/(2 π R³) (3 + d ln M/d ln rate)`.

    Raises
    ------
    GeometryError
        When a reading is not positive, there are fewer than three, or columns differ in length.

    References
    ----------
    Steffe, Rheological Methods in Food Process Engineering, 2nd ed. (1996), parallel plates, table 3.5 p. 229.
    """
    moment, rate = read_only(torque, "torque"), read_only(rim_rate, "rim_rate")
    if moment.size != rate.size:
        raise GeometryError(f"columns of unequal length: torque {moment.size}, shear rate at the rim {rate.size}")
    weights = slope_weights(logarithms("shear rate", rate), slope)
    slopes = weights @ logarithms("torque", moment)
    stress = moment / (2.0 * np.pi * plates.radius**3) * (3.0 + slopes)
    # d ln stress_i / d ln M_j: of the torque itself and of the slope it enters.
    carried = np.eye(moment.size) + weights / (3.0 + slopes)[:, None]
    readings = torque_error * np.sqrt((carried**2).sum(axis=1))
    common = np.array([relative_uncertainty(plates.powers, dimension_errors or {}, float(index)) for index in slopes])
    return CorrectedFlow(
        shear_rate=rate,
        shear_stress=stress,
        apparent_rate=rate,
        apparent_stress=plates.shear_stress(moment),
        slope=slopes,
        relative_standard_error=np.hypot(readings, common),
        method=f"parallel plates, stress at the rim by the {slope} slope of torque",
    )


def single_point_factor(flow_index: float | None = None) -> tuple[float, float]:
    """Return the factor of the single-point rule and its standard uncertainty.

    The apparent (Newtonian) viscosity at the rim is the TRUE viscosity at this fraction of the rate at the rim:
    `((n + 3)/4)^(1/(1 - n))`, 0.75 for n = 0 and exp(-1/4) = 0.7788 for n = 1. Without an index the middle of that range is taken, and
    its standard uncertainty is that of a rectangular distribution over it.

    Raises
    ------
    GeometryError
        When the flow index does not lie between 0 and 1: the rule is for shear thinning.

    References
    ----------
    By integration over the plate for a power law; rectangular distribution: JCGM 100:2008, 4.3.7.
    """
    lowest, highest = 0.75, float(np.exp(-0.25))
    if flow_index is None:
        return 0.5 * (lowest + highest), (highest - lowest) / np.sqrt(12.0)
    if not 0.0 <= flow_index <= 1.0:
        raise GeometryError(f"the flow index is {flow_index:.4g}; the single-point rule is for 0 to 1")
    if flow_index > 1.0 - 1e-6:
        return highest, 0.0
    return float(np.exp(np.log1p(-(1.0 - flow_index) / 4.0) / (1.0 - flow_index))), 0.0


def single_point_flow(torque: ArrayLike, rim_rate: ArrayLike, plates: ParallelPlates, *, flow_index: float | None = None) -> FlowCurve:
    """Return a flow curve by the single-point rule: the apparent viscosity where it is true, at a fraction of the rim rate [1/s].

    Rate and stress [Pa] are both that fraction of the apparent ones; needs no slope, so it serves a single point. Shapes (N,).
    """
    moment, rate = read_only(torque, "torque"), read_only(rim_rate, "rim_rate")
    factor, _ = single_point_factor(flow_index)
    stress: FloatArray = plates.shear_stress(moment)
    return FlowCurve(factor * rate, factor * stress, name="single-point rule")
