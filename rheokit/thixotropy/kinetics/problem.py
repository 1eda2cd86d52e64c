"""The loads of one batch under one structure law: stresses and derivatives at every point, for any values of the parameters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FloatArray
from rheokit.law import Array, Law, Parameter
from rheokit.thixotropy.kinetics.history import RateHistory, join
from rheokit.thixotropy.kinetics.laws import LINEAR, NONLINEAR, PARAMETERS, StructureLaw, basis, taken_up
from rheokit.thixotropy.kinetics.recorded import RecordedLoad
from rheokit.thixotropy.kinetics.structure import KINETICS, equilibrium_points, refined, structure_along

__all__ = ["COUNT", "FACTOR", "START", "Problem", "Shared"]

COUNT = len(PARAMETERS)
"""How many parameters describe the ink; those of the loads follow them."""
START, FACTOR = "initial_structure", "load_factor"
# What a load factor may be: beyond, it is another ink or another gap.
_FACTORS = 0.5, 2.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Shared:
    """What of the points does not depend on parameters.

    Attributes
    ----------
    history
        Of all recorded loads, joined; None where there is only an equilibrium curve.
    rate, strain, stress
        Of all points, those of the equilibrium curve last, (N,).
    load
        Number of the load of each point, (N,).
    settled
        How many of the last points are of an equilibrium curve.
    """

    history: RateHistory | None
    rate: FloatArray
    strain: FloatArray
    stress: FloatArray
    load: NDArray[np.intp]
    settled: int

    @classmethod
    def of(cls, loads: Sequence[RecordedLoad], curve: tuple[FloatArray, FloatArray] | None) -> Shared:
        """Return the points of recorded loads and an equilibrium curve of rates and stresses."""
        history = join([load.history for load in loads]) if loads else None
        rate, stress = curve if curve is not None else (np.zeros(0), np.zeros(0))
        sizes = [load.stress.size for load in loads] + ([rate.size] if curve is not None else [])
        nothing = np.zeros(0)
        return cls(
            history=history,
            rate=np.concatenate([history.rate if history else nothing, rate]),
            strain=np.concatenate([history.strain if history else nothing, np.full(rate.size, np.inf)]),
            stress=np.concatenate([*(load.stress for load in loads), stress]),
            load=np.repeat(np.arange(len(sizes)), sizes),
            settled=rate.size,
        )

    def thinned(self, every: int) -> tuple[Shared, NDArray[np.intp]]:
        """Return only every so many-th point, on a history of fewer intervals, and the numbers of those points."""
        measured = self.rate.size - self.settled
        kept = np.concatenate([np.arange(0, measured, every), np.arange(measured, self.rate.size)])
        history = None if self.history is None else self.history.thinned(kept[kept < measured])
        thin = Shared(
            history=history, rate=self.rate[kept], strain=self.strain[kept], stress=self.stress[kept], load=self.load[kept],
            settled=self.settled,
        )  # fmt: skip
        return thin, kept

    @cached_property
    def log_rate(self) -> FloatArray:
        """Return the logarithms of the rates."""
        return np.log(self.rate)


@dataclass(frozen=True, kw_only=True, eq=False)
class Problem:
    """One structure law over the points of one batch.

    A point of parameters (p,) holds the ten of the general law, then the initial structure of each recorded load, then the factor of
    each load. The rows are the points and, behind them, one for each load factor: what is known of it beforehand.
    """

    law: StructureLaw
    shared: Shared
    starts: tuple[str, ...]
    factors: tuple[str, ...]
    known: bool
    """Whether a row tells of each load factor that it is 1 to a standard deviation; else they are all held."""
    slopes: tuple[str, ...] = (*KINETICS, "by_start")
    """Derivatives of the structure that are needed: those of what is free; the others count as 0."""
    forgets: float = 0.5
    """How much an interval may forget before it is cut; more serves a coarse search."""

    @cached_property
    def parameters(self) -> tuple[Parameter, ...]:
        """All parameters in their order."""
        starts = tuple(
            Parameter(f"{START}_{name}", symbol=r"\Lambda_0", lower=0.0, upper=1.0, meaning="when it began") for name in self.starts
        )
        factors = tuple(
            Parameter(f"{FACTOR}_{name}", symbol="f", lower=_FACTORS[0], upper=_FACTORS[1], meaning="scale of the stress of this load")
            for name in self.factors
        )
        return PARAMETERS + starts + factors

    @property
    def names(self) -> tuple[str, ...]:
        """Their names."""
        return tuple(parameter.name for parameter in self.parameters)

    @property
    def first_factor(self) -> int:
        """Where the load factors begin."""
        return COUNT + len(self.starts)

    @cached_property
    def as_law(self) -> Law:
        """Return the problem as a Law whose x is the number of a row, (N, 1): so that what is known of any fit serves here as well."""
        return Law(
            name=f"{self.law.name} structure law",
            parameters=self.parameters,
            value=self._values_of_rows,
            jacobian=self._slopes_of_rows,
        )

    def _values_of_rows(self, x: Array, *values: float) -> Array:
        return np.asarray(self.rows(np.array(values))[0][np.asarray(x)[:, 0].astype(int)])

    def _slopes_of_rows(self, x: Array, *values: float) -> Array:
        return np.asarray(self.rows(np.array(values))[1][np.asarray(x)[:, 0].astype(int)])

    def rows(self, point: FloatArray) -> tuple[Array, Array]:
        """Return the value of every row (N + F,) and its derivatives by all parameters, (N + F, p)."""
        return self.trial(point).rows(point[len(NONLINEAR) : COUNT])

    def trial(self, point: FloatArray) -> Trial:
        """Return what holds at a point whatever its linear parameters are."""
        shared = self.shared
        a, b, m, n, elastic = point[: len(NONLINEAR)]
        structure, by_structure, by_start = self._structure(a, b, m, point[COUNT : self.first_factor])
        share = taken_up(shared.strain, elastic)
        factor = point[self.first_factor :][shared.load]
        columns = basis(shared.rate, structure, share, n) * factor[:, None]
        return Trial(
            problem=self, point=point, structure=structure, by_structure=by_structure, by_start=by_start, share=share, columns=columns
        )

    def _structure(self, a: float, b: float, m: float, starts: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the structure (N,), its derivatives by a, b, m (N, 3) and by the initial structure (N - settled,)."""
        shared = self.shared
        parts, derivatives, by_start = [], [], np.zeros(0)
        if shared.history is not None:
            found = structure_along(refined(shared.history, a, b, m, self.forgets), a, b, m, starts, derivatives=self.slopes)
            slopes = np.zeros((found.value.shape[1], len(KINETICS)))
            for index, one in enumerate((found.by_build_up, found.by_breakdown, found.by_exponent)):
                if one is not None:
                    slopes[:, index] = one[0]
            parts.append(found.value[0])
            derivatives.append(slopes)
            by_start = np.zeros(len(slopes)) if found.by_start is None else found.by_start[0]
        if shared.settled:
            rate = shared.rate[-shared.settled :]
            value, *by = equilibrium_points(rate, np.array([[a]]), np.array([[b]]), np.array([[m]]))
            parts.append(value[0])
            derivatives.append(np.stack([one[0] for one in by], axis=1))
        return np.concatenate(parts), np.concatenate(derivatives), by_start

    def bases(self, kinetics: FloatArray, flow_index: float, elastic: float, starts: FloatArray) -> FloatArray:
        """Return the columns that the linear parameters multiply, (G, N, 5), for sets (G, 3) of a, b and m: for a coarse search."""
        shared = self.shared
        a, b, m = (kinetics[:, index] for index in range(3))
        parts = []
        if shared.history is not None:
            parts.append(structure_along(shared.history, a, b, m, starts).value)
        if shared.settled:
            rate = shared.rate[-shared.settled :]
            parts.append(equilibrium_points(rate, a[:, None], b[:, None], m[:, None])[0])
        structure = np.concatenate(parts, axis=1)
        return np.asarray(basis(shared.rate, structure, taken_up(shared.strain, elastic), flow_index))


