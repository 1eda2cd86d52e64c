"""An archive: one flow law fitted to the same step of many exports, here or by the workers of an executor."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.errors import FitError, printable
from rheokit.base.run import STEP_KINDS
from rheokit.base.show import Table, data_frame, number, value_and_error
from rheokit.fitting.archive_part import ArchiveFailure, Asked, Cell, CurveFit, Part, fit_part, is_text
from rheokit.fitting.fit import model_of
from rheokit.fitting.weighting import weighting_of
from rheokit.law import Law
from rheokit.reading.files import PathText

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ArchiveFailure", "ArchiveFits", "CurveFit", "archive_parts", "fit_archive", "joined"]

# Exports handed to a worker at a time; the same without workers, so that the numbers are the same to the last digit.
_EXPORTS = 32
# Parts handed out at a time: enough to keep workers busy, few enough to keep memory flat.
_AHEAD = 64


@dataclass(frozen=True, kw_only=True, eq=False)
class ArchiveFits(Carried):
    """One flow law fitted to a step of many exports.

    Attributes
    ----------
    law
        What was fitted.
    fits
        One a curve, in the order of the exports.
    failures
        The exports without a fit, and why.
    copies
        Name of each export whose bytes are those of another before it, and the name of that one; it has no row of its own.
    """

    law: Law
    fits: tuple[CurveFit, ...]
    failures: tuple[ArchiveFailure, ...]
    copies: tuple[tuple[str, str], ...]

    def __len__(self) -> int:
        return len(self.fits)

    @property
    def data(self) -> pd.DataFrame:
        """One row a curve [SI], as a pandas DataFrame; what is not determined is NaN, and its remark says why."""
        return data_frame(_columns(fit.cells() for fit in self.fits))

    def table(self) -> Table:
        """Return one row a curve, digits by the standard errors; what is not determined is left empty and the remark says why."""
        units = [f" [{parameter.unit}]" if parameter.unit not in {"", "1"} else "" for parameter in self.law.parameters]
        names = [name.replace("_", " ") + unit for name, unit in zip(self.law.names, units, strict=True)]
        right = ("points", *names, "sum of squares", "findings")
        return Table(
            title=f"{self.law.name.replace('_', ' ')}, {len(self.fits)} curves",
            columns=("file", "sha256", "step", *right, "remarks"),
            rows=tuple(_row(fit) for fit in self.fits),
            notes=self._notes(),
            right=right,
        )

    def _notes(self) -> tuple[str, ...]:
        asked = sorted({weighting_of(fit.weighting, floor=fit.floor, scale="estimated", kept=_ONE, unit="Pa").text for fit in self.fits})
        notes = [*asked]
        if self.failures:
            notes.append(f"{len(self.failures)} exports gave no fit")
        notes += [f"{copy} holds the same bytes as {first} and has no row of its own" for copy, first in self.copies]
        return tuple(notes)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


_ONE = np.ones(1, dtype=bool)


def fit_archive(
    exports: Iterable[PathText],
    model: str | Law,
    *,
    step: str | int,
    weighting: str = "relative",
    floor: float = 0.0,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> ArchiveFits:
    """Read exports and fit a flow law to the same step of each.

    The points of a stair are the last at each rate, as everywhere. An export that cannot be read, lacks the step or has too few points is
    listed among the failures and stops nothing.

    Parameters
    ----------
    exports
        Paths of exports; `find_exports` makes them from folders and patterns.
    model
        Name of a model in `MODELS`, or any Law of shear stress over shear rate.
    step
        Kind of the step, as `"down"`, or its number from 1.
    weighting
        `"relative"` or `"absolute"`, as in `fit_flow_curve`.
    floor
        As in `fit_flow_curve` [Pa].
    executor
        Any executor of `concurrent.futures`, or what behaves like one: its workers read and fit, so they must see the same files under
        the same paths. The numbers are the same to the last digit. Worker processes take only laws that can be pickled.
    progress
        Called with the number of exports done and the number of all, whenever some are done.

    Returns
    -------
    ArchiveFits
        One row a curve, and the failures.

    Raises
    ------
    FitError
        When no such model, kind of step or weighting exists, or the law has no guess.
    """
    paths = [Path(path) for path in exports]
    fits: list[CurveFit] = []
    failures: list[ArchiveFailure] = []
    done = 0
    for part in archive_parts(paths, model, step=step, weighting=weighting, floor=floor, executor=executor):
        fits += part.fits
        failures += part.failures
        done += part.exports
        if progress is not None:
            progress(done, len(paths))
    return joined(model_of(model), fits, failures)


def joined(law: Law, fits: Iterable[CurveFit], failures: Iterable[ArchiveFailure]) -> ArchiveFits:
    """Return fits as one result; of exports that hold the same bytes the first has the row."""
    first: dict[tuple[str, int], CurveFit] = {}
    copies = []
    for fit in fits:
        known = first.setdefault((fit.sha256, fit.step), fit)
        if known is not fit:
            copies.append((fit.file, known.file))
    return ArchiveFits(law=law, fits=tuple(first.values()), failures=tuple(failures), copies=tuple(copies))


def archive_parts(
    paths: Iterable[Path], model: str | Law, *, step: str | int, weighting: str, floor: float, executor: Executor | None = None
) -> Iterator[Part]:
    """Return what `fit_archive` joins, some exports at a time and in their order, for whoever writes it down on the way.

    Raises
    ------
    FitError
        As `fit_archive`, before the first export is read.
    """
    law = model_of(model)
    weighting_of(weighting, floor=floor, scale="estimated", kept=_ONE, unit="Pa")
    if law.guess is None:
        raise FitError(f"{printable(law.name)} has no guess, so it cannot be fitted to curves that nobody has looked at")
    if isinstance(step, str) and step not in STEP_KINDS:
        raise FitError(f"{printable(step)!r} is no kind of step; the kinds are {', '.join(STEP_KINDS)}, or give its number")
    listed = list(paths)
    asked = Asked(model=model, step=step, weighting=weighting, floor=float(floor))
    parts = [listed[begin : begin + _EXPORTS] for begin in range(0, len(listed), _EXPORTS)]
    return (fit_part(part, asked) for part in parts) if executor is None else _elsewhere(executor, parts, asked)


def _elsewhere(executor: Executor, parts: Iterable[list[Path]], asked: Asked) -> Iterator[Part]:
    """Yield the parts in their order, some of them at work at a time."""
    running: deque[Future[Part]] = deque()
    try:
        for part in parts:
            running.append(executor.submit(fit_part, part, asked))
            if len(running) >= _AHEAD:
                yield running.popleft().result()
        while running:
            yield running.popleft().result()
    finally:
        for future in running:
            future.cancel()


def _columns(rows: Iterable[Mapping[str, Cell]]) -> dict[str, list[Cell]]:
    """Return rows as columns: where there is nothing, no words or no number (NaN)."""
    columns: dict[str, list[Cell]] = {}
    for row in rows:
        for name, cell in row.items():
            columns.setdefault(name, []).append(("" if is_text(name) else math.nan) if cell is None else cell)
    return columns


def _row(fit: CurveFit) -> tuple[str, ...]:
    cells, remarks = [], []
    for name, _, value, error, remark in fit.parameters:
        shown, spread = ("", "") if value is None else value_and_error(value, error)
        cells.append(f"{shown} ± {spread}" if spread else shown)
        if remark:
            remarks.append(f"{name.replace('_', ' ')}: {remark}")
    if len(remarks) > 1 and len({remark for *_, remark in fit.parameters}) == 1:
        remarks = [fit.parameters[0][-1]]  # one reason for all of them is said once
    step, found = f"{fit.step} {fit.kind}", f"{fit.findings} {fit.worst_finding}".rstrip()
    return (fit.file, fit.sha256[:12], step, str(fit.points), *cells, number(fit.sum_of_squares), found, "; ".join(remarks))
