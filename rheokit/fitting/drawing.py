"""How a fit is drawn: points as open marks, the curve as a line, its band as a tint, law and parameters in a free corner."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.look import HUES, INK, SOFT, TINT, dress
from rheokit.base.show import drawable_formula, resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Drawing", "Residuals"]

# Marks by which our curves are told from what else is on the axes.
_CURVE = "fitted curve"
# Edges of a band are drawn up to this factor, or this part of their span, beyond points and curve.
_FACTOR, _PART = 2.0, 0.3


@dataclass(frozen=True, kw_only=True, eq=False)
class Drawing:
    """What is drawn of a fit.

    Attributes
    ----------
    points, curve
        x and y, (N,) and (M,).
    band
        Its lower and upper edges, (M,), or None.
    name, formula
        Of the law; the formula in LaTeX.
    label
        What the curve is called among others, or nothing.
    parameters
        Symbol in LaTeX, and what is said of each.
    labels
        Of the axes.
    """

    points: tuple[FloatArray, FloatArray]
    curve: tuple[FloatArray, FloatArray]
    band: tuple[FloatArray, FloatArray] | None
    name: str
    label: str
    formula: str
    parameters: tuple[tuple[str, str], ...]
    labels: tuple[str, str]
    logarithmic: bool

    def on(self, ax: Axes | None) -> Axes:
        """Draw on the axes given, else on a new figure, and return the axes.

        The first fit on a pair of axes has law and parameters in the corner; further ones, and those with a label, have their name at
        the end of their line.
        """
        ax = resolve_axes(ax)
        before = sum(line.get_gid() == _CURVE for line in ax.lines)
        hue = HUES[before % len(HUES)]
        dress(ax, logarithmic="both" if self.logarithmic else "neither")
        ax.plot(*self.points, "o", markersize=5.5, markerfacecolor="white", markeredgecolor=INK, linestyle="none", zorder=3)
        ax.plot(*self.curve, color=hue, linewidth=1.8, zorder=2, gid=_CURVE, label=self.label or self.name)
        if self.band is not None:
            ax.fill_between(self.curve[0], *self._clipped(self.band), color=hue, alpha=TINT, linewidth=0.0, zorder=1)
        ax.set_xlabel(self.labels[0])
        ax.set_ylabel(self.labels[1])
        if before or self.label:
            self._name_at_the_end(ax, hue)
        else:
            self._describe(ax, hue)
        return ax

    def _clipped(self, band: tuple[FloatArray, FloatArray]) -> tuple[FloatArray, FloatArray]:
        """Return the edges of the band, those that are open or far away moved to where they leave the figure."""
        seen = np.concatenate([self.points[1], self.curve[1]])
        low, high = float(seen.min()), float(seen.max())
        if self.logarithmic and low > 0.0:
            ends = low / _FACTOR, high * _FACTOR
        else:
            ends = low - _PART * (high - low), high + _PART * (high - low)
        return np.clip(band[0], *ends), np.clip(band[1], *ends)

    def _describe(self, ax: Axes, hue: str) -> None:
        """Write law, parameters and what the tint is into the corner that the curve leaves free."""
        rises = self.curve[1][-1] >= self.curve[1][0]
        side, across = ("left", 0.03) if rises else ("right", 0.97)
        lines = [f"{drawable_formula(symbol)} {said}" for symbol, said in self.parameters]
        lines += ["tint: 95 % band of the curve"] if self.band is not None else []
        formula = f"   {drawable_formula(self.formula)}" if self.formula else ""
        head = ax.text(
            across, 0.97, self.name + formula, transform=ax.transAxes, color=hue, fontweight="bold",
            horizontalalignment=side, verticalalignment="top",
        )  # fmt: skip
        ax.annotate(
            "\n".join(lines), (0.0 if rises else 1.0, 0.0), xytext=(0.0, -4.0), xycoords=head, textcoords="offset points",
            horizontalalignment=side, verticalalignment="top", color=INK, fontsize="small", linespacing=1.5,
        )  # fmt: skip

    def _name_at_the_end(self, ax: Axes, hue: str) -> None:
        x, y = self.curve
        ax.annotate(
            self.label or self.name, (float(x[-1]), float(y[-1])), xytext=(8.0, 0.0), textcoords="offset points",
            horizontalalignment="left", verticalalignment="center", color=hue, fontweight="bold",
        )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)
class Residuals:
    """Residuals (N,) over x, with the standard deviation of a point in the same unit, (N,), and the labels of the axes."""

    x: FloatArray
    residuals: FloatArray
    deviations: FloatArray | None
    labels: tuple[str, str]
    logarithmic: bool

    def on(self, ax: Axes | None) -> Axes:
        """Draw on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        dress(ax, logarithmic="x" if self.logarithmic else "neither")
        order = np.argsort(self.x, kind="stable")
        x, residuals = self.x[order], self.residuals[order]
        if self.deviations is not None:
            twice = 2.0 * self.deviations[order]
            ax.fill_between(x, -twice, twice, color=HUES[0], alpha=TINT, linewidth=0.0, zorder=1)
            ax.text(
                0.99, 0.97, "tint: twice the scatter of a point", transform=ax.transAxes, color=SOFT, fontsize="small",
                horizontalalignment="right", verticalalignment="top",
            )  # fmt: skip
        ax.axhline(0.0, color=HUES[0], linewidth=1.4, zorder=2)
        ax.vlines(x, 0.0, residuals, color=SOFT, linewidth=0.9, zorder=2)
        ax.plot(x, residuals, "o", markersize=5.5, markerfacecolor="white", markeredgecolor=INK, linestyle="none", zorder=3)
        ax.set_xlabel(self.labels[0])
        ax.set_ylabel(self.labels[1])
        return ax
