"""True stress and rate at the place where a geometry is sheared the most, with what the correction rested on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.look import HUES, INK, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number, resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["CorrectedFlow"]


@dataclass(frozen=True, kw_only=True, eq=False)
class CorrectedFlow(Carried):
    """A flow curve after the correction for a geometry in which the rate is not the same everywhere.

    Attributes
    ----------
    shear_rate, shear_stress
        True values [1/s], [Pa], (N,).
    apparent_rate, apparent_stress
        Before the correction, (N,).
    slope
        The slope in log-log that the correction used, (N,).
    relative_standard_error
        Of stress or viscosity at a stated rate [1], (N,): of the readings, carried through the slopes, and of the dimensions;
        zero where neither was given.
    method
        What was corrected and by which rule.
    """

    shear_rate: FloatArray
    shear_stress: FloatArray
    apparent_rate: FloatArray
    apparent_stress: FloatArray
    slope: FloatArray
    relative_standard_error: FloatArray
    method: str

    def __post_init__(self) -> None:
        for name in ("shear_rate", "shear_stress", "apparent_rate", "apparent_stress", "slope", "relative_standard_error"):
            object.__setattr__(self, name, read_only(getattr(self, name), name))

    @property
    def viscosity(self) -> FloatArray:
        """True viscosity [Pa·s], (N,)."""
        return self.shear_stress / self.shear_rate

    def table(self) -> Table:
        """Return the points as a table: rate and stress before and after, slope, relative standard error."""
        columns = (
            self.apparent_rate, self.apparent_stress, self.shear_rate, self.shear_stress, self.slope, 100.0 * self.relative_standard_error,
        )  # fmt: skip
        names = (
            "apparent rate [1/s]", "apparent stress [Pa]", "shear rate [1/s]", "shear stress [Pa]", "slope", "standard error [%]",
        )  # fmt: skip
        known = bool(np.any(self.relative_standard_error > 0.0))
        rows = tuple(
            tuple(number(float(value)) if known or index < 5 else "not given" for index, value in enumerate(row))
            for row in zip(*columns, strict=True)
        )
        return Table(title="corrected flow curve", columns=names, rows=rows, notes=(self.method,), right=names)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the flow curve before and after the correction on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        ax.plot(self.apparent_rate, self.apparent_stress, color=HUES[1], linestyle="", marker="s", markerfacecolor="white", markersize=4.5)
        ax.errorbar(
            self.shear_rate, self.shear_stress, yerr=1.96 * self.relative_standard_error * self.shear_stress, color=HUES[0],
            linestyle="", marker="o", markerfacecolor="white", markersize=4.5, linewidth=1.0,
        )  # fmt: skip
        middle = self.shear_rate.size // 2
        for rate, stress, colour, label, side in (
            (self.apparent_rate, self.apparent_stress, HUES[1], "apparent", 1.0),
            (self.shear_rate, self.shear_stress, HUES[0], "corrected", -1.0),
        ):
            higher = side * (self.apparent_stress[middle] - self.shear_stress[middle]) >= 0.0
            offset, vertical = ((-8.0, 8.0), "bottom") if higher else ((8.0, -8.0), "top")
            ax.annotate(
                label, (rate[middle], stress[middle]), xytext=offset, textcoords="offset points", color=colour, fontweight="bold",
                verticalalignment=vertical, horizontalalignment="right" if higher else "left",
            )  # fmt: skip
        ax.set_xlabel(quantity("shear_rate").label)
        ax.set_ylabel(quantity("shear_stress").label)
        ax.text(0.98, 0.03, self.method, transform=ax.transAxes, color=INK, fontsize="x-small", horizontalalignment="right")
        dress(ax, logarithmic="both")
        return ax