@dataclass(frozen=True, kw_only=True, eq=False)
class Trial:
    """What holds at a point whatever its linear parameters are: structure (N,), its derivatives, and the columns they multiply, (N, 5)."""

    problem: Problem
    point: FloatArray
    structure: FloatArray
    by_structure: FloatArray
    by_start: FloatArray
    share: FloatArray
    columns: FloatArray

    def rows(self, linear: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the value of every row (N + F,) and its derivatives by all parameters, (N + F, p)."""
        shared, first, point = self.problem.shared, self.problem.first_factor, self.point
        size, known = shared.rate.size, len(self.problem.factors) if self.problem.known else 0
        factor = point[first:][shared.load]
        value = np.empty(size + known)
        value[:size] = self.columns @ linear
        value[size:] = point[first : first + known]
        jacobian = np.zeros((size + known, point.size))
        power = self.columns[:, 2]
        slope = linear[1] * self.share * factor + linear[3] * power
        jacobian[:size, :3] = slope[:, None] * self.by_structure
        jacobian[:size, 3] = (linear[2] + linear[3] * self.structure) * power * shared.log_rate
        elastic = point[4]
        if elastic > 0.0:
            left = np.where(np.isfinite(shared.strain), shared.strain, 0.0) * (1.0 - self.share)
            jacobian[:size, 4] = -(linear[0] + linear[1] * self.structure) * factor * left / elastic**2
        jacobian[:size, len(NONLINEAR) : COUNT] = self.columns
        rows, measured = np.arange(size), size - shared.settled
        jacobian[rows[:measured], COUNT + shared.load[:measured]] = slope[:measured] * self.by_start
        jacobian[rows, first + shared.load] = value[:size] / factor
        jacobian[size + np.arange(known), first + np.arange(known)] = 1.0
        return value, jacobian


assert tuple(parameter.name for parameter in PARAMETERS) == NONLINEAR + LINEAR, "the order that the derivatives rest on"
