"""How a fit is drawn: points as open marks, the curve as a line, its band as a tint."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rheokit.base.curve import FloatArray
from rheokit.base.show import resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Drawing"]

_POINTS, _CURVE = "#3b3b3b", "#1f5f8b"


@dataclass(frozen=True, kw_only=True, eq=False)
class Drawing:
    """Points (N,), a curve (M,) with the edges of its band where it has one, its name and the labels of the axes."""

    points: tuple[FloatArray, FloatArray]
    curve: tuple[FloatArray, FloatArray]
    band: tuple[FloatArray, FloatArray] | None
    name: str
    labels: tuple[str, str]
    logarithmic: bool

    def on(self, ax: Axes | None) -> Axes:
        """Draw on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        if self.logarithmic:
            ax.set_xscale("log")
            ax.set_yscale("log", nonpositive="mask")
        ax.plot(*self.points, "o", markerfacecolor="none", markeredgecolor=_POINTS, linestyle="none", label="measured")
        ax.plot(*self.curve, color=_CURVE, label=self.name)
        if self.band is not None:
            ax.fill_between(self.curve[0], *self.band, color=_CURVE, alpha=0.15, linewidth=0.0, label="95 % band")
        ax.set_xlabel(self.labels[0])
        ax.set_ylabel(self.labels[1])
        return ax
