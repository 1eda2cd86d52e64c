"""The front door: loop, step test, start-up and equilibrium curve of one batch to one set of structure parameters."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray, HasFlow
from rheokit.base.errors import FitError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.run import Run, Step
from rheokit.base.show import number
from rheokit.fitting.request import Bounds, Request, request
from rheokit.fitting.weighting import Weighting, weighting_of
from rheokit.thixotropy.kinetics.laws import NONLINEAR, StructureLaw, structure_law
from rheokit.thixotropy.kinetics.problem import COUNT, FACTOR, START, Problem, Shared
from rheokit.thixotropy.kinetics.recorded import RecordedLoad, recorded_load
from rheokit.thixotropy.kinetics.seen import findings_of
from rheokit.thixotropy.kinetics.solving import Solved, solve_structure
from rheokit.thixotropy.kinetics.structure import KINETICS
from rheokit.thixotropy.kinetics.structure_fit import FIXED, StructureFit

__all__ = ["Loads", "fit_structure"]

Loads = Run | RecordedLoad | Sequence[Step] | Sequence[Run] | Sequence[RecordedLoad]
"""One load (a run, steps of one, a recorded load) or several (runs or recorded loads)."""


def fit_structure(
    *,
    loop: Loads | None = None,
    step_test: Loads | None = None,
    startup: Loads | None = None,
    equilibrium: Loads | HasFlow | None = None,
    law: str | StructureLaw = "general",
    weighting: str | ArrayLike = "relative",
    floor: float = 0.0,
    load_deviation: float = 0.02,
    initial_structure: float | None = None,
    fixed: Mapping[str, float] | None = None,
    bounds: Bounds | None = None,
    start: Mapping[str, float] | None = None,
) -> StructureFit:
    """Fit everything measured on one batch to one set of structure parameters, by weighted least squares in the stress.

    Every step in its order counts, conditioning and rest included, with the rate as it was recorded. Each load has a stress scale of
    its own, known beforehand to be 1 to within `load_deviation`: without that the intervals would be those of one load, not of the batch.

    Parameters
    ----------
    loop, step_test, startup
        A run, its steps, or several runs: one load each.
    equilibrium
        The same, for steady steps whose history is known; or anything with `shear_rate` [1/s] and `shear_stress` [Pa] that was measured
        in equilibrium.
    law
        Name in `STRUCTURE_LAWS`, or a StructureLaw.
    weighting, floor
        As in `fit_flow_curve`; an array has one standard deviation [Pa] for each usable point, in the order loop, step test, start-up,
        equilibrium, and only its ratios count.
    load_deviation
        Relative standard deviation of the stress scale between loads. 2 % is the repeatability that good laboratories reach (common
        practice, no source); replace it by the laboratory's own. 0 holds all load factors at 1.
    initial_structure
        Structure parameter at the beginning of every load, or None to find that of each.
    fixed, bounds, start
        Parameter name to the value at which it is held, to (lower, upper) or to a start.

    Returns
    -------
    StructureFit
        Parameters as Estimates, what each load determines, predictions, table and figure.

    Raises
    ------
    FitError
        When no fit can answer: nothing measured, an unknown name, a step without a known rate; the message says what to do.

    References
    ----------
    Golub & Pereyra, SIAM J. Numer. Anal. 10 (1973) 413, for the separable least squares (from memory).
    """
    chosen = structure_law(law)
    named, curve = _named_loads(loop=loop, step_test=step_test, startup=startup, equilibrium=equilibrium)
    if not (math.isfinite(load_deviation) and load_deviation >= 0.0):
        raise FitError(f"load_deviation: {load_deviation!r} is not a relative standard deviation of zero or more")
    labels = tuple(label for label, _ in named) + (("equilibrium",) if curve is not None else ())
    problem = Problem(
        law=chosen, shared=Shared.of([load for _, load in named], curve), starts=tuple(label for label, _ in named), factors=labels,
        known=load_deviation > 0.0,
    )  # fmt: skip
    size = problem.shared.rate.size
    weights = weighting_of(weighting, floor=floor, scale="estimated", kept=np.ones(size, dtype=bool), unit="Pa")
    asked = _request(problem, fixed or {}, bounds, start or {}, initial_structure)
    problem = replace(problem, slopes=_needed(problem, asked))
    solved = solve_structure(problem, asked, weights, load_deviation)
    own = _without_factors(problem, asked, solved)
    estimates = {
        name: _estimate(problem, asked, solved, weights, index=index, own=float(own[index])) for index, name in _shown(problem, asked)
    }
    left_out = tuple(finding for _, load in named for finding in load.findings)
    found = left_out + findings_of(problem, asked, solved, estimates)
    tests = {kind: one for kind, one in (("loop", loop), ("step_test", step_test), ("startup", startup)) if one is not None}
    alone: dict[str, StructureFit] = {}
    if isinstance(weighting, str) and len(tests) > 1 and any(finding.check == "misfit" for finding in found):
        for kind in tests:
            kept = {name: one for name, one in tests.items() if name == kind}
            fit = fit_structure(
                loop=kept.get("loop"), step_test=kept.get("step_test"), startup=kept.get("startup"), law=chosen, weighting=weighting,
                floor=floor, load_deviation=load_deviation, initial_structure=initial_structure, fixed=fixed, bounds=bounds, start=start,
            )  # fmt: skip
            # At fewer different rates than the law has parameters no ink is determined, whatever the derivatives say where it ended.
            rates = np.unique(np.round(np.log(fit.problem.shared.rate), 2)).size
            if fit.converged and rates >= len(chosen.parameters) and not np.any(fit.solved.spread.unseen[:COUNT]):
                alone[kind] = fit
    return StructureFit(
        problem=problem, request=asked, solved=solved, weighting=weights, load_deviation=load_deviation,
        loads=tuple(load for _, load in named), parameters=estimates,
        findings=found, alone=alone,
    )  # fmt: skip


def _named_loads(**given: Any) -> tuple[list[tuple[str, RecordedLoad]], tuple[FloatArray, FloatArray] | None]:
    """Return the loads with their labels, and the equilibrium curve where one was given."""
    named: list[tuple[str, RecordedLoad]] = []
    curve = None
    for label, one in given.items():
        if one is None:
            continue
        if label == "equilibrium" and not isinstance(one, Run | RecordedLoad | list | tuple):
            curve = _curve(one)
            continue
        loads = _loads(one, label)
        several = len(loads) > 1
        named += [(f"{label}_{index}" if several else label, load) for index, load in enumerate(loads, 1)]
    if not named and curve is None:
        raise FitError("nothing to fit: give a loop, a step test, a start-up or an equilibrium curve")
    return named, curve


def _loads(given: Loads, label: str) -> list[RecordedLoad]:
    if isinstance(given, RecordedLoad):
        return [given]
    if isinstance(given, Run):
        return [recorded_load(given)]
    parts = list(given)
    if not parts:
        raise FitError(f"{label}: no runs and no steps")
    if isinstance(parts[0], Step):
        return [recorded_load([part for part in parts if isinstance(part, Step)], label)]
    return [part if isinstance(part, RecordedLoad) else recorded_load(part) for part in parts if isinstance(part, Run | RecordedLoad)]


def _curve(curve: HasFlow) -> tuple[FloatArray, FloatArray]:
    rate, stress = (np.asarray(values, dtype=np.float64) for values in (curve.shear_rate, curve.shear_stress))
    with np.errstate(invalid="ignore"):
        kept = np.isfinite(rate) & np.isfinite(stress) & (rate > 0.0) & (stress > 0.0)
    if not kept.any():
        raise FitError("equilibrium: no point with a positive rate and stress")
    return rate[kept], stress[kept]


def _request(
    problem: Problem, fixed: Mapping[str, float], bounds: Bounds | None, start: Mapping[str, float], initial_structure: float | None
) -> Request:
    held = dict(problem.law.held)
    for name in fixed:
        if name in held:
            raise FitError(f"fixed: {problem.law.name} holds {name} at {number(held[name])} already")
    for name, value in held.items():
        if bounds and name in bounds:
            raise FitError(f"bounds: {problem.law.name} holds {name} at {number(value)}")
    held |= dict(fixed)
    if initial_structure is not None:
        held |= {f"{START}_{label}": initial_structure for label in problem.starts}
    if not problem.known:
        held |= {f"{FACTOR}_{label}": 1.0 for label in problem.factors}
    told = np.ones(len(problem.factors) if problem.known else 0)
    y = np.concatenate([problem.shared.stress, told])
    return request(np.arange(y.size, dtype=np.float64)[:, None], y, problem.as_law, fixed=held, bounds=bounds, start=start)


def _needed(problem: Problem, asked: Request) -> tuple[str, ...]:
    """Return the derivatives of the structure that free parameters need."""
    kinetic = tuple(name for name, free in zip(KINETICS, asked.free, strict=False) if free)
    return (*kinetic, "by_start") if asked.free[COUNT : problem.first_factor].any() else kinetic


def _shown(problem: Problem, asked: Request) -> list[tuple[int, str]]:
    """Return number and name of the parameters to report: those of the law, and of the loads where they are free."""
    own = set(problem.law.names)
    return [(index, name) for index, name in enumerate(problem.names) if name in own or (index >= COUNT and asked.free[index])]


def _estimate(problem: Problem, asked: Request, solved: Solved, weights: Weighting, *, index: int, own: float) -> Estimate:
    """Return one parameter; `own` is the standard error that it would have if the stress scale of the loads were known."""
    parameter, point, spread = problem.parameters[index], solved.solution.point, solved.spread
    conditions: dict[str, Condition] = {"law": Condition(value=problem.law.name)}
    if parameter.unit.endswith("^n"):
        conditions["flow_index"] = Condition(value=float(point[NONLINEAR.index("flow_index")]), unit="1")
    if parameter.name == "breakdown_coefficient":
        conditions["breakdown_exponent"] = Condition(value=float(point[NONLINEAR.index("breakdown_exponent")]), unit="1")
    method = f"{problem.law.name.replace('_', ' ')} structure law by least squares over {', '.join(problem.factors)}; {weights.text}"
    common: dict[str, Any] = {"name": parameter.name, "value": float(point[index]), "unit": parameter.unit or "1", "conditions": conditions}
    if not asked.free[index]:
        return Estimate(**common, standard_error=None, method=FIXED, reason=FIXED)
    reason = spread.undetermined.get(parameter.name, "")
    variance = float(spread.covariance[index, index])
    if reason or not variance > 0.0:
        given = reason or spread.no_error.get(parameter.name, "its standard error is no number")
        return Estimate(**common, standard_error=None, method=method, determined=not reason, reason=given)
    freedom = max((asked.y.size - int(asked.free.sum())) / solved.memory, 1.0)
    error = variance**0.5
    fit = min(own, error) if math.isfinite(own) else error
    parts = {"fit": fit, "load": math.sqrt(max(error**2 - fit**2, 0.0))}
    return Estimate(**common, standard_error=error, degrees_of_freedom=freedom, method=method, components=parts)


def _without_factors(problem: Problem, asked: Request, solved: Solved) -> FloatArray:
    """Return the standard errors (p,) that all parameters would have if the load factors were known."""
    free = np.flatnonzero(asked.free)
    kept = np.array([index < problem.first_factor and np.isfinite(solved.spread.covariance[index, index]) for index in free], dtype=bool)
    columns = solved.solution.jacobian[:, kept]
    errors = np.full(len(problem.parameters), np.nan)
    if columns.size and np.isfinite(solved.spread.scale):
        norms = np.sqrt(np.einsum("np,np->p", columns, columns))
        triangle = np.linalg.qr(columns / norms, mode="r")
        inverse = np.linalg.pinv(triangle)
        errors[free[kept]] = np.sqrt(np.einsum("pq,pq->p", inverse, inverse)) / norms * solved.spread.scale
    return errors
