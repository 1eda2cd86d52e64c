"""The front door: fit any law to points, or a flow law to a flow curve."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import HasFlow
from rheokit.base.errors import FitError, printable
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.fitting.covariance import Spread, spread_of
from rheokit.fitting.engine import Solution, solve
from rheokit.fitting.general import solve_general
from rheokit.fitting.identify import few_points, plateaus, twins, unseen_plateaus
from rheokit.fitting.projection import can_project
from rheokit.fitting.request import BoolArray, Bounds, Request, as_columns, request
from rheokit.fitting.result import FIXED, Fit, FlowFit
from rheokit.fitting.weighting import Scale, Weighting, weighting_of
from rheokit.law import Law
from rheokit.models import MODELS

__all__ = ["fit_flow_curve", "fit_law", "model_of"]

Kind = TypeVar("Kind", bound=Fit)

# Share of rows left out above which it is more than worth knowing.
_MANY_LEFT_OUT = 0.1


def fit_flow_curve(
    curve: HasFlow,
    model: str | Law,
    *,
    weighting: str | ArrayLike = "relative",
    fixed: Mapping[str, float] | None = None,
    bounds: Bounds | None = None,
    start: Mapping[str, float] | None = None,
    floor: float = 0.0,
    scale: Scale = "estimated",
    other_solvers: bool | None = None,
) -> FlowFit:
    """Fit a flow law to a flow curve by weighted least squares in the stress.

    Points whose shear rate is not positive, or where a number is missing, are left out, and a finding says how many.

    Parameters
    ----------
    curve
        Anything with `shear_rate` [1/s] and `shear_stress` [Pa], both (N,).
    model
        Name of a model in `MODELS`, or any Law of shear stress over shear rate.
    weighting
        `"relative"`: standard deviations in proportion to the fitted stress, repeated until they settle. `"absolute"`: all alike.
        Or an array (N,) of standard deviations [Pa].
    fixed
        Parameter name to the value at which it is held.
    bounds
        Parameter name to (lower, upper), in place of those of the law.
    start
        Parameter name to a start; only laws without a guess need one.
    floor
        For relative weighting [Pa]: deviations go with the root of fitted² + floor², so that the lowest stresses do not rule.
    scale
        With an array: `"estimated"` takes only the ratios of the deviations and their scale from the residuals, `"known"` takes
        the deviations at their word.
    other_solvers
        Whether scipy's solvers are asked where the engine's own descents do not settle the answer. Left out, they are for any law but
        those in `MODELS`: whoever fits these by the thousand, or against the clock, never waits for scipy.

    Returns
    -------
    FlowFit
        Parameters as Estimates, curve, band, table and figure.

    Raises
    ------
    FitError
        When no fit can answer: too few points, an unknown name, a start or fixed value outside its bounds; the message says what to do.
    """
    law = model_of(model)
    rate, stress = as_columns(curve.shear_rate, curve.shear_stress, ("shear_rate", "shear_stress"))
    with np.errstate(invalid="ignore"):
        kept = np.isfinite(rate) & np.isfinite(stress) & (rate > 0.0)
    weights = weighting_of(weighting, floor=floor, scale=scale, kept=kept, unit="Pa")
    findings = _left_out(kept, "have a shear rate of zero or less, or no number,")
    asked = request(rate[kept], stress[kept], law, fixed=fixed, bounds=bounds, start=start)
    where = f"shear rates {number(rate[kept].min())} to {number(rate[kept].max())} 1/s"
    return _answer(FlowFit, asked, weights, findings=findings, where=where, others=other_solvers)


def fit_law(
    x: ArrayLike,
    y: ArrayLike,
    law: Law,
    *,
    weighting: str | ArrayLike = "absolute",
    fixed: Mapping[str, float] | None = None,
    bounds: Bounds | None = None,
    start: Mapping[str, float] | None = None,
    floor: float = 0.0,
    scale: Scale = "estimated",
    other_solvers: bool | None = None,
) -> Fit:
    """Fit any law to points by weighted least squares in y.

    Rows where a number is missing are left out, and a finding says how many; x may be negative or zero.

    Parameters
    ----------
    x
        Shape (N,), or (N, d) for a law of d variables.
    y
        Shape (N,).
    law
        What is fitted.
    weighting, fixed, bounds, start, floor, scale, other_solvers
        As in `fit_flow_curve`, standard deviations and floor in the unit of y.

    Returns
    -------
    Fit
        Parameters as Estimates, curve, band, table and figure.

    Raises
    ------
    FitError
        When no fit can answer: too few points, an unknown name, no guess and no start; the message says what to do.
    """
    first, second = as_columns(x, y, ("x", "y"))
    kept = np.isfinite(first.reshape(len(first), -1)).all(axis=1) & np.isfinite(second)
    weights = weighting_of(weighting, floor=floor, scale=scale, kept=kept, unit="")
    findings = _left_out(kept, "have no number")
    asked = request(first[kept], second[kept], law, fixed=fixed, bounds=bounds, start=start)
    return _answer(Fit, asked, weights, findings=findings, where=f"{asked.y.size} points", others=other_solvers)


def model_of(model: str | Law) -> Law:
    """Return a flow law by its name, or the law given.

    Raises
    ------
    FitError
        When no model has that name; the message lists them.
    """
    law = model if isinstance(model, Law) else MODELS.get(model)
    if law is None:
        raise FitError(f"unknown model {printable(model)!r}; the models are {', '.join(MODELS)}; any Law serves as well")
    return law


def _is_ours(law: Law) -> bool:
    return MODELS.get(law.name) is law


def _left_out(kept: BoolArray, because: str) -> tuple[Finding, ...]:
    count = int((~kept).sum())
    if not count:
        return ()
    many = count > _MANY_LEFT_OUT * kept.size
    reason = f"{count} of {kept.size} points {because} and {'is' if count == 1 else 'are'} left out".replace("  ", " ")
    return (Finding(check="rows_left_out", severity="caution" if many else "info", reason=reason, value=float(count), unit="1"),)


def _solved(asked: Request, weights: Weighting, others: bool | None) -> tuple[Solution, tuple[Finding, ...]]:
    """Solve a request: by the engine alone, unless that does not arrive or the law is one of its caller's and has no grid."""
    ours = _is_ours(asked.law)
    with np.errstate(all="ignore"):  # a law may overflow far from its data; what is no number there is refused
        solution = solve(asked, weights)
    if solution.converged and (can_project(asked) or not asked.free.any() or (ours and not _is_at_a_bound(asked, solution))):
        return solution, ()
    return solve_general(asked, weights, solution, others=not ours if others is None else others)


