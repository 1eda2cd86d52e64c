"""Custom fits: any law handed over as a model of lmfit, for ties between parameters, expressions and sums of laws.

The one place where lmfit is imported. The engine of this folder is faster and more certain wherever it can say what is wanted.
"""

from __future__ import annotations

import inspect
from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.fitting.request import Bounds, Request, as_columns, request
from rheokit.law import Law

if TYPE_CHECKING:
    import lmfit

__all__ = ["CustomModel", "lmfit_model"]

# A start at a bound is moved inside by what changes the curve by this part of the data: there the solver has no slope to follow.
_INSIDE = 0.01


class CustomModel(NamedTuple):
    """An `lmfit.Model` and its `lmfit.Parameters`, with starts and bounds; symbol, unit and meaning are each one's `user_data`."""

    model: lmfit.Model
    parameters: lmfit.Parameters


def lmfit_model(
    law: Law,
    x: ArrayLike,
    y: ArrayLike,
    *,
    fixed: Mapping[str, float] | None = None,
    bounds: Bounds | None = None,
    start: Mapping[str, float] | None = None,
) -> CustomModel:
    """Hand a law over to lmfit.

    Tie parameters with `parameters["a"].set(expr="2 * b")`, add models to each other, then call
    `model.fit(y, parameters, x=x, weights=1 / deviations)`. Its standard errors are scaled by the residuals, as with
    `scale="estimated"`, unless it is told `scale_covar=False`.

    Parameters
    ----------
    law
        What is to be fitted.
    x, y
        Points to start from, (N, …) and (N,); rows where a number is missing are not looked at.
    fixed, bounds, start
        As in `fit_law`; a fixed parameter does not vary.

    Returns
    -------
    CustomModel
        The model, whose one independent variable is `x`, and its parameters.

    Raises
    ------
    FitError
        When a name, bound or start makes no sense, or there is neither guess nor start.
    """
    import lmfit  # noqa: PLC0415 - heavy, and only wanted by who wants custom fits

    first, second = as_columns(x, y, ("x", "y"))
    kept = np.isfinite(first.reshape(len(first), -1)).all(axis=1) & np.isfinite(second)
    asked = request(first[kept], second[kept], law, fixed=fixed, bounds=bounds, start=start)
    begin = _begin(asked)

    def curve(x: FloatArray, **values: float) -> FloatArray:
        return np.asarray(law.value(x, *(values[name] for name in law.names)))

    kind = inspect.Parameter.POSITIONAL_OR_KEYWORD
    curve.__signature__ = inspect.Signature([inspect.Parameter(name, kind) for name in ("x", *law.names)])  # type: ignore[attr-defined]  # any function may carry one
    model = lmfit.Model(curve, independent_vars=["x"], name=law.name)
    parameters = lmfit.Parameters()
    for index, parameter in enumerate(law.parameters):
        vary = bool(asked.free[index])
        parameters.add(parameter.name, value=begin[index], vary=vary, min=asked.lower[index], max=asked.upper[index])
        parameters[parameter.name].user_data = {"symbol": parameter.symbol, "unit": parameter.unit, "meaning": parameter.meaning}
    return CustomModel(model, parameters)


def _begin(asked: Request) -> FloatArray:
    """Return fixed values, starts and guesses (p,), those at a bound moved inside."""
    begin = asked.first_point(asked.free)
    missing = [name for name, value in zip(asked.law.names, begin, strict=True) if np.isnan(value)]
    if missing:
        raise FitError(f"{asked.law.name} has no guess for {', '.join(missing)}; give one with start={{{missing[0]!r}: …}}")
    with np.errstate(all="ignore"):
        norms = np.sqrt((asked.law.jacobian(asked.x, *begin) ** 2).sum(axis=0))
    inside = np.where((norms > 0.0) & np.isfinite(norms), _INSIDE * float(np.linalg.norm(asked.y)) / norms, _INSIDE)
    step = np.minimum(inside, 0.25 * (asked.upper - asked.lower))
    moved = np.where(begin <= asked.lower, asked.lower + step, np.where(begin >= asked.upper, asked.upper - step, begin))
    return np.where(asked.free, moved, begin)
