"""The stress at a stated low rate: a yield value without a law, read between the measured points."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.curve import FloatArray, FlowCurve, HasFlow
from rheokit.base.look import HUES
from rheokit.base.run import Step
from rheokit.base.settled import settled_points
from rheokit.base.show import number
from rheokit.statistics.between_points import METHOD, stresses_at
from rheokit.yielding.drawing import level_line, open_marks, panel
from rheokit.yielding.reading_off import YieldReading, countable, positive, stated

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["StressAtLowRate", "stress_at_low_rate", "usable_points"]


@dataclass(frozen=True, kw_only=True, eq=False)
class StressAtLowRate(YieldReading):
    """The stress at a low rate, with the points it was read from: `shear_rate` [1/s] and `shear_stress` [Pa], (N,)."""

    shear_rate: FloatArray
    shear_stress: FloatArray
    at_rate: float

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the points and the stress read on the axes given, else on a new figure, and return the axes."""
        ax = panel(ax, ("shear_rate", "shear_stress"), logarithmic="both")
        open_marks(ax, self.shear_rate, self.shear_stress)
        ax.axvline(self.at_rate, color=HUES[0], linewidth=1.0)
        ax.annotate(
            f"{number(self.at_rate, 3)} 1/s", (self.at_rate, 0.03), xycoords=("data", "axes fraction"), xytext=(5.0, 0.0),
            textcoords="offset points", color=HUES[0],
        )  # fmt: skip
        level_line(ax, self.stress, HUES[0], across=(float(self.shear_rate.min()), float(self.shear_rate.max())))
        return ax


def usable_points(curve: HasFlow) -> FlowCurve:
    """Return the points of a curve or step that count: positive and finite; of a stair the last row at each rate."""
    settled = settled_points(curve) if isinstance(curve, Step) else curve
    rate, stress = np.asarray(settled.shear_rate, dtype=np.float64), np.asarray(settled.shear_stress, dtype=np.float64)
    kept = countable(rate, stress)
    return FlowCurve(rate[kept], stress[kept])


def stress_at_low_rate(curve: HasFlow, *, shear_rate: float) -> StressAtLowRate:
    """Return the stress [Pa] of a down leg or steady steps at a stated low rate [1/s].

    Parameters
    ----------
    curve
        A step, or anything with `shear_rate` [1/s] and `shear_stress` [Pa], (N,).
    shear_rate
        Inside the measured rates [1/s].

    Raises
    ------
    RangeError
        When the rate lies outside the points, or between two that are too far apart.
    """
    usable = usable_points(curve)
    kind = f"{curve.kind} step" if isinstance(curve, Step) else "flow curve"
    read = stresses_at(usable, (shear_rate,), f"the {kind}")
    scatter, spread = read.scatter, float(np.linalg.norm(read.weights))
    estimate = positive(
        "stress_at_low_rate", math.exp(read.log_stress[0]), "Pa", relative_error=None if scatter is None else scatter[0] * spread,
        degrees_of_freedom=0.0 if scatter is None else scatter[1],
        method=f"stress of the {kind} at {number(shear_rate, 3)} 1/s, {METHOD}; error from the points' scatter about their neighbours",
        conditions=stated("stress at a low rate", shear_rate=shear_rate),
    )  # fmt: skip
    return StressAtLowRate(
        estimates=(estimate,),
        findings=estimate.findings,
        shear_rate=usable.shear_rate,
        shear_stress=usable.shear_stress,
        at_rate=shear_rate,
    )
