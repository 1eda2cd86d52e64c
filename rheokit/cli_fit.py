"""The command `rheokit fit`: a flow law fitted to the same step of many exports.

Exit codes: 0 at least one curve was fitted, 4 none was or the file could not be written, 2 wrong usage, 130 interrupted.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from rheokit.base.errors import FitError, printable

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from rheokit.fitting.archive_file import ArchiveFile
    from rheokit.fitting.archive_part import ArchiveFailure, CurveFit, Part

__all__ = ["add_fit"]

Advance: TypeAlias = Callable[[int], None]
"""Called with the number of exports that were done since the last call."""

NONE_FITTED = 4
INTERRUPTED = 130
"""What shells take for a command that was stopped from the keyboard (common practice, no source)."""

_WIDTH = 140
_LONGEST_NAME = 4000

_EXAMPLES = """\
examples:
  rheokit fit sample_rheometer_runs/B26-041/loop_load1.csv --model herschel_bulkley --step down
  rheokit fit "sample_rheometer_runs/*/steady*" --model carreau_yasuda --step steady --output fits.csv
  rheokit fit "archive/**" --model cross --step steady --floor 0.5 --output fits.parquet --resume --workers 4

EXPORT is a file, a folder (the exports in it, not its batch.toml and results.csv) or a pattern in quotation marks: * ? [...] and ** for
any depth. KIND is a kind of step, as up, down or steady, or its number in the export; of a stair the last point at each rate is taken.

One row a curve, in SI units. A parameter that the data do not determine is left empty, and its remark says why; so is every parameter
of a measurement that is invalid. `findings` counts what was seen while the export was read. Exports that give no fit are named at the end.

FILE is never replaced. A run that was interrupted has left FILE.journal; the same command with --resume goes on from there, or from a
finished FILE with the exports that are new. In a CSV file, text that a spreadsheet would run as a formula stands behind an apostrophe.

exit codes:
  0 at least one curve was fitted   4 none was, or FILE could not be written   2 wrong usage   130 interrupted
