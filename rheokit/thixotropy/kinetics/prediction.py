"""Predictions: the stresses of a load that was not measured, along a programme, with a band and what is read off them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError, printable
from rheokit.base.estimate import Estimate, estimates_table
from rheokit.base.finding import Finding
from rheokit.base.show import Table, number
from rheokit.statistics.student import student_quantile
from rheokit.thixotropy.kinetics.drawing import draw_prediction
from rheokit.thixotropy.kinetics.history import RateHistory
from rheokit.thixotropy.kinetics.problem import COUNT, Problem, Shared
from rheokit.thixotropy.kinetics.solving import Solved
from rheokit.thixotropy.kinetics.structure import equilibrium_points

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Known", "Prediction", "Reading", "predict"]

# A number moves along an unseen direction when it does so by more than this part of its size.
_NOTICED = 1e-6
# Rates beyond those measured by this factor, half a decade, are said: there the law speaks, not the data.
_FAR = 10.0**0.5


@dataclass(frozen=True, kw_only=True, eq=False)
class Known:
    """What a fit hands to a prediction.

    Points and law, best point, standard deviation between loads, degrees of freedom, findings, and the same of each kind of load alone
    where they misfit together.
    """

    problem: Problem
    solved: Solved
    load_deviation: float
    freedom: float
    findings: tuple[Finding, ...]
    others: tuple[Known, ...] = ()

    def error(self, slope: FloatArray, size: FloatArray) -> FloatArray:
        """Return standard errors of numbers (N,) from their slopes (N, 10) by the ink; infinite where the data leave them open."""
        seen, unseen = self.solved.spread.seen[:COUNT, :COUNT], self.solved.spread.unseen[:COUNT]
        error = np.sqrt(np.maximum(np.einsum("np,pq,nq->n", slope, seen, slope), 0.0))
        moved = np.abs(slope @ unseen).sum(axis=1)
        return np.where(moved > _NOTICED * np.abs(size), np.inf, error)


@dataclass(frozen=True, kw_only=True, eq=False)
class Prediction(Carried):
    """What a new load would show.

    Attributes
    ----------
    name
        Of the programme.
    time, shear_rate, shear_stress, structure
        Time [s], rate [1/s], stress [Pa] and structure parameter at the points of the programme, (N,).
    lower, upper
        Band of the stress [Pa], (N,), at `level`: uncertainty of the parameters and the stress scale of a new load, without the
        scatter of single points. Infinite where the data leave it open.
    kinds
        Kind of the step of each point.
    slope
        Derivatives of the stress by the ten parameters of the ink, (N, 10).
    estimates
        Name to what is read off: loop area, recoveries or peak.
    findings
        What is to be known before it is used.
    """

    name: str
    time: FloatArray
    shear_rate: FloatArray
    shear_stress: FloatArray
    structure: FloatArray
    lower: FloatArray
    upper: FloatArray
    level: float
    kinds: tuple[str, ...]
    slope: FloatArray
    estimates: tuple[Estimate, ...]
    findings: tuple[Finding, ...]

    def rows(self, kind: str) -> NDArray[np.intp]:
        """Return the numbers of the points of one kind of step."""
        return np.flatnonzero(np.array(self.kinds) == kind)

    def estimate(self, name: str) -> Estimate:
        """Return the first estimate of that name.

        Raises
        ------
        FitError
            When there is none; the message lists those there are.
        """
        for one in self.estimates:
            if one.name == name:
                return one
        there = ", ".join(dict.fromkeys(one.name for one in self.estimates)) or "none"
        raise FitError(f"{printable(self.name)} predicts no {printable(name)}; it predicts: {there}")

    @property
    def area(self) -> Estimate:
        """The area of the predicted loop [Pa/s]."""
        return self.estimate("loop_area")

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw stress and band, a loop over the rate and anything else over time, on the axes given or a new figure; return the axes."""
        return draw_prediction(
            time=self.time, rate=self.shear_rate, stress=self.shear_stress, band=(self.lower, self.upper), kinds=self.kinds,
            name=self.name, ax=ax,
        )  # fmt: skip

    def table(self) -> Table:
        """Return what is read off as a table."""
        table = estimates_table(self.estimates, title=self.name)
        return replace(table, notes=tuple(f"{finding.severity}: {finding}" for finding in self.findings))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


Reading = Callable[["Known", Prediction], tuple[Estimate, ...]]
"""What is read off a prediction."""


