"""Dynamic yield stress: where a named law says that the flow of the broken ink would come to rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from rheokit.base.curve import FlowCurve, HasFlow
from rheokit.base.errors import FitError, printable
from rheokit.base.finding import Finding
from rheokit.base.look import HUES
from rheokit.base.run import Step
from rheokit.base.show import number
from rheokit.fitting import FlowFit, fit_flow_curve
from rheokit.models import MODELS
from rheokit.statistics.runs import runs_probability
from rheokit.yielding.drawing import level_line
from rheokit.yielding.low_rate import usable_points
from rheokit.yielding.reading_off import YieldReading, stated

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["YIELD_LAWS", "DynamicYield", "dynamic_yield_stress", "too_far_below"]

YIELD_LAWS: Mapping[str, str] = MappingProxyType(
    {
        "herschel_bulkley": "yield_stress",
        "bingham": "yield_stress",
        "casson": "casson_yield_stress",
        "herschel_bulkley_plateau": "yield_stress",
    }
)
"""Law by which a dynamic yield stress is taken, and the parameter that is its yield stress."""

LEAST_SPAN, LEAST_SHARE = 10.0, 0.5
"""Our own settings: a decade of rate, and half of the lowest stress measured; beyond them the law decides and not the points."""

STREAKS = 0.01
"""Probability of residuals in so long streaks below which the law is said not to follow the points."""


@dataclass(frozen=True, kw_only=True, eq=False)
class DynamicYield(YieldReading):
    """A dynamic yield stress, and the fit of the law that it was taken by."""

    fit: FlowFit

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the fit and its yield stress on the axes given, else on a new figure, and return the axes."""
        ax = self.fit.plot(ax)
        level_line(ax, self.stress, HUES[3], across=(float(self.fit.x.min()), float(self.fit.x.max())))
        return ax


def dynamic_yield_stress(curve: HasFlow, *, law: str = "herschel_bulkley") -> DynamicYield:
    """Return the dynamic yield stress of a down leg or steady steps by a named law.

    Parameters
    ----------
    curve
        A step (of a stair the last row at each rate counts), or anything with `shear_rate` [1/s] and `shear_stress` [Pa], (N,).
    law
        One of YIELD_LAWS.

    Returns
    -------
    DynamicYield
        Its stress is not determined where the points lie too far above it, or the law's own fit does not determine it.

    Raises
    ------
    FitError
        When the law is none of them, or there are too few points.
    """
    if law not in YIELD_LAWS:
        raise FitError(f"a dynamic yield stress is taken by one of {', '.join(YIELD_LAWS)}, not {printable(law)!r}")
    points = usable_points(curve)
    fit = fit_flow_curve(points, law)
    found = fit.parameters[YIELD_LAWS[law]]
    far = too_far_below(points, found.value) if found.determined else ""
    if far:
        found = replace(found, determined=False, reason=far)
    where = f"the {curve.kind} step" if isinstance(curve, Step) else "the points"
    words = law.replace("_", "-").title()
    estimate = replace(
        found,
        name="dynamic_yield_stress",
        method=f"{words} law on {where}; {found.method}",
        conditions={**found.conditions, **stated(law)},
        findings=(*found.findings, *fit.findings, *_streaks(fit)),
    )
    return DynamicYield(estimates=(estimate,), findings=estimate.findings, fit=fit)


def too_far_below(curve: FlowCurve, yield_stress: float) -> str:
    """Say why a yield stress lies too far below the points to be read from them, or nothing."""
    lowest, highest = float(curve.shear_rate.min()), float(curve.shear_rate.max())
    if highest < LEAST_SPAN * lowest:
        return f"the points span {number(lowest, 3)} to {number(highest, 3)} 1/s, less than a decade; measure lower rates"
    share = yield_stress / float(curve.shear_stress.min())
    if share < LEAST_SHARE:
        return f"it is only {share:.0%} of the lowest stress measured: an extrapolation; measure lower rates"
    return ""


def _streaks(fit: FlowFit) -> tuple[Finding, ...]:
    """Return a caution where the residuals go in streaks: the law does not follow the points, and its yield stress follows the law."""
    chance = runs_probability(fit.residuals[fit.x.argsort(kind="stable")])
    if chance >= STREAKS:
        return ()
    name = fit.law.name.replace("_", " ")
    said = f"the residuals go in streaks: {name} does not follow the points, so where it says flow would cease hangs on the law"
    return (Finding(check="law_does_not_follow", severity="caution", reason=said, value=chance, limit=STREAKS, unit="1"),)


if not all(parameter in MODELS[law].names for law, parameter in YIELD_LAWS.items()):
    raise AssertionError("a law of the dynamic yield stress has no such parameter")