def _is_at_a_bound(asked: Request, solution: Solution) -> bool:
    """Tell whether a free parameter ended at a bound, where a law without a grid may be caught: Casson's slope by a zero is infinite."""
    point = solution.point
    return bool((asked.free & ((point == asked.lower) | (point == asked.upper))).any())


def _answer(
    kind: type[Kind], asked: Request, weights: Weighting, *, findings: tuple[Finding, ...], where: str, others: bool | None
) -> Kind:
    """Solve a request and put the answer into words."""
    solution, more = _solved(asked, weights, others)
    with np.errstate(all="ignore"):  # so may the sum of squares of a curve that no law fits; its scale is then said not to be known
        spread = spread_of(asked, solution, scale_known=weights.scale == "known")
    method = f"{asked.law.name.replace('_', ' ')} law by least squares over {where}; {weights.text}"
    estimates = {
        name: _estimate(index, asked=asked, solution=solution, spread=spread, method=method, weights=weights)
        for index, name in enumerate(asked.law.names)
    }
    return kind(
        request=asked,
        parameters=estimates,
        deviations=solution.deviations,
        spread=spread,
        weighting=weights,
        findings=findings + more + _seen(asked, solution, spread, estimates, weights),
        converged=solution.converged,
    )


def _estimate(index: int, *, asked: Request, solution: Solution, spread: Spread, method: str, weights: Weighting) -> Estimate:
    parameter, value = asked.law.parameters[index], float(solution.point[index])
    conditions: dict[str, Any] = {"law": Condition(value=asked.law.name), "weighting": Condition(value=weights.kind)}
    if parameter.unit.endswith("^n") and "flow_index" in asked.law.names:
        conditions["flow_index"] = Condition(value=float(solution.point[asked.law.names.index("flow_index")]), unit="1")
    common: dict[str, Any] = {"name": parameter.name, "value": value, "unit": parameter.unit, "conditions": conditions}
    if not asked.free[index]:
        return Estimate(**common, standard_error=None, method=FIXED, reason=FIXED)
    reason = spread.undetermined.get(parameter.name, "")
    if reason:
        return Estimate(**common, standard_error=None, method=method, determined=False, reason=reason)
    if parameter.name in spread.no_error:
        return Estimate(**common, standard_error=None, method=method, reason=spread.no_error[parameter.name])
    error = float(spread.covariance[index, index]) ** 0.5
    if not (np.isfinite(error) and error > 0.0):
        return Estimate(**common, standard_error=None, method=method, determined=False, reason="its standard error is no number")
    freedom = np.inf if weights.scale == "known" else float(asked.y.size - asked.free.sum())
    return Estimate(**common, standard_error=error, degrees_of_freedom=freedom, method=method, components={"fit": error})


def _seen(asked: Request, solution: Solution, spread: Spread, estimates: Mapping[str, Estimate], weights: Weighting) -> tuple[Finding, ...]:
    """Return what a person must know before using the numbers."""
    found = []
    if not solution.converged:
        more = ", or ask the solvers of scipy with other_solvers=True" if _is_ours(asked.law) else ""
        remedy = ("give a floor, a start, or" if weights.follows_fit else "give a start or") + f" a law with fewer parameters{more}"
        found.append(Finding(check="fit_not_converged", severity="caution", reason=f"{asked.law.name} did not converge; {remedy}"))
    for name, reason in spread.undetermined.items():
        said = f"{name.replace('_', ' ')} is not determined: {reason}"
        found.append(Finding(check="parameter_not_determined", severity="caution", reason=said, source=name))
    for name, estimate in estimates.items():
        relative = estimate.relative_standard_error
        if relative is not None and relative > 1.0:
            said = f"{name.replace('_', ' ')} is barely determined: its standard error exceeds its value"
            found.append(
                Finding(check="parameter_barely_determined", severity="caution", reason=said, value=relative, limit=1.0, source=name)
            )
    reached = plateaus(asked.law, asked.x, solution.point)
    found += unseen_plateaus(
        {name: reach for name, reach in reached.items() if estimates[name].determined and estimates[name].method != FIXED}
    )
    found += twins(asked.law, solution.point, spread.covariance)
    freedom = asked.y.size - int(asked.free.sum())
    found += few_points(freedom, scale_known=weights.scale == "known")
    misfit = float(solution.residual @ solution.residual) / max(freedom, 1)
    if weights.scale == "known" and freedom and misfit > 1.0 + 3.0 * (2.0 / freedom) ** 0.5:
        said = "the residuals are larger than the standard deviations given: the law does not fit, or they are too small"
        found.append(Finding(check="misfit", severity="caution", reason=said, value=misfit, limit=1.0 + 3.0 * (2.0 / freedom) ** 0.5))
    return tuple(found)