def predict(known: Known, history: RateHistory, kinds: tuple[str, ...], *, name: str, level: float, read: Reading) -> Prediction:
    """Return the prediction along a history, for a load that begins in equilibrium with its first rate.

    Raises
    ------
    FitError
        When the level does not lie between 0 and 1.
    """
    if not 0.0 < level < 1.0:
        raise FitError(f"level: {level!r} does not lie between 0 and 1")
    flowing = np.flatnonzero(history.rate > 0.0)
    points = replace(
        history, recorded=history.recorded[flowing], rate=history.rate[flowing], time=history.time[flowing],
        strain=history.strain[flowing], step=history.step[flowing],
    )  # fmt: skip
    size = flowing.size
    shared = Shared(
        history=points, rate=points.rate, strain=points.strain, stress=np.ones(size), load=np.zeros(size, dtype=np.intp), settled=0
    )
    problem = Problem(law=known.problem.law, shared=shared, starts=("new",), factors=("new",), known=False)
    ink = known.solved.solution.point[:COUNT]
    first = float(history.start_rate[1]) if history.start_rate.size > 1 else 0.0
    begun, *by_begun = (float(one[0, 0]) for one in equilibrium_points(np.array([first]), *(np.array([[value]]) for value in ink[:3])))
    trial = problem.trial(np.concatenate([ink, [begun, 1.0]]))
    value, jacobian = trial.rows(ink[5:COUNT])
    slope = jacobian[:, :COUNT].copy()
    slope[:, :3] += jacobian[:, COUNT, None] * np.array(by_begun)
    error = np.hypot(known.error(slope, value), known.load_deviation * value)
    half = student_quantile(0.5 + 0.5 * level, known.freedom) * error
    said = tuple(finding for finding in known.findings if finding.check in {"misfit", "fit_not_converged"})
    bare = Prediction(
        name=name, time=points.time, shear_rate=points.rate, shear_stress=value, structure=trial.structure, lower=value - half,
        upper=value + half, level=level, kinds=tuple(kinds[index] for index in flowing), slope=slope, estimates=(),
        findings=said + _beyond(known, points.rate) + _open(half),
    )  # fmt: skip
    found = replace(bare, estimates=read(known, bare))
    times = student_quantile(0.5 + 0.5 * level, known.freedom)
    for one in known.others:
        found = _widened(found, predict(one, history, kinds, name=name, level=level, read=read), times)
    return found


def _widened(found: Prediction, other: Prediction, times: float) -> Prediction:
    """Return a prediction moved half-way to that of one kind of load alone, by what their errors do not explain, and widened by it.

    Where one law misfits two tests together, a compromise of both is no better a guess than either, and the truth may lie anywhere
    between the two or a little beyond: the middle is predicted, with half of the unexplained difference as a standard deviation
    (between those of a rectangle from one to the other, 0.29, and of one as far again on either side, 0.87). Our own setting, held to its
    coverage by the prediction study.
    """
    apart = other.shear_stress - found.shear_stress
    own = 0.5 * (other.upper - other.lower) / times
    unexplained = np.maximum(apart**2 - _EXPLAINED * own**2, 0.0)
    stress = found.shear_stress + 0.5 * np.sign(apart) * np.sqrt(unexplained)
    half = np.sqrt((found.upper - found.shear_stress) ** 2 + times**2 * unexplained / 4.0)
    estimates = tuple(_doubted(one, two) for one, two in zip(found.estimates, other.estimates, strict=True))
    return replace(found, shear_stress=stress, lower=stress - half, upper=stress + half, estimates=estimates)


_EXPLAINED = 2.0
"""How many variances of the prediction from one kind of load count as explained by its errors."""


def _doubted(one: Estimate, two: Estimate) -> Estimate:
    if one.standard_error is None or two.standard_error is None:
        return one
    apart = two.value - one.value
    unexplained = max(apart**2 - _EXPLAINED * two.standard_error**2, 0.0)
    value, doubt = one.value + 0.5 * math.copysign(unexplained**0.5, apart), (unexplained / 4.0) ** 0.5
    parts = {**one.components, "fit": float(np.hypot(one.components["fit"], doubt))}
    return replace(one, value=value, standard_error=float(np.hypot(one.standard_error, doubt)), components=parts)


def _beyond(known: Known, rate: FloatArray) -> tuple[Finding, ...]:
    measured = known.problem.shared.rate
    low, high = float(measured.min()), float(measured.max())
    factor = max(low / float(rate.min()), float(rate.max()) / high)
    if factor <= _FAR:
        return ()
    span = f"the measured rates {number(low)} to {number(high)} 1/s"
    reason = f"reaches {number(factor, 2)} times beyond {span}: there the law speaks, not the data"
    return (Finding(check="extrapolation", severity="caution", reason=reason, value=factor, limit=_FAR, unit="1"),)


def _open(half: FloatArray) -> tuple[Finding, ...]:
    count = int(np.isinf(half).sum())
    if not count:
        return ()
    reason = f"{count} of {half.size} predicted points rest on what the data do not determine; their band is open"
    return (Finding(check="prediction_not_determined", severity="caution", reason=reason, value=float(count), unit="1"),)
