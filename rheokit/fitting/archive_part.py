"""Some exports of an archive: read, and their curves fitted together. What one worker does at a time."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from rheokit.base.curve import FlowCurve
from rheokit.base.errors import FitError, ReadError, RheokitError, printable
from rheokit.base.finding import worst
from rheokit.base.run import Run, Step
from rheokit.base.settled import settled_points
from rheokit.fitting.many import fit_many
from rheokit.fitting.many_result import ManyFits
from rheokit.law import Law
from rheokit.reading.export import read_run

__all__ = ["ArchiveFailure", "Asked", "Cell", "CurveFit", "Part", "fit_part", "is_text", "name_of"]

Cell: TypeAlias = str | int | float | bool | None
"""What stands in one column for one curve; None where there is nothing."""

# Curves are stacked with others of about as many points, so that the numbers of one do not depend on the length of another.
_STACK = 8
_LONGEST_NAME = 4000
_WORDS = frozenset({"file", "sha256", "kind", "model", "weighting", "worst_finding"})
_Kind = TypeVar("_Kind")


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What is fitted to every curve: `step` is a kind or a number, the floor is in Pa."""

    model: str | Law
    step: str | int
    weighting: str
    floor: float


@dataclass(frozen=True, kw_only=True)
class ArchiveFailure:
    """An export that gave no curve, or whose curve no fit can answer, and why."""

    file: str
    reason: str

    def __str__(self) -> str:
        return f"{self.file}: {self.reason}"


@dataclass(frozen=True, kw_only=True, eq=False)
class CurveFit:
    """A flow law fitted to one step of one export.

    Attributes
    ----------
    file, sha256
        Name of the export as it was given, with slashes and no characters that a terminal acts on, and the sha256 of its bytes.
    step, kind
        Number of the step in the export, from 1, and its kind.
    points
        Number of points fitted.
    model, weighting, floor
        What was asked for; the floor in Pa.
    parameters
        One a parameter: name, unit, value, standard error, remark. The value is None where the data do not determine it or a finding
        of the export says that they are invalid, and the remark says why.
    sum_of_squares
        Of residuals over deviations: without unit for relative weighting, Pa² for absolute.
    converged
        Whether the fit arrived at a minimum.
    findings, worst_finding
        How many things were seen while the export and the step were read, and how bad the worst is.
    """

    file: str
    sha256: str
    step: int
    kind: str
    points: int
    model: str
    weighting: str
    floor: float
    parameters: tuple[tuple[str, str, float | None, float | None, str], ...]
    sum_of_squares: float
    converged: bool
    findings: int
    worst_finding: str

    def cells(self) -> dict[str, Cell]:
        """Return column name to what stands there."""
        cells: dict[str, Cell] = {
            "file": self.file,
            "sha256": self.sha256,
            "step": self.step,
            "kind": self.kind,
            "points": self.points,
            "model": self.model,
            "weighting": self.weighting,
            "floor [Pa]": self.floor,
        }
        for name, unit, value, error, remark in self.parameters:
            cells[f"{name} [{unit}]"] = value
            cells[f"{name} standard error [{unit}]"] = error
            cells[f"{name} remark"] = remark or None
        return cells | {
            "sum_of_squares": self.sum_of_squares if np.isfinite(self.sum_of_squares) else None,
            "converged": self.converged,
            "findings": self.findings,
            "worst_finding": self.worst_finding or None,
        }


@dataclass(frozen=True, kw_only=True)
class Part:
    """What came of some exports."""

    fits: tuple[CurveFit, ...]
    failures: tuple[ArchiveFailure, ...]
    exports: int


@dataclass(frozen=True, kw_only=True, eq=False)
class _Curve:
    place: int
    file: str
    run: Run
    step: Step
    flow: FlowCurve


def is_text(column: str) -> bool:
    """Whether a column of `CurveFit.cells` holds words."""
    return column in _WORDS or column.endswith(" remark")


def name_of(path: str | os.PathLike[str]) -> str:
    """Return a path as results name it: with slashes, on one line, and without what a terminal acts on."""
    return printable(Path(path).as_posix(), _LONGEST_NAME)


def fit_part(paths: Sequence[Path], asked: Asked) -> Part:
    """Read exports and fit the step asked for of each, all of them at once; an export that gives no fit is a failure, not an error."""
    curves: list[_Curve] = []
    failures: dict[int, ArchiveFailure] = {}
    for place, path in enumerate(paths):
        try:
            run = read_run(path)
            step = run.step(asked.step)
            flow = settled_points(step)
        except RheokitError as error:
            failures[place] = ArchiveFailure(file=name_of(path), reason=_reason(error))
            continue
        if flow.shear_rate.size:
            curves.append(_Curve(place=place, file=name_of(path), run=run, step=step, flow=flow))
        else:
            reason = f"step {step.number} ({step.kind}) has no point with a positive shear rate and shear stress"
            failures[place] = ArchiveFailure(file=name_of(path), reason=reason)
    fits: dict[int, CurveFit] = {}
    for width, stack in _stacks(curves):
        many = _fitted(stack, width, asked)
        for index, curve in enumerate(stack):
            try:
                fits[curve.place] = _answer(curve, many, index, asked)
            except FitError as error:
                failures[curve.place] = ArchiveFailure(file=curve.file, reason=str(error))
    return Part(fits=_in_order(fits), failures=_in_order(failures), exports=len(paths))


