"""How a fit is drawn: points as open marks, the curve as a line, its band as a tint."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.quantities import quantity
from rheokit.base.show import resolve_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from rheokit.fitting.result import Fit

__all__ = ["draw_fit", "draw_flow_fit"]

_POINTS, _CURVE = "#3b3b3b", "#1f5f8b"


def draw_fit(fit: Fit, ax: Axes | None) -> Axes:
    """Draw any fit of one variable on linear axes."""
    if fit.x.ndim != 1:
        raise FitError(f"{fit.law.name} has more than one variable, so there is no one curve to draw")
    ax = resolve_axes(ax)
    _draw(fit, ax, np.linspace(fit.x.min(), fit.x.max(), 200))
    ax.set_xlabel("x")
    ax.set_ylabel(f"y [{fit.weighting.unit}]" if fit.weighting.unit else "y")
    return ax


def draw_flow_fit(fit: Fit, ax: Axes | None) -> Axes:
    """Draw a flow fit on logarithmic axes."""
    ax = resolve_axes(ax)
    ax.set_xscale("log")
    ax.set_yscale("log", nonpositive="mask")
    _draw(fit, ax, np.geomspace(fit.x.min(), fit.x.max(), 200))
    ax.set_xlabel(quantity("shear_rate").label)
    ax.set_ylabel(quantity("shear_stress").label)
    return ax


def _draw(fit: Fit, ax: Axes, x: FloatArray) -> None:
    ax.plot(fit.x, fit.y, "o", markerfacecolor="none", markeredgecolor=_POINTS, linestyle="none", label="measured")
    ax.plot(x, fit.value(x), color=_CURVE, label=fit.law.name.replace("_", " "))
    if fit.converged and fit.spread.scale > 0.0:
        lower, upper = fit.band(x)
        ax.fill_between(x, lower, upper, color=_CURVE, alpha=0.15, linewidth=0.0, label="95 % band")
