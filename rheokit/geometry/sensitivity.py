"""What an error of a dimension does to stress, rate and viscosity: powers, and the uncertainty they carry."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from rheokit.base.errors import GeometryError

__all__ = ["Powers", "relative_uncertainty"]


@dataclass(frozen=True, kw_only=True)
class Powers:
    """How stress and rate go with one dimension: both are proportional to the dimension to these powers, near its value.

    `Powers(stress=-3.0, rate=1.0)` is the radius of parallel plates: 1 % of it is 3 % of the stress.
    """

    stress: float = 0.0
    rate: float = 0.0

    def at_a_stated_rate(self, flow_index: float) -> float:
        """Return the power with which stress, and so viscosity, at a STATED shear rate goes with the dimension.

        The wrong rate moves the point along the flow curve, whose slope in log-log is the flow index n: power of the stress less n
        times that of the rate. For the radius of plates this is -(3 + n).
        """
        return self.stress - flow_index * self.rate


def relative_uncertainty(powers: Mapping[str, Powers], errors: Mapping[str, float], flow_index: float) -> float:
    """Return the relative standard uncertainty of stress or viscosity at a stated rate that the dimensions add.

    Parameters
    ----------
    powers
        Dimension to its powers, of a geometry's `powers`.
    errors
        Dimension to its RELATIVE standard uncertainty [1]; a dimension that is left out adds nothing.
    flow_index
        Slope of stress against rate in log-log at the stated rate [1].

    Raises
    ------
    GeometryError
        When an error is given for a dimension that the geometry does not have, or is negative.

    References
    ----------
    JCGM 100:2008, 5.1.6 (relative uncertainty of a product of powers).
    """
    for name, error in errors.items():
        if name not in powers:
            raise GeometryError(f"there is no dimension {name!r}; the geometry has {', '.join(powers)}")
        if not (math.isfinite(error) and error >= 0.0):
            raise GeometryError(f"the relative uncertainty of the {name.replace('_', ' ')} is {error!r}; it must be zero or more")
    return math.hypot(*(powers[name].at_a_stated_rate(flow_index) * error for name, error in errors.items()))
