"""From where curves ended to their answers; curves that did not arrive take the way of a single curve."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.fitting.covariance import spread_of
from rheokit.fitting.engine import solve
from rheokit.fitting.general import solve_general
from rheokit.fitting.identify import DOUBT, SEEN
from rheokit.fitting.many_batch import Batch
from rheokit.fitting.many_finish import Finished
from rheokit.fitting.many_plan import Answer, Plan
from rheokit.fitting.many_points import Points
from rheokit.fitting.many_view import IndexArray, Kernel
from rheokit.fitting.projection import can_project
from rheokit.fitting.request import Request
from rheokit.fitting.slope import ROUNDING
from rheokit.fitting.weighting import Weighting

__all__ = ["answer_of", "answer_one_by_one", "no_answer", "replaced"]

# Size of residuals that are rounding: some of powers and logarithms, and what the steps leave. As in `covariance`.
_PERFECT = 64.0 * ROUNDING


def no_answer(plan: Plan, points: Points) -> Answer:
    """Return the answer for curves of which nothing is known yet."""
    shape = points.count.size, len(plan.law.names)
    return Answer(
        values=np.full(shape, np.nan),
        errors=np.full(shape, np.nan),
        determined=np.zeros(shape, dtype=bool),
        squares=np.full(shape[0], np.nan),
        converged=np.zeros(shape[0], dtype=bool),
        single=np.zeros(shape[0], dtype=bool),
        used=points.count,
    )


def answer_of(plan: Plan, batch: Batch, done: Finished) -> Answer:
    """Return the answer for curves that went together."""
    points, kernel = batch.points, batch.kernel
    count = len(kernel.linear)
    point = kernel.point(done.place[count:], list(done.place[:count]), batch.centre)
    variances, opened = kernel.spread(done.place, done.covariance, done.open, batch.centre)
    freedom = points.count - plan.free.sum()
    arrived = done.stationary & (points.count >= plan.needed)
    determined = ~opened & np.isfinite(variances) & arrived
    stress = np.where(np.array(kernel.scaled)[:, None], points.y_scale, 1.0)
    unit = 1.0 / (points.y_scale * points.weight_scale)
    if plan.scale == "estimated":
        determined &= freedom >= 1
        perfect = done.squares <= _PERFECT**2 * done.size
        unit = np.sqrt(np.where(perfect | (freedom < 1), np.nan, done.squares) / np.where(freedom < 1, 1, freedom))
    spread = np.sqrt(variances) * unit
    for name, share in _plateaus(points, kernel, point, spread).items():
        determined[plan.law.names.index(name)] &= share >= SEEN
    values, errors = point * stress, spread * stress
    # Scaling there and back may leave a bound or a held value off by a digit.
    if not plan.free.all():
        values = np.where(plan.free[:, None], values, plan.fixed[:, None])
    for bounds in (plan.lower, plan.upper):
        for index in np.flatnonzero(np.isfinite(bounds) & (bounds != 0.0)):
            bound = bounds[index]
            values[index][opened[index] & (np.abs(values[index] - bound) <= 4.0 * ROUNDING * abs(bound))] = bound
    determined[~plan.free] = True
    errors[~(determined & (errors > 0.0))] = np.nan
    errors[~plan.free] = np.nan
    return Answer(
        values=np.ascontiguousarray(values.T),
        errors=np.ascontiguousarray(errors.T),
        determined=np.ascontiguousarray(determined.T),
        squares=done.squares * (points.y_scale * points.weight_scale) ** 2,
        converged=arrived,
        single=np.zeros(points.count.size, dtype=bool),
        used=points.count,
    )


def _plateaus(points: Points, kernel: Kernel, point: FloatArray, spread: FloatArray) -> dict[str, FloatArray]:
    """Return for each plateau viscosity the share of it that is surely reached at its end of the rates, (B,), by the rule of `identify`.

    Parameters and their standard errors are (p, B).
    """
    found = {}
    for name, low_end in (("zero_shear_viscosity", True), ("infinite_shear_viscosity", False)):
        if name not in kernel.law.names:
            continue
        rates = points.x if points.used is None else np.where(points.used, points.x, np.inf if low_end else 0.0)
        last = rates.min(axis=0, keepdims=True) if low_end else rates.max(axis=0, keepdims=True)
        viscosity = kernel.law.value(last[0], *point) / last[0]
        index = kernel.law.names.index(name)
        doubt = DOUBT * np.nan_to_num(spread[index], nan=0.0, posinf=0.0)
        plateau = point[index] + doubt if low_end else np.maximum(point[index] - doubt, 0.0)
        found[name] = np.minimum(plateau, viscosity) / np.maximum(plateau, viscosity)
    return found


def replaced(answer: Answer, where: IndexArray, better: Answer) -> Answer:
    """Return an answer with that of some curves put in its place where they arrived."""
    to, of = where[better.converged], np.flatnonzero(better.converged)
    found = {field.name: getattr(answer, field.name).copy() for field in fields(Answer)}
    for name, values in found.items():
        values[to] = getattr(better, name)[of]
    return Answer(**found)


def answer_one_by_one(plan: Plan, answer: Answer, rates: FloatArray, stresses: FloatArray, deviations: FloatArray | None) -> Answer:
    """Return the answer with each curve that has points enough but did not arrive solved on its own."""
    left = np.flatnonzero(~answer.converged & (answer.used >= plan.needed))
    if left.size:
        answer = Answer(**{field.name: getattr(answer, field.name).copy() for field in fields(Answer)})
        answer.single[left] = True
    for index in left:
        rate = rates if rates.ndim == 1 else rates[index]
        kept = np.isfinite(rate) & (rate > 0.0) & np.isfinite(stresses[index])
        given = None
        if deviations is not None:
            given = (deviations if deviations.ndim == 1 else deviations[index])[kept]
        _solve_one(plan, answer, int(index), (rate[kept], stresses[index][kept], given))
    return _without_too_few(plan, answer)


def _solve_one(plan: Plan, answer: Answer, index: int, curve: tuple[FloatArray, FloatArray, FloatArray | None]) -> None:
    """Write the answer for one curve, its rates, stresses and deviations; one that no fit can answer keeps none."""
    rate, stress, given = curve
    kind: Literal["relative", "absolute", "given"] = "relative" if plan.follows else "absolute" if given is None else "given"
    weighting = Weighting(kind=kind, floor=plan.floor, given=given, scale=plan.scale, unit="Pa")
    request = Request(law=plan.law, x=rate, y=stress, lower=plan.lower, upper=plan.upper, fixed=plan.fixed, start=plan.start)
    try:
        solution = solve(request, weighting)
        if not (solution.converged or can_project(request)):
            solution = solve_general(request, weighting, solution, others=False)[0]
    except FitError:
        answer.values[index], answer.errors[index], answer.determined[index] = np.nan, np.nan, False
        answer.squares[index] = np.nan
        return
    spread = spread_of(request, solution, scale_known=plan.scale == "known")
    with np.errstate(invalid="ignore"):
        errors = np.sqrt(np.diag(spread.covariance))
    answer.values[index] = solution.point
    answer.errors[index] = np.where(errors > 0.0, errors, np.nan)
    answer.determined[index] = [name not in spread.undetermined for name in plan.law.names]
    answer.squares[index] = solution.residual @ solution.residual
    answer.converged[index] = solution.converged


def _without_too_few(plan: Plan, answer: Answer) -> Answer:
    """Return the answer with none for curves of too few points."""
    few = answer.used < plan.needed
    if not few.any():
        return answer
    return replace(
        answer,
        values=np.where(few[:, None], np.nan, answer.values),
        errors=np.where(few[:, None], np.nan, answer.errors),
        determined=answer.determined & ~few[:, None],
        squares=np.where(few, np.nan, answer.squares),
        converged=answer.converged & ~few,
    )
