"""The one visual language of figures: its colours, and how axes are dressed.

Measured points are open marks, fits lines, bands tints; labels stand beside what they name; an outcome is never colour alone.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis

__all__ = ["HUES", "INK", "RULE", "SOFT", "TINT", "dress", "plain"]

INK, SOFT, RULE = "#22313f", "#5d6b78", "#dfe4e8"
"""Points and words, what matters less, and rules."""
HUES = ("#2f3e9e", "#c08a12", "#2a9fb4", "#861f36")
"""Indigo, ochre, teal and wine: chosen so that any two stay apart for every kind of colour blindness (a test measures it)."""
TINT = 0.16
"""Opacity of a band."""

_SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
# Spans [decades] of a logarithmic axis up to which these steps between its decades are labelled too.
_STEPS = ((0.75, (2, 3, 4, 5, 7)), (1.05, (2, 3, 5)), (1.6, (2, 5)))


def plain(value: float) -> str:
    """Return a number as it stands on an axis: 200, 0.05 and 20 000, not powers of ten, as long as a person would write it so."""
    if value == 0.0 or not math.isfinite(value):
        return "0" if value == 0.0 else ""
    power = math.floor(math.log10(abs(value)) + 1e-9)
    if not -4 <= power <= 5:
        leading = value / 10.0**power
        times = "" if math.isclose(leading, 1.0, rel_tol=1e-6) else f"{leading:.3g}·"
        return f"{times}10{str(power).translate(_SUPERSCRIPT)}"
    shown = f"{value:,.{max(0, 3 - power)}f}" if power < 3 else f"{value:,.0f}"
    shown = shown.rstrip("0").rstrip(".") if "." in shown else shown
    return shown.replace(",", "\N{THIN SPACE}").replace("-", "\N{MINUS SIGN}")


def dress(ax: Axes, *, logarithmic: Literal["both", "x", "neither"] = "neither") -> None:
    """Dress axes: two quiet spines, rules behind the data, decades labelled plainly."""
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        ax.spines[side].set_color(SOFT)
    ax.tick_params(which="both", color=SOFT, labelcolor=INK, labelsize="medium")
    ax.tick_params(which="minor", labelsize="small", labelcolor=SOFT)
    ax.grid(visible=True, which="major", color=RULE, linewidth=0.8)
    ax.set_axisbelow(True)
    for label in (ax.xaxis.label, ax.yaxis.label):
        label.set_color(INK)
    if logarithmic in {"both", "x"}:
        ax.set_xscale("log")
        _label_decades(ax.xaxis)
    if logarithmic == "both":
        ax.set_yscale("log", nonpositive="mask")
        _label_decades(ax.yaxis)


def _label_decades(axis: Axis) -> None:
    """Label the decades of an axis plainly and, where it has few of them, steps between."""

    def between(value: float, _: float) -> str:
        low, high = (float(end) for end in sorted(axis.get_view_interval()))
        if low <= 0.0 or value <= 0.0:
            return ""
        span = math.log10(high / low)
        leading = round(value / 10.0 ** math.floor(math.log10(value) + 1e-9))
        shown = next((steps for widest, steps in _STEPS if span <= widest), ())
        return plain(value) if leading in shown else ""

    axis.set_major_formatter(lambda value, _: plain(value))
    axis.set_minor_formatter(between)