def _in_order(found: dict[int, _Kind]) -> tuple[_Kind, ...]:
    return tuple(found[place] for place in sorted(found))


def _reason(error: RheokitError) -> str:
    """Return what is wrong without the path, which stands before it."""
    if isinstance(error, ReadError):
        return error.named("").removeprefix(", ").removeprefix(": ")
    return str(error)


def _stacks(curves: Iterable[_Curve]) -> Iterator[tuple[int, list[_Curve]]]:
    """Yield the curves that go together, with the number of points to which all are filled up."""
    stacks: dict[int, list[_Curve]] = {}
    for curve in curves:
        width = -(-curve.flow.shear_rate.size // _STACK) * _STACK
        stacks.setdefault(width, []).append(curve)
    yield from sorted(stacks.items())


def _fitted(stack: Sequence[_Curve], width: int, asked: Asked) -> ManyFits:
    rates, stresses = np.full((2, len(stack), width), np.nan)
    for row, curve in enumerate(stack):
        size = curve.flow.shear_rate.size
        rates[row, :size], stresses[row, :size] = curve.flow.shear_rate, curve.flow.shear_stress
    return fit_many(rates, stresses, asked.model, weighting=asked.weighting, floor=asked.floor)


def _answer(curve: _Curve, many: ManyFits, index: int, asked: Asked) -> CurveFit:
    """Return the fit of one curve.

    Raises
    ------
    FitError
        When no fit can answer; the message says why.
    """
    if np.isnan(many.values[index]).any():
        _ = many[index]  # says why
        raise FitError(f"no {many.law.name.replace('_', ' ')} fit was found")
    seen = (*curve.run.findings, *curve.step.findings)
    return CurveFit(
        file=curve.file,
        sha256=curve.run.source.sha256,
        step=curve.step.number,
        kind=curve.step.kind,
        points=int(many.used[index]),
        model=many.law.name,
        weighting=asked.weighting,
        floor=float(asked.floor),
        parameters=_parameters(many, index, _invalid(curve)),
        sum_of_squares=float(many.sum_of_squares[index]),
        converged=bool(many.converged[index]),
        findings=len(seen),
        worst_finding=worst(seen) or "",
    )


def _invalid(curve: _Curve) -> str:
    """Return why no number that rests on this step is to be used, or nothing."""
    rows = curve.step.rows
    for finding in (*curve.run.findings, *curve.step.findings):
        apart = finding.rows is not None and rows is not None and (finding.rows[1] < rows[0] or finding.rows[0] > rows[1])
        if finding.severity == "invalid" and not apart:
            return f"not to be used: {finding.reason}"
    return ""


def _parameters(many: ManyFits, index: int, invalid: str) -> tuple[tuple[str, str, float | None, float | None, str], ...]:
    """Return name, unit, value, standard error and remark of each parameter; no value where the measurement is invalid."""
    if invalid:
        return tuple((parameter.name, parameter.unit, None, None, invalid) for parameter in many.law.parameters)
    reasons = _remarks(many, index)
    found = []
    for column, parameter in enumerate(many.law.parameters):
        sound = bool(many.determined[index, column])
        value, error = _number(many.values[index, column]), _number(many.errors[index, column])
        found.append((parameter.name, parameter.unit, value if sound else None, error if sound else None, reasons.get(parameter.name, "")))
    return tuple(found)


def _number(value: np.float64) -> float | None:
    return float(value) if np.isfinite(value) else None


def _remarks(many: ManyFits, index: int) -> dict[str, str]:
    """Return why a parameter is not determined or has no standard error, in the words of the curve's own fit."""
    sound: NDArray[np.bool_] = many.determined[index]
    if bool((sound & np.isfinite(many.errors[index])).all()):
        return {}
    if not many.converged[index]:
        return dict.fromkeys(many.law.names, "the fit did not converge")
    alone = many[index].parameters
    unsaid = {True: "it has no standard error", False: "the data do not determine it"}
    return {
        name: alone[name].reason or unsaid[bool(sound[column])]
        for column, name in enumerate(many.law.names)
        if not (sound[column] and np.isfinite(many.errors[index, column]))
    }