"""


def add_fit(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `fit`."""
    fit = commands.add_parser(
        "fit",
        help="fit a flow model to the same step of many exports",
        description="Fit a flow model to the same step of many exports: a table, or a CSV or Parquet file, with one row a curve.",
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    fit.add_argument("exports", nargs="+", metavar="EXPORT", help="export, folder of exports, or pattern in quotation marks")
    fit.add_argument("--model", required=True, metavar="NAME", help="flow model, as herschel_bulkley")
    fit.add_argument("--step", required=True, metavar="KIND", help="kind of the step, or its number")
    fit.add_argument(
        "--weighting",
        choices=("relative", "absolute"),
        default="relative",
        help="deviations in proportion to the stress (default) or alike",
    )
    fit.add_argument("--floor", type=_floor, default=0.0, metavar="PASCAL", help="stress below which relative deviations stay alike")
    fit.add_argument("--output", type=Path, metavar="FILE", help="file to write, .csv or .parquet; never replaced")
    fit.add_argument("--resume", action="store_true", help="go on with FILE: fit what is not in it yet")
    fit.add_argument("--workers", type=_workers, default=1, metavar="N", help="processes that read and fit (default 1)")
    fit.set_defaults(run=_fit, wrong_usage=fit.error)


def _floor(text: str) -> float:
    value = float(text)
    if not (math.isfinite(value) and value >= 0.0):
        raise argparse.ArgumentTypeError(f"{printable(text)!r} is no stress of zero or more")
    return value


def _workers(text: str) -> int:
    value = int(text)
    if not 1 <= value <= 1024:
        raise argparse.ArgumentTypeError(f"{printable(text)!r} is no number of processes from 1 to 1024")
    return value


def _fit(arguments: argparse.Namespace) -> int:
    from concurrent.futures import BrokenExecutor  # noqa: PLC0415 - `rheokit --help` stays fast

    from rheokit.fitting.archive import joined  # noqa: PLC0415 - as above
    from rheokit.fitting.archive_file import ArchiveFile  # noqa: PLC0415 - as above
    from rheokit.fitting.archive_part import ArchiveFailure, name_of  # noqa: PLC0415 - as above
    from rheokit.fitting.fit import model_of  # noqa: PLC0415 - as above
    from rheokit.reading.exports import find_exports  # noqa: PLC0415 - as above

    arguments.step = _checked(arguments)
    file = None if arguments.output is None else ArchiveFile(arguments.output, resume=arguments.resume)
    named = find_exports(arguments.exports)
    paths = [path for path in named.paths if file is None or path.absolute() != file.path.absolute()]
    left = paths if file is None else _left(file, paths, arguments)
    fits: list[CurveFit] = []
    failures = [ArchiveFailure(file=name_of(name), reason=reason) for name, reason in named.missing]
    try:
        for part in _parts(left, file, arguments):
            fits += part.fits
            failures += part.failures
    except BrokenExecutor:
        raise FitError(f"a worker process ended before its time; try fewer --workers{_go_on(file)}") from None
    except KeyboardInterrupt:
        sys.stderr.write(f"rheokit: interrupted{_go_on(file)}\n")
        return INTERRUPTED
    result = joined(model_of(arguments.model), fits, failures)
    there = len(paths) - len(left)
    if file is not None:
        file.finish()
        already = f", {there} exports were in it already" if there else ""
        sys.stdout.write(f"{len(result)} curves fitted{already}: {printable(file.path, _LONGEST_NAME)}\n")
        for copy, first in result.copies:
            sys.stdout.write(f"{copy} holds the same bytes as {first} and has no row of its own\n")
    elif fits:
        sys.stdout.write(f"{result.table().text(_WIDTH)}\n")
    _list(failures)
    return 0 if there or any(fit.converged for fit in fits) else NONE_FITTED


def _checked(arguments: argparse.Namespace) -> str | int:
    """Return the step asked for; what makes no sense ends the command as wrong usage."""
    from rheokit.base.run import STEP_KINDS  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.models import MODELS  # noqa: PLC0415 - as above

    if arguments.model not in MODELS:
        arguments.wrong_usage(f"argument --model: {_unknown(arguments.model, tuple(MODELS))}")
    if arguments.floor and arguments.weighting == "absolute":
        arguments.wrong_usage("argument --floor: goes with relative weighting; absolute weights all points alike")
    if arguments.resume and arguments.output is None:
        arguments.wrong_usage("argument --resume: needs --output FILE, the file to go on with")
    step: str = arguments.step
    if step.isascii() and step.isdecimal() and len(step) < 10 and int(step) > 0:
        return int(step)
    if step not in STEP_KINDS:
        arguments.wrong_usage(f"argument --step: {_unknown(step, STEP_KINDS)}, or a number from 1")
    return step


def _unknown(word: str, known: Sequence[str]) -> str:
    import difflib  # noqa: PLC0415 - only wanted for a word that is not known

    nearest = difflib.get_close_matches(word.lower().replace("-", "_").replace(" ", "_"), known, n=1)
    meant = f" (did you mean {nearest[0]}?)" if nearest else ""
    return f"{printable(word)!r} is not known{meant}; choose one of {', '.join(known)}"


def _left(file: ArchiveFile, paths: Sequence[Path], arguments: argparse.Namespace) -> list[Path]:
    return file.left_to_do(paths, model=arguments.model, step=arguments.step, weighting=arguments.weighting, floor=float(arguments.floor))


def _parts(paths: Sequence[Path], file: ArchiveFile | None, arguments: argparse.Namespace) -> Iterator[Part]:
    """Yield what was fitted, part by part, each written to the journal before the next is waited for."""
    from rheokit.fitting.archive import archive_parts  # noqa: PLC0415 - `rheokit --help` stays fast

    with _pool(arguments.workers) as executor, _bar(len(paths)) as advance:
        for part in archive_parts(
            paths,
            arguments.model,
            step=arguments.step,
            weighting=arguments.weighting,
            floor=arguments.floor,
            executor=executor,
        ):
            if file is not None:
                file.append([fit.cells() for fit in part.fits], [failure.file for failure in part.failures])
            advance(part.exports)
            yield part


def _pool(workers: int) -> AbstractContextManager[Executor | None]:
    """Return processes that start afresh, as they do on every platform, or none for one."""
    if workers == 1:
        return nullcontext()
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415 - only wanted with more than one process
    from multiprocessing import get_context  # noqa: PLC0415 - as above

    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"))


@contextmanager
def _bar(count: int) -> Iterator[Advance]:
    """Show on a terminal how far the exports are; elsewhere show nothing."""
    if not count or sys.stderr is None or not sys.stderr.isatty():
        yield _nothing
        return
    from rich.console import Console  # noqa: PLC0415 - only wanted on a terminal
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn  # noqa: PLC0415 - as above

    console = Console(file=sys.stderr, markup=False, highlight=False, emoji=False)
    columns = TextColumn("exports", markup=False), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn()
    with Progress(*columns, console=console, transient=True) as progress:
        task = progress.add_task("exports", total=count)
        yield lambda done: progress.advance(task, done)


def _nothing(done: int) -> None:
    """Show nothing."""


def _go_on(file: ArchiveFile | None) -> str:
    return "" if file is None else "; the same command with --resume goes on from there"


def _list(failures: Sequence[ArchiveFailure]) -> None:
    """Name at the end what gave no fit."""
    if failures and sys.stderr is not None:
        sys.stdout.flush()
        lines = [f"{len(failures)} without a fit:", *(f"  {printable(failure, 2 * _LONGEST_NAME)}" for failure in failures)]
        sys.stderr.write("\n".join(lines) + "\n")
