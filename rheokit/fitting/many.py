"""The front door for many curves: one law fitted to each of them, by the same rules as one curve and a hundred times as fast."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError, printable
from rheokit.base.finding import Finding
from rheokit.fitting.fit import model_of
from rheokit.fitting.many_chunk import solve_chunk
from rheokit.fitting.many_plan import Answer, Plan
from rheokit.fitting.many_result import Asked, ManyFits
from rheokit.fitting.request import Bounds, request
from rheokit.fitting.weighting import Scale, weighting_of
from rheokit.law import Law

__all__ = ["fit_many"]

# Numbers in one array of a chunk: what is handed to a worker at a time.
_CHUNK = 1_200_000
# Chunks handed out at a time: enough to keep workers busy, few enough to keep memory flat.
_AHEAD = 8
# Share of curves above which a finding is more than worth knowing.
_MANY = 0.1

Progress = Callable[[int, int], None]
Chunk = tuple[FloatArray, FloatArray, FloatArray | None, int]
"""Rates, stresses, standard deviations and the number of the first curve."""


def fit_many(
    rates: ArrayLike,
    stresses: ArrayLike,
    model: str | Law,
    *,
    weighting: str | ArrayLike = "relative",
    fixed: Mapping[str, float] | None = None,
    bounds: Bounds | None = None,
    start: Mapping[str, float] | None = None,
    floor: float = 0.0,
    scale: Scale = "estimated",
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> ManyFits:
    """Fit a flow law to each of many flow curves.

    The models in `MODELS` are solved for thousands of curves at a time; a curve that is not settled so is solved by itself, as is every
    curve under any other law. Nothing is copied but a chunk at a time, so memory does not grow with the number of curves.

    Parameters
    ----------
    rates
        Shear rates [1/s]: (M,) for all curves, or (N, M). Fastest where all curves share them.
    stresses
        Shear stresses [Pa], (N, M). A point whose stress or rate is missing (NaN), or whose rate is not positive, is left out.
    model
        Name of a model in `MODELS`, or any Law of shear stress over shear rate.
    weighting
        `"relative"`, `"absolute"`, or standard deviations [Pa], (M,) or (N, M); as in `fit_flow_curve`.
    fixed, bounds, floor, scale
        As in `fit_flow_curve`, for all curves.
    start
        Parameter name to a start for all curves; where given, their searches begin there instead of on a grid, unless that is cheaper.
    executor
        Any executor of `concurrent.futures`, or what behaves like one: chunks of curves are solved by its workers. The numbers are the
        same to the last digit. Worker processes take only laws that can be pickled.
    progress
        Called with the number of curves done and the number of all, after every chunk.

    Returns
    -------
    ManyFits
        Parameters, standard errors, sums of squares; `[i]` gives the whole fit of one curve.

    Raises
    ------
    FitError
        When shapes do not agree, a name or bound makes no sense, or a standard deviation is not positive. A curve that no fit can answer
        raises nothing: its values are NaN and a finding counts it.
    """
    law = model_of(model)
    rate, stress = np.asarray(rates, dtype=np.float64), np.asarray(stresses, dtype=np.float64)
    deviations = None if isinstance(weighting, str) else np.asarray(weighting, dtype=np.float64)
    _check_shapes(rate, stress, deviations)
    plan = _plan(law, weighting, fixed=fixed, bounds=bounds, start=start, floor=floor, scale=scale)
    chunks = _chunks(rate, stress, deviations)
    whole, done = Answer.room(len(stress), len(law.names)), 0
    for answer in map(_here(plan), chunks) if executor is None else _elsewhere(executor, plan, chunks):
        done = whole.put(done, answer)
        if progress is not None:
            progress(done, len(stress))
    asked = Asked(
        rates=rate,
        stresses=stress,
        weighting=str(weighting) if deviations is None else deviations,
        fixed=dict(fixed or {}),
        bounds=dict(bounds or {}),
        start=dict(start or {}),
        floor=floor,
        scale=scale,
    )
    return ManyFits(
        law=law,
        values=whole.values,
        errors=whole.errors,
        determined=whole.determined,
        sum_of_squares=whole.squares,
        converged=whole.converged,
        one_by_one=whole.single,
        used=whole.used,
        findings=_findings(plan, whole, stress.shape),
        asked=asked,
    )


def _check_shapes(rate: FloatArray, stress: FloatArray, deviations: FloatArray | None) -> None:
    """Refuse arrays that do not belong together."""
    if stress.ndim != 2 or not stress.size:
        raise FitError(f"stresses: an array of shape (curves, points) is needed, not {stress.shape}; one curve goes to fit_flow_curve")
    for name, array in (("rates", rate), ("weighting", deviations)):
        if array is not None and array.shape not in {stress.shape, stress.shape[1:]}:
            raise FitError(f"{name} of shape {array.shape} for stresses of shape {stress.shape}: give {stress.shape[1:]} or {stress.shape}")


def _plan(
    law: Law,
    weighting: str | ArrayLike,
    *,
    fixed: Mapping[str, float] | None,
    bounds: Bounds | None,
    start: Mapping[str, float] | None,
    floor: float,
    scale: Scale,
) -> Plan:
    """Return what is asked, checked as for one curve: on points that stand for all."""
    points = np.arange(1.0, len(law.names) + 1.0)
    kept = np.ones(points.size, dtype=bool)
    words = weighting if isinstance(weighting, str) else points
    weights = weighting_of(words, floor=floor, scale=scale, kept=kept, unit="Pa")
    asked = request(points, points, law, fixed=fixed, bounds=bounds, start=start)
    if law.guess is None and np.isnan(asked.start[asked.free]).any():
        names = [name for name in law.names if name not in (start or {}) and name not in (fixed or {})]
        raise FitError(f"{law.name} has no guess for {', '.join(map(printable, names))}; give one with start={{{names[0]!r}: …}}")
    return Plan(
        law=law,
        lower=asked.lower,
        upper=asked.upper,
        fixed=asked.fixed,
        start=asked.start,
        follows=weights.follows_fit,
        floor=weights.floor,
        scale=weights.scale,
    )


def _chunks(rate: FloatArray, stress: FloatArray, deviations: FloatArray | None) -> Iterator[Chunk]:
    size = max(_CHUNK // stress.shape[1], 1)
    for begin in range(0, len(stress), size):
        part = slice(begin, begin + size)
        given = deviations if deviations is None or deviations.ndim == 1 else deviations[part]
        yield rate if rate.ndim == 1 else rate[part], stress[part], given, begin


def _here(plan: Plan) -> Callable[[Chunk], Answer]:
    return lambda chunk: solve_chunk(plan, *chunk)


def _elsewhere(executor: Executor, plan: Plan, chunks: Iterator[Chunk]) -> Iterator[Answer]:
    """Yield the answers of chunks in their order, a few of them at work at a time."""
    running: list[Future[Answer]] = []
    try:
        for chunk in chunks:
            running.append(executor.submit(solve_chunk, plan, *chunk))
            if sum(not future.done() for future in running) >= _AHEAD:
                wait([future for future in running if not future.done()], return_when=FIRST_COMPLETED)
            while running and running[0].done():
                yield running.pop(0).result()
        while running:
            yield running.pop(0).result()
    finally:
        for future in running:
            future.cancel()


def _findings(plan: Plan, answer: Answer, shape: tuple[int, ...]) -> tuple[Finding, ...]:
    """Say what a person must know before using the numbers."""
    curves, points = shape
    few = answer.used < plan.needed
    none = np.isnan(answer.values[:, 0]) & ~few  # where there is no fit, there is no value
    stray = ~answer.converged & ~few & ~none
    counted = [
        ("rows_left_out", curves * points - int(answer.used.sum()), curves * points, "points", "have no positive shear rate or no number"),
        ("too_few_points", int(np.count_nonzero(few)), curves, "curves", f"have fewer than {plan.needed} usable points and no fit"),
        ("no_fit", int(np.count_nonzero(none)), curves, "curves", "have no fit; ask for one of them by itself to be told why"),
        ("fit_not_converged", int(np.count_nonzero(stray)), curves, "curves", "did not converge"),
    ]
    for index, name in enumerate(plan.law.names):
        open_ones = int(np.count_nonzero(answer.converged & ~answer.determined[:, index]))
        counted.append(("parameter_not_determined", open_ones, curves, "curves", f"do not determine {name.replace('_', ' ')}"))
    return tuple(
        Finding(
            check=check,
            severity="caution" if count > _MANY * whole or check == "fit_not_converged" else "info",
            reason=f"{count} of {whole} {what} {said}",
            value=float(count),
            unit="1",
        )
        for check, count, whole, what, said in counted
        if count
    )
