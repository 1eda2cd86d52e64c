"""Step, Run and Batch: what reading yields and everything above works on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePath
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray, read_only
from rheokit.base.errors import StepError, printable
from rheokit.base.estimate import Estimate, Source
from rheokit.base.finding import Finding
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, data_frame, number

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CONTROLS", "STEP_KINDS", "Batch", "Controlled", "Run", "RunPlace", "Step", "StepKind"]

StepKind = Literal[
    "up", "down", "hold", "rest", "shear", "recovery", "startup", "steady", "stress_ramp",
    "amplitude_sweep", "frequency_sweep", "creep", "creep_recovery", "temperature_ramp",
]  # fmt: skip
Controlled = Literal["rate", "stress", "strain", "temperature"]
STEP_KINDS: tuple[StepKind, ...] = get_args(StepKind)
CONTROLS: tuple[Controlled, ...] = get_args(Controlled)


@dataclass(frozen=True, eq=False, kw_only=True)
class Step(Carried):
    """One step of a run.

    Attributes
    ----------
    number
        Its number in the run, from 1.
    kind, controlled
        What the step is, and which quantity was held to a programme.
    columns
        Quantity name to values [SI], each of shape (N,), read-only.
    rows
        First and last line of the export that it came from, where known.
    findings
        What was seen while telling what the step is.
    """

    number: int
    kind: StepKind
    controlled: Controlled
    columns: Mapping[str, FloatArray]
    rows: tuple[int, int] | None = None
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        if self.kind not in STEP_KINDS or self.controlled not in CONTROLS:
            raise ValueError(f"step {self.number}: {self.kind!r} controlled by {self.controlled!r} is no kind of step")
        for name in self.columns:
            quantity(name)
        frozen = {name: read_only(values, name) for name, values in self.columns.items()}
        if len({values.size for values in frozen.values()}) > 1:
            raise ValueError(f"step {self.number}: columns of unequal length")
        object.__setattr__(self, "columns", MappingProxyType(frozen))

    def __len__(self) -> int:
        return next(iter(self.columns.values())).size if self.columns else 0

    def column(self, name: str) -> FloatArray:
        """Return one column [SI], shape (N,).

        Raises
        ------
        StepError
            When the step has no such column; the message lists those it has.
        """
        if name not in self.columns:
            raise StepError(f"step {self.number} ({self.kind}) has no column {printable(name)!r}; it has {', '.join(self.columns)}")
        return self.columns[name]

    @property
    def time(self) -> FloatArray:
        """Times [s]."""
        return self.column("time")

    @property
    def shear_rate(self) -> FloatArray:
        """Shear rates [1/s]."""
        return self.column("shear_rate")

    @property
    def shear_stress(self) -> FloatArray:
        """Shear stresses [Pa]."""
        return self.column("shear_stress")

    def mean(self, name: str) -> float | None:
        """Return the mean of a column [SI], or None when it is not there or holds no number."""
        values = self.columns.get(name)
        return None if values is None or not np.isfinite(values).any() else float(np.nanmean(values))


@dataclass(frozen=True, kw_only=True)
class RunPlace:
    """Where a run stands in its batch: test, load and role, and how that was learnt."""

    test: str
    load: int
    role: Literal["batch", "reference"] = "batch"
    set_temperature: float | None = None
    learnt_from: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class Run(Carried):
    """One export of one load: its steps, metadata, findings and source."""

    name: str
    steps: tuple[Step, ...]
    metadata: Mapping[str, str]
    findings: tuple[Finding, ...]
    source: Source

    def __post_init__(self) -> None:
        object.__setattr__(self, "metadata", MappingProxyType(dict(self.metadata)))

    def step(self, which: str | int) -> Step:
        """Return the step of that kind, or of that number (from 1).

        Raises
        ------
        StepError
            When there is none, or more than one; the message lists the steps.
        """
        found = [step for step in self.steps if which in (step.kind, step.number)]
        if len(found) == 1:
            return found[0]
        listed = ", ".join(f"{step.number} {step.kind}" for step in self.steps)
        if not found:
            raise StepError(f"{printable(self.name)} has no step {printable(which)!r}; its steps are {listed}")
        numbers = " or ".join(str(step.number) for step in found)
        raise StepError(f"{printable(self.name)} has {len(found)} steps {printable(which)!r}; ask by number: {numbers} (steps: {listed})")

    def source_of(self, step: Step) -> Source:
        """Return where the numbers of a step come from."""
        return Source(sha256=self.source.sha256, run=self.name, step=f"{step.number} {step.kind}", rows=step.rows)

    @property
    def data(self) -> pd.DataFrame:
        """All rows [SI] with the number and kind of their step, as a pandas DataFrame."""
        names = list(dict.fromkeys(name for step in self.steps for name in step.columns))
        columns: dict[str, object] = {
            "step": [step.number for step in self.steps for _ in range(len(step))],
            "kind": [step.kind for step in self.steps for _ in range(len(step))],
        }
        for name in names:
            parts = [step.columns.get(name, np.full(len(step), np.nan)) for step in self.steps]
            columns[name] = np.concatenate(parts)
        return data_frame(columns)  # type: ignore[arg-type]  # strings and floats side by side

    def table(self) -> Table:
        """Return the steps as a table."""
        rows = tuple(
            (str(step.number), step.kind, step.controlled, str(len(step)), _span(step, "shear_rate"), _span(step, "time"), _celsius(step))
            for step in self.steps
        )
        columns = ("step", "kind", "controlled", "points", "shear rate [1/s]", "time [s]", "temperature [°C]")
        return Table(title=self.name, columns=columns, rows=rows, right=("step", "points"))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _span(step: Step, name: str) -> str:
    values = step.columns.get(name)
    if values is None or not np.isfinite(values).any():
        return ""
    finite = values[np.isfinite(values)]
    first, last = number(float(finite[0]), 3), number(float(finite[-1]), 3)
    return first if first == last else f"{first} to {last}"


def _celsius(step: Step) -> str:
    mean = step.mean("temperature")
    return "" if mean is None else f"{mean - 273.15:.2f}"


@dataclass(frozen=True, eq=False, kw_only=True)
class Batch(Carried):
    """All that was measured on one batch.

    Attributes
    ----------
    name
        The batch's id.
    runs
        Test name to its loads, in the order of the load numbers.
    places
        Run name to its place (test, load, role).
    entered
        Results typed in by hand, as Estimates.
    metadata, findings
        The batch file's passport, and what was seen while reading the folder.
    folder
        Where it was read; never written to.
    """

    name: str
    runs: Mapping[str, tuple[Run, ...]]
    metadata: Mapping[str, str]
    places: Mapping[str, RunPlace] = field(default_factory=dict)
    entered: tuple[Estimate, ...] = ()
    findings: tuple[Finding, ...] = ()
    folder: PurePath | None = None

    def __post_init__(self) -> None:
        for name in ("runs", "metadata", "places"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))

    @property
    def all_runs(self) -> tuple[Run, ...]:
        """Every run, test by test."""
        return tuple(run for loads in self.runs.values() for run in loads)

    def table(self) -> Table:
        """Return the runs as a table."""
        rows = []
        for test, loads in self.runs.items():
            for index, run in enumerate(loads, 1):
                load = self.places[run.name].load if run.name in self.places else index
                rows.append((test, str(load), run.name, " ".join(step.kind for step in run.steps), str(len(run.findings))))
        return Table(title=self.name, columns=("test", "load", "export", "steps", "findings"), rows=tuple(rows), right=("load", "findings"))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()
