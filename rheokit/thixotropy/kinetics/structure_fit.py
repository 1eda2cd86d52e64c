"""StructureFit: one set of structure parameters for a batch, what each load determines of it, and what it predicts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import RangeError
from rheokit.base.estimate import Condition, Estimate
from rheokit.base.finding import Finding
from rheokit.base.run import Run, Step
from rheokit.base.show import Table, number, value_and_error
from rheokit.fitting.request import Request
from rheokit.fitting.weighting import Weighting
from rheokit.statistics.student import student_quantile
from rheokit.thixotropy.kinetics.drawing import draw_fit
from rheokit.thixotropy.kinetics.prediction import Known, Prediction, Reading, predict
from rheokit.thixotropy.kinetics.problem import COUNT, Problem
from rheokit.thixotropy.kinetics.programme import Programme, startup_programme, step_test_programme
from rheokit.thixotropy.kinetics.read_off import loop_estimates, peak_estimates, recovery_estimates
from rheokit.thixotropy.kinetics.recorded import RecordedLoad, recorded_load
from rheokit.thixotropy.kinetics.solving import Solved, spread_in

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["FIXED", "StructureFit"]

FIXED = "fixed by the caller"
"""Method of a parameter that was not fitted."""


@dataclass(frozen=True, kw_only=True, eq=False)
class StructureFit(Carried):
    """One structure law fitted to the loads of one batch.

    Attributes
    ----------
    problem, request, solved
        Points and law, what was asked, and the best point with its uncertainty.
    weighting, load_deviation
        How points were weighted, and the standard deviation of the stress scale between loads.
    loads
        The recorded loads, in the order of the points.
    parameters
        Name to Estimate: those of the law, then the initial structure and stress scale of each load.
    findings
        What was seen on the way.
    alone
        Where the loads misfit together: kind of load to the fit of it alone, if it determines an ink. Predictions are widened by what
        these fits predict otherwise.
    """

    problem: Problem
    request: Request
    solved: Solved
    weighting: Weighting
    load_deviation: float
    loads: tuple[RecordedLoad, ...]
    parameters: Mapping[str, Estimate]
    findings: tuple[Finding, ...]
    alone: Mapping[str, StructureFit] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "alone", MappingProxyType(dict(self.alone)))
        object.__setattr__(self, "parameters", MappingProxyType(dict(self.parameters)))

    @property
    def ink(self) -> dict[str, float]:
        """Values of all ten parameters of the general law, those held included."""
        return dict(zip(self.problem.names[:COUNT], self.solved.solution.point[:COUNT].tolist(), strict=True))

    @property
    def converged(self) -> bool:
        """Whether the sum of squares is at a minimum under deviations that have settled."""
        return self.solved.solution.converged

    @property
    def sum_of_squares(self) -> float:
        """Sum of squares of residuals over deviations, load factors included: what was minimised."""
        return float(self.solved.solution.residual @ self.solved.solution.residual)

    @property
    def degrees_of_freedom(self) -> int:
        """Points and known load factors less free parameters."""
        return self.request.y.size - int(self.request.free.sum())

    @property
    def fitted(self) -> FloatArray:
        """Fitted stress [Pa] at every point, (N,)."""
        size = self.problem.shared.rate.size
        return np.asarray(self.problem.rows(self.solved.solution.point)[0][:size])

    @property
    def residuals(self) -> FloatArray:
        """Measured less fitted stress [Pa], (N,)."""
        return self.problem.shared.stress - self.fitted

    def breakdown_rate(self, shear_rate: float) -> Estimate:
        """Return the rate [1/s] at which structure breaks at a shear rate [1/s], b rate^m: comparable where b alone is not."""
        point, names = self.solved.solution.point, self.problem.names
        b, m = point[names.index("breakdown_coefficient")], point[names.index("breakdown_exponent")]
        value = float(b * shear_rate**m)
        slope = np.zeros(len(names))
        slope[names.index("breakdown_coefficient")] = shear_rate**m
        slope[names.index("breakdown_exponent")] = value * np.log(shear_rate)
        return self._derived("breakdown_rate", value, "1/s", slope, {"shear_rate": Condition(value=shear_rate, unit="1/s")})

    def _derived(self, name: str, value: float, unit: str, slope: FloatArray, conditions: dict[str, Condition]) -> Estimate:
        variance = float(slope @ self.solved.spread.seen @ slope)
        moved = float(np.abs(slope @ self.solved.spread.unseen).sum())
        method = f"from the {self.problem.law.name} structure law, by the delta method"
        if moved > 1e-6 * abs(value) or not variance > 0.0:
            reason = "it rests on what the data do not determine"
            return Estimate(
                name=name,
                value=value,
                unit=unit,
                standard_error=None,
                method=method,
                conditions=conditions,
                determined=False,
                reason=reason,
            )
        error = variance**0.5
        return Estimate(
            name=name, value=value, unit=unit, standard_error=error, method=method, conditions=conditions,
            degrees_of_freedom=max(self.degrees_of_freedom / self.solved.memory, 1.0), components={"fit": error},
        )  # fmt: skip

    def predict_loop(self, programme: Programme | Run | Sequence[Step], *, level: float = 0.95) -> Prediction:
        """Return the stresses of a new load along a loop, with a band and the loop area.

        Parameters
        ----------
        programme
            Of shear rate with an up and a down piece, such as `loop_programme` returns; or a measured run, or its steps, whose course
            of the rate is then taken point for point.
        level
            Probability with which the band covers at one point.

        Raises
        ------
        FitError
            When there is no up or down piece.
        """
        if isinstance(programme, Programme):
            return self._along(programme, level, loop_estimates)
        load = recorded_load(programme)
        return predict(self._known, load.history, load.kinds, name=load.name, level=level, read=loop_estimates)

    def predict_recovery(
        self,
        shear_rate: float,
        *,
        low_rate: float = 0.5,
        shear: float = 60.0,
        before: float = 120.0,
        after: float = 300.0,
        level: float = 0.95,
    ) -> Prediction:
        """Return a step test of a new load: low, other and low rate [1/s], durations [s], from equilibrium at the first.

        Raises
        ------
        RangeError
            When the shear is not faster than the low rate: it takes nothing that could come back.
        """
        if not 0.0 < low_rate < shear_rate:
            raise RangeError(
                f"shear at {shear_rate!r} 1/s takes nothing from an ink at {low_rate!r} 1/s; state a low rate above 0 and a higher one"
            )
        programme = step_test_programme(shear_rate=shear_rate, low_rate=low_rate, before=before, shear=shear, after=after)
        return self._along(programme, level, recovery_estimates)

    def predict_startup(self, rest: float, *, shear_rate: float = 0.1, duration: float = 120.0, level: float = 0.95) -> Prediction:
        """Return a start-up of a new load at a rate [1/s] after pre-shear and a rest [s], with its highest stress.

        Under a law without an elastic strain there is no rising flank: the stress begins at its highest.

        Raises
        ------
        RangeError
            When the rate is not above zero.
        """
        if not shear_rate > 0.0:
            raise RangeError(f"a start-up at {shear_rate!r} 1/s starts nothing; state a rate above zero")
        return self._along(startup_programme(shear_rate=shear_rate, rest=rest, duration=duration), level, peak_estimates)

    def _along(self, programme: Programme, level: float, read: Reading) -> Prediction:
        history = programme.history()
        kinds = tuple(programme.pieces[step - 1].kind for step in history.step.tolist())
        return predict(self._known, history, kinds, name=programme.name, level=level, read=read)

    @property
    def _known(self) -> Known:
        return Known(
            problem=self.problem,
            solved=self.solved,
            load_deviation=self.load_deviation,
            freedom=max(self.degrees_of_freedom / self.solved.memory, 1.0),
            findings=self.findings,
            others=tuple(fit._known for fit in self.alone.values()),
        )

    def identifiability(self, level: float = 0.95) -> Table:
        """Return the half width of each parameter's interval from each kind of load alone and from all, at the joint best point."""
        kinds = list(dict.fromkeys(_kind(name) for name in self.problem.factors))
        columns = [(f"{kind.replace('_', ' ')} alone", self._widths(level, kind)) for kind in kinds] if len(kinds) > 1 else []
        columns.append(("both" if len(kinds) == 2 else "all", self._widths(level, None)))
        rows, said = [], []
        for index, name in enumerate(self.problem.names[:COUNT]):
            if not self.request.free[index]:
                continue
            rows.append(
                (name.replace("_", " "), number(float(self.solved.solution.point[index])), *(widths[0][index] for _, widths in columns))
            )
        for title, (_, reasons) in columns:
            said += _worded(title, reasons)
        names = tuple(title for title, _ in columns)
        return Table(
            title=f"half width of {number(100.0 * level, 3)} % intervals", columns=("parameter", "value", *names), rows=tuple(rows),
            notes=tuple(said), right=("value", *names),
        )  # fmt: skip

    def _widths(self, level: float, kind: str | None) -> tuple[list[str], dict[str, str]]:
        """Return half widths as text (10,) from the loads of one kind, and why there are none."""
        if kind is None:
            spread = self.solved.spread
        else:
            loads = np.array([index for index, name in enumerate(self.problem.factors) if _kind(name) == kind])
            spread = spread_in(self.problem, self.request, self.solved, loads)
        times = student_quantile(0.5 + 0.5 * level, max(self.degrees_of_freedom / self.solved.memory, 1.0))
        reasons = {name: reason for name, reason in spread.undetermined.items() if name in self.problem.names[:COUNT]}
        errors = [float(spread.covariance[index, index]) for index in range(COUNT)]
        return [number(times * error**0.5, 2) if np.isfinite(error) and error > 0.0 else "not determined" for error in errors], reasons

    def table(self) -> Table:
        """Return the parameters as a table, with how they were found and what was seen."""
        rows = []
        for name, estimate in self.parameters.items():
            value, error = value_and_error(estimate.value, estimate.standard_error)
            if not estimate.determined:
                value, error = f"({value})", "not determined"
            rows.append((name.replace("_", " "), value, error or "none", estimate.unit, estimate.reason))
        notes = (
            f"{self.problem.shared.rate.size} points of {', '.join(name.replace('_', ' ') for name in self.problem.factors)}; "
            f"scatter {number(100.0 * self.solved.scatter, 2)} % of the fitted value"
            if self.weighting.kind == "relative"
            else f"{self.problem.shared.rate.size} points",
            f"stress scale of a load known to {number(100.0 * self.load_deviation, 2)} %; {self.weighting.text}",
            *(f"{finding.severity}: {finding}" for finding in self.findings),
        )
        columns = ("parameter", "value", "standard error", "unit", "remark")
        title = f"{self.problem.law.name.replace('_', ' ')} structure law"
        return Table(title=title, columns=columns, rows=tuple(rows), notes=notes, right=("value", "standard error"))

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the measured and fitted stress of every load on the axes given, else on a new figure, and return the axes."""
        shared = self.problem.shared
        last = np.zeros(shared.settled) if shared.history is None else np.linspace(0.0, 300.0, shared.settled)
        time = np.concatenate([shared.history.time, last]) if shared.history is not None else shared.rate
        return draw_fit(self.problem.factors, shared.load, time, (shared.stress, self.fitted), ax)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _worded(title: str, reasons: Mapping[str, str]) -> list[str]:
    """Return why parameters are not determined: those that many others make up for in one sentence, the rest one by one."""
    mixed = [name for name, reason in reasons.items() if reason.startswith("the data do not tell it from") and reason.count(" and ") > 1]
    said = [f"{title}: {name.replace('_', ' ')}: {reason}" for name, reason in reasons.items() if name not in mixed]
    if mixed:
        said.append(f"{title}: not told apart: {', '.join(name.replace('_', ' ') for name in mixed)}")
    return said


def _kind(name: str) -> str:
    """Return the kind of load: the label without its number."""
    head, _, tail = name.rpartition("_")
    return head if tail.isdigit() else name
