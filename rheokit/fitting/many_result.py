"""ManyFits: what was found for many curves, as arrays and as tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.finding import Finding
from rheokit.base.show import Table, data_frame, number
from rheokit.fitting.ends import plain_ends
from rheokit.fitting.fit import fit_flow_curve
from rheokit.fitting.request import BoolArray, Bounds
from rheokit.fitting.result import FlowFit
from rheokit.fitting.weighting import Scale
from rheokit.law import Law
from rheokit.statistics.student import student_quantile

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Asked", "ManyFits"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Asked:
    """What was asked of all curves, kept so that one of them can be looked at by itself.

    Attributes
    ----------
    rates, stresses
        (M,) or (N, M), and (N, M); the arrays given, not copies.
    weighting
        `"relative"`, `"absolute"`, or standard deviations (M,) or (N, M).
    fixed, bounds, start
        As in `fit_flow_curve`.
    """

    rates: FloatArray
    stresses: FloatArray
    weighting: str | FloatArray
    fixed: Mapping[str, float]
    bounds: Bounds
    start: Mapping[str, float]
    floor: float
    scale: Scale


@dataclass(frozen=True, eq=False)
class _Curve:
    shear_rate: FloatArray
    shear_stress: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class ManyFits(Carried):
    """One law fitted to many curves.

    Attributes
    ----------
    law
        What was fitted.
    values, errors
        Parameters and their standard errors in the order of the law, (N, p). A value is NaN where no fit can answer; an error is NaN
        where the parameter is fixed or not determined, or where no scatter is left to judge by.
    determined
        Whether the data determine each parameter, (N, p); where not, the value is not to be used.
    sum_of_squares
        Sums of squares of residuals over deviations, (N,).
    converged
        Whether each fit is at a minimum, (N,).
    one_by_one
        Which curves the batch did not settle, so that they were solved as single ones, (N,).
    used
        Number of points used, (N,).
    findings
        What was seen over all curves.
    """

    law: Law
    values: FloatArray
    errors: FloatArray
    determined: BoolArray
    sum_of_squares: FloatArray
    converged: BoolArray
    one_by_one: BoolArray
    used: NDArray[np.intp]
    findings: tuple[Finding, ...]
    asked: Asked

    def __post_init__(self) -> None:
        for name in ("values", "errors", "determined", "sum_of_squares", "converged", "one_by_one", "used"):
            getattr(self, name).setflags(write=False)

    def __len__(self) -> int:
        return len(self.values)

    def __getitem__(self, index: int) -> FlowFit:
        """Return one curve's fit with everything that belongs to it, made by fitting that curve alone.

        Raises
        ------
        IndexError
            When there is no such curve.
        FitError
            When no fit can answer; the message says why.
        """
        size = len(self)
        if not -size <= index < size:
            raise IndexError(f"curve {index} of {size}")
        asked, row = self.asked, index % size
        weighting = asked.weighting
        if not isinstance(weighting, str):
            weighting = weighting if weighting.ndim == 1 else weighting[row]
        return fit_flow_curve(
            _Curve(asked.rates if asked.rates.ndim == 1 else asked.rates[row], asked.stresses[row]),
            self.law,
            weighting=weighting,
            fixed=asked.fixed,
            bounds=asked.bounds,
            start=asked.start,
            floor=asked.floor,
            scale=asked.scale,
        )

    def intervals(self, level: float = 0.95) -> tuple[FloatArray, FloatArray]:
        """Return lower and upper ends of the interval of every parameter of every curve, (N, p) each; NaN where `errors` is.

        The rule is that of `FlowFit.interval`; a curve with a parameter at its bound, whose others need more than their standard errors, is
        fitted by itself for it.

        Raises
        ------
        FitError
            When the level does not lie between 0 and 1.
        """
        if not 0.0 < level < 1.0:
            raise FitError(f"level: {level!r} does not lie between 0 and 1")
        asked, names = self.asked, self.law.names
        free = np.array([name not in asked.fixed for name in names])
        bounds = np.array([asked.bounds.get(p.name, (p.lower, p.upper)) for p in self.law.parameters], dtype=np.float64)
        freedoms = np.full(len(self), np.inf) if asked.scale == "known" else self.used - float(free.sum())
        times = {freedom: student_quantile(0.5 + 0.5 * level, freedom) for freedom in set(freedoms[freedoms >= 1.0].tolist())}
        halves = np.array([times.get(freedom, np.nan) for freedom in freedoms.tolist()])[:, None] * self.errors
        lower, upper = plain_ends(self.law, self.values, halves)
        lower, upper = np.maximum(lower, bounds[:, 0]), np.minimum(upper, bounds[:, 1])
        pressed = (free & ((self.values == bounds[:, 0]) | (self.values == bounds[:, 1]))).any(axis=1)
        for index in np.flatnonzero(pressed & np.isfinite(self.errors).any(axis=1)).tolist():
            fit = self[index]
            for place, name in enumerate(names):
                if np.isfinite(self.errors[index, place]) and fit.parameters[name].standard_error is not None:
                    held = fit.interval(name, level)
                    lower[index, place], upper[index, place] = held.lower, held.upper
        return lower, upper

    @property
    def parameters(self) -> pd.DataFrame:
        """Parameters, one row a curve and one column a parameter."""
        return data_frame(dict(zip(self.law.names, self.values.T, strict=True)))

    @property
    def standard_errors(self) -> pd.DataFrame:
        """Standard errors, one row a curve and one column a parameter; NaN as in `errors`."""
        return data_frame(dict(zip(self.law.names, self.errors.T, strict=True)))

    def table(self) -> Table:
        """Return how the parameters are spread over the curves."""
        rows = []
        for index, parameter in enumerate(self.law.parameters):
            sound = self.values[self.determined[:, index], index]
            ends = np.quantile(sound, (0.05, 0.5, 0.95)) if sound.size else np.full(3, np.nan)
            rows.append((parameter.name.replace("_", " "), *(number(float(end)) for end in ends), parameter.unit, f"{sound.size}"))
        notes = (
            f"{len(self)} curves, {int(self.converged.sum())} converged; quantiles over the curves that determine a parameter",
            *(f"{finding.severity}: {finding}" for finding in self.findings),
        )
        columns = ("parameter", "5 %", "median", "95 %", "unit", "determined")
        title = f"{self.law.name.replace('_', ' ')}, many curves"
        return Table(title=title, columns=columns, rows=tuple(rows), notes=notes, right=("5 %", "median", "95 %", "determined"))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()
