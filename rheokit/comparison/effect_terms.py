"""The terms of a model of effects: its columns at given runs, and what such runs cannot say."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import Literal

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import ComparisonError, FitError

__all__ = ["EFFECT_MODELS", "MIXTURE_TOLERANCE", "EffectModel", "Scale", "check_runs", "check_terms", "model_columns"]

EffectModel = Literal["mixture_linear", "mixture_quadratic", "main_effects", "interactions", "quadratic"]
EFFECT_MODELS: tuple[EffectModel, ...] = ("mixture_linear", "mixture_quadratic", "main_effects", "interactions", "quadratic")
"""Mixtures without an intercept (Scheffé), linear or with products; settings with an intercept, with products, with squares."""

Scale = Literal["logarithmic", "linear"]
"""A viscosity or yield stress is never negative and scatters in proportion: its logarithm is modelled unless told otherwise."""

MIXTURE_TOLERANCE = 1e-6
"""How far the shares of a mixture may add up to something other than one."""


def model_columns(x: FloatArray, factors: Sequence[str], model: EffectModel) -> tuple[FloatArray, tuple[str, ...]]:
    """Return the columns of the model and their names."""
    columns, names = [x[:, index] for index in range(len(factors))], list(factors)
    if not model.startswith("mixture"):
        columns, names = [np.ones(len(x)), *columns], ["constant", *names]
    if model in {"mixture_quadratic", "interactions", "quadratic"}:
        for one, other in combinations(range(len(factors)), 2):
            columns.append(x[:, one] * x[:, other])
            names.append(f"{factors[one]} × {factors[other]}")
    if model == "quadratic":
        for index, name in enumerate(factors):
            columns.append(x[:, index] ** 2)
            names.append(f"{name}²")
    return np.column_stack(columns), tuple(names)


def check_runs(x: FloatArray, y: FloatArray, factors: Sequence[str], model: EffectModel, scale: Scale) -> None:
    """Refuse runs without a number, mixtures that do not close, and responses without a logarithm where one is asked for."""
    if len(x) != y.size or not np.isfinite(x).all() or not np.isfinite(y).all():
        raise FitError(f"{len(x)} runs and {y.size} responses; there must be one number for each, none missing")
    if model.startswith("mixture"):
        off = np.flatnonzero(np.abs(x.sum(axis=1) - 1.0) > MIXTURE_TOLERANCE)
        if off.size:
            raise ComparisonError(f"run {off[0] + 1}: the shares of {', '.join(factors)} add up to {x[off[0]].sum():.6g}, not to 1")
    if scale == "logarithmic" and not np.all(y > 0.0):
        raise FitError("a response that is not positive has no logarithm; use scale='linear', and say why it may be negative")


def check_terms(matrix: FloatArray, terms: tuple[str, ...], count: int) -> None:
    """Refuse a model with more terms than runs, or with terms that stand for one another."""
    if count <= len(terms):
        raise FitError(f"{len(terms)} terms ({', '.join(terms)}) need more than {count} runs; make more runs or take a smaller model")
    sizes = np.linalg.norm(matrix, axis=0)
    absent = [name for name, size in zip(terms, sizes, strict=True) if size == 0.0]
    if absent:
        raise FitError(f"{', '.join(absent)} is zero in every run; leave it out")
    for place in range(1, matrix.shape[1] + 1):
        scaled = matrix[:, :place] / sizes[:place]
        if np.linalg.matrix_rank(scaled, tol=1e-9) == place:
            continue
        weights = np.linalg.lstsq(scaled[:, :-1], scaled[:, -1], rcond=None)[0]
        others = [name for name, weight in zip(terms[: place - 1], weights, strict=True) if abs(weight) > 1e-6]
        raise FitError(
            f"{terms[place - 1]} cannot be told from {' and '.join(others)} in these runs; leave one out or add runs that part them"
        )
