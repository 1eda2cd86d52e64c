"""The command `rheokit compare`: candidates of one round held against limits, weighed, and joined to their recipes.

Exit codes: 0 done, 4 something could not be read or written, 2 wrong usage.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from rheokit.base.errors import ComparisonError, OutputError, printable

if TYPE_CHECKING:
    from rheokit.base.run import Batch
    from rheokit.comparison.recipe_comparison import Pull

__all__ = ["add_compare"]

_WIDTH = 160
_PAGE = "comparison.html"

_EXAMPLES = """\
examples:
  rheokit compare sample_rheometer_runs/recipes/candidate-* --spec sample_rheometer_runs/specification.toml \\
      --recipes sample_rheometer_runs/recipes/recipes.csv --output meeting
  rheokit compare new old --spec specification.toml --base old --aim yield-stress=high --aim viscosity-100=low
  rheokit compare new old --base old

With SPEC: which candidates meet every limit on the unfavourable end of its interval; among those the front over the aims, desirability
with its parts, ranks with their doubt; every line and the flow curve over the base. With SHEET as well: effects of components, the power
law of gellants, and what to make next. Without SPEC: the flow curves over the base alone.

SHEET is a CSV file or workbook with the columns candidate,kind,name,role,lot,value,unit; components in wt % that add up to 100.

exit codes:
  0 done   4 something could not be read or written   2 wrong usage

Which candidate to take is a person's decision.
"""


def add_compare(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `compare`."""
    compare = commands.add_parser(
        "compare",
        help="compare candidate recipes: limits first, then aims, ratios, effects and what to make next",
        description="Compare the batches of candidate recipes: limits first, then aims, ratios, effects and what to make next.",
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    compare.add_argument("folders", type=Path, nargs="+", metavar="FOLDER", help="folder with the exports of one candidate")
    compare.add_argument("--recipes", type=Path, metavar="SHEET", help="recipe sheet (CSV or workbook)")
    compare.add_argument("--tolerance", type=float, metavar="WT%", help="how far components may add up to something other than 100 (0.1)")
    compare.add_argument("--spec", type=Path, metavar="SPEC", help="specification (TOML): what is measured, and the hard limits")
    compare.add_argument("--base", metavar="NAME", help="candidate that ratios are formed to (the first)")
    compare.add_argument(
        "--aim",
        action="append",
        default=[],
        metavar="LINE=WHERE",
        help="where in its limits a line is wanted: high, low or middle (middle of all)",
    )
    compare.add_argument("--seed", type=int, default=0, metavar="N", help="of resamples and suggestions (0)")
    compare.add_argument("--output", type=Path, metavar="DIR", help=f"folder to write the page {_PAGE} into; never a candidate's folder")
    compare.set_defaults(run=_compare, wrong_usage=compare.error)


def _compare(arguments: argparse.Namespace) -> int:
    if len(arguments.folders) < 2:
        arguments.wrong_usage("a comparison needs two folders or more")
    if arguments.spec is None and (arguments.output is not None or arguments.recipes is not None or arguments.aim):
        arguments.wrong_usage("--output, --recipes and --aim need --spec SPEC, which says what is measured")
    if arguments.tolerance is not None and not 0.0 <= arguments.tolerance <= 5.0:
        arguments.wrong_usage("--tolerance is 0 to 5 wt %")
    aims = _aims(arguments)
    _outside(arguments.output, arguments.folders)
    batches = _batches(arguments.folders)
    return _curves_alone(batches, arguments.base) if arguments.spec is None else _all(batches, arguments, aims)


def _aims(arguments: argparse.Namespace) -> dict[str, Pull] | None:
    aims: dict[str, Pull] = {}
    for written in arguments.aim:
        line, _, where = written.rpartition("=")
        if not line or where not in {"high", "low", "middle"}:
            arguments.wrong_usage(f"--aim {printable(written)}: write LINE=high, LINE=low or LINE=middle")
        aims[line] = where
    return aims or None


def _outside(output: Path | None, folders: list[Path]) -> None:
    if output is not None and any(output.resolve().is_relative_to(folder.resolve()) for folder in folders):
        raise OutputError(f"{printable(output)}: lies in a candidate's folder, which is never written to; name another folder")


def _batches(folders: list[Path]) -> dict[str, Batch]:
    from rheokit.reading.batch import read_batch  # noqa: PLC0415 - `rheokit --help` stays fast

    found: dict[str, Batch] = {}
    for folder in folders:
        batch = read_batch(folder)
        if batch.name in found:
            raise ComparisonError(f"two folders are called {batch.name!r}; give each candidate a folder name of its own")
        found[batch.name] = batch
    return found


def _all(batches: dict[str, Batch], arguments: argparse.Namespace, aims: dict[str, Pull] | None) -> int:
    from rheokit.comparison.recipe_comparison import compare_recipes  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.comparison.recipe_sheet import CLOSURE, read_recipes  # noqa: PLC0415 - as above
    from rheokit.release.specification_file import read_specification  # noqa: PLC0415 - as above

    specification = read_specification(arguments.spec)
    tolerance = CLOSURE if arguments.tolerance is None else arguments.tolerance
    sheet = None if arguments.recipes is None else read_recipes(arguments.recipes, tolerance=tolerance)
    found = compare_recipes(batches, specification, sheet=sheet, base=arguments.base, aims=aims, seed=arguments.seed)
    for table in found.tables():
        sys.stdout.write(f"{table.text(_WIDTH)}\n\n")
    for note in found.notes:
        sys.stdout.write(f"{printable(note, 1000)}\n")
    if arguments.output is not None:
        from rheokit.reports.comparison_page import comparison_page  # noqa: PLC0415 - only wanted where a page is made
        from rheokit.reports.written import write_page  # noqa: PLC0415 - as above

        said = f"Measured by {specification.product}, revision {specification.revision}."
        path = write_page(arguments.output, _PAGE, comparison_page(found, specification=said))
        sys.stdout.write(f"page: {printable(path)}\n")
    return 0


def _curves_alone(batches: dict[str, Batch], base: str | None) -> int:
    from rheokit.comparison.recipe_comparison import steady_curve_ratios  # noqa: PLC0415 - `rheokit --help` stays fast

    ratios, missing = steady_curve_ratios(batches, base)
    for ratio in ratios.values():
        sys.stdout.write(f"{ratio.table().text(_WIDTH)}\n\n")
    for name, reason in missing.items():
        sys.stdout.write(f"flow curve of {printable(name)}: {printable(reason, 1000)}\n")
    sys.stdout.write("only flow curves: name a specification with --spec to have limits, aims and effects\n")
    return 0
