"""The command `rheokit`.

Exit codes of `check`: 0 release, 3 hold, 5 reject, 4 something could not be read or written, 2 wrong usage. 1 is only ever a crash.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from rheokit.base.errors import OutputError, RheokitError, printable
from rheokit.base.version import VERSION
from rheokit.cli_compare import add_compare
from rheokit.cli_fit import add_fit
from rheokit.cli_instrument import add_instrument, add_oil
from rheokit.cli_pen import add_pen
from rheokit.cli_register import add_register, check_and_keep
from rheokit.cli_trend import add_trend

if TYPE_CHECKING:
    from rheokit.base.show import Table
    from rheokit.release.record import Record

__all__ = ["main"]

EXIT_CODES = {"release": 0, "hold": 3, "reject": 5}
UNREADABLE = 4

INSPECT_WIDTH = 140
"""Characters to which the last column of a table of `inspect` and `specification` is folded."""

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"
"""What sub-commands are added to."""

_CHECK_EXAMPLES = """\
examples:
  rheokit check sample_rheometer_runs/B26-041 --spec sample_rheometer_runs/specification.toml
  rheokit check B26-041 --spec specification.toml --output records --operator "technician 2"
  rheokit check B26-041 --spec specification.toml --output records --pdf
  rheokit check B26-041 --spec specification.toml --json > B26-041.json
  rheokit check B26-041 --spec specification.toml --register plant.register --operator "technician 2"

exit codes:
  0 release   3 hold   5 reject   4 something could not be read or written   2 wrong usage

With --register the earlier checks of the batch count. A check that would be testing into compliance is refused (4) and leaves a remark.

The program recommends; a person decides.
"""

_INSPECT_EXAMPLES = """\
examples:
  rheokit inspect sample_rheometer_runs/B26-041/loop_load1.csv
  rheokit inspect sample_rheometer_runs/B26-041/loop_load1.csv --screening
  rheokit inspect run_07.csv --print-layout > layout.toml
  rheokit inspect run_07.csv --layout layout.toml

Look at three things first: the unit of every column and where it was written, the kind of every step, and the findings.
What is not as you know it to be, correct in a layout file; --print-layout gives one to start from, also for a refused export.
"""

_SPECIFICATION_EXAMPLES = """\
examples:
  rheokit specification --starter > specification.toml
  rheokit specification specification.toml
  rheokit specification --schema > specification.schema.json

For a file: its requirements; the gauge ratio (six standard errors of the mean of the stated loads over the width), the width that the
decision rule leaves, and the share of good batches that would be held. A file that does not stand up is refused with line and key.
"""


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="rheokit", allow_abbrev=False, description="Rheology of thixotropic writing ink, from exports to a recommendation."
    )
    parser.add_argument("--version", action="version", version=f"rheokit {VERSION}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    _add_check(commands)
    _add_inspect(commands)
    add_fit(commands)
    add_compare(commands)
    add_pen(commands)
    _add_specification(commands)
    add_instrument(commands)
    add_oil(commands)
    add_register(commands)
    add_trend(commands)
    return parser


def _add_check(commands: Commands) -> None:
    check = commands.add_parser(
        "check",
        help="judge the exports of one batch against a specification",
        description="Judge the exports of one batch against a specification: release, hold or reject, with the numbers behind it.",
        epilog=_CHECK_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    check.add_argument("folder", type=Path, metavar="FOLDER", help="folder with the exports of one batch")
    check.add_argument("--spec", type=Path, required=True, metavar="SPEC", help="specification (TOML)")
    check.add_argument(
        "--output", type=Path, metavar="DIR", help="folder to write the record into, as JSON and as a page; never the batch folder"
    )
    check.add_argument("--instrument", type=Path, metavar="FILE", help="instrument file (TOML), instead of the one that SPEC names")
    check.add_argument("--pdf", action="store_true", help="write the page as a PDF as well (needs the extra 'pdf')")
    check.add_argument("--operator", metavar="WORDS", help="who runs the check, as the record shall say")
    check.add_argument(
        "--register", type=Path, metavar="FILE", help="register to append the record to; earlier checks of the batch in it count"
    )
    check.add_argument("--json", action="store_true", help="print the record as JSON instead of a page")
    check.set_defaults(run=_check, wrong_usage=check.error)


def _add_inspect(commands: Commands) -> None:
    inspect = commands.add_parser(
        "inspect",
        help="show how an export is read: columns, units, steps, findings",
        description="Show how an export is read: which column is which quantity in which unit, the steps and their kinds, the findings.",
        epilog=_INSPECT_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    inspect.add_argument("export", type=Path, metavar="EXPORT", help="one rheometer export")
    inspect.add_argument("--layout", type=Path, metavar="FILE", help="layout file that settles what the export does not say")
    instead = inspect.add_mutually_exclusive_group()
    instead.add_argument("--print-layout", action="store_true", help="print a layout file to start from instead")
    instead.add_argument("--screening", action="store_true", help="show every check of the measurement instead, and what none can see")
    inspect.set_defaults(run=_inspect)


def _add_specification(commands: Commands) -> None:
    specification = commands.add_parser(
        "specification",
        help="show what a specification asks for and what room its limits leave, or print one to start from",
        description="Read a specification and show what it asks for and what room its limits leave.",
        epilog=_SPECIFICATION_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    one = specification.add_mutually_exclusive_group(required=True)
    one.add_argument("file", type=Path, nargs="?", metavar="FILE", help="specification (TOML)")
    one.add_argument("--starter", action="store_true", help="print a commented specification to start from")
    one.add_argument("--schema", action="store_true", help="print the JSON Schema of a specification")
    specification.set_defaults(run=_specification)


def _check(arguments: argparse.Namespace) -> int:
    from rheokit.reading.batch import read_batch  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.release.specification_file import read_specification  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.reports.terminal import print_record  # noqa: PLC0415 - `rheokit --help` stays fast

    if arguments.pdf and arguments.output is None:
        arguments.wrong_usage("--pdf needs --output DIR, the folder to write it into")
    specification = read_specification(arguments.spec)
    if arguments.instrument is not None:
        from rheokit.release.instrument_file import read_instrument  # noqa: PLC0415 - `rheokit --help` stays fast

        specification = replace(specification, instrument=read_instrument(arguments.instrument))
    batch = read_batch(arguments.folder)
    checked, line = check_and_keep(arguments, batch, specification)
    written = None
    if arguments.output is not None:
        try:
            written = _write(checked.record, arguments, line)
        except OutputError as error:
            raise OutputError(f"{error}; the check itself is kept as {line}" if line else str(error)) from None
    if arguments.json:
        sys.stdout.write(checked.record.to_json(ascii_only=sys.stdout.isatty()))
    else:
        print_record(checked.record.document, sys.stdout)
        if written is not None:
            beside = "the page and the PDF" if arguments.pdf else "the page"
            sys.stdout.write(f"record: {printable(written)} and {beside} beside it\n")
        if line:
            sys.stdout.write(f"{line}\n")
    return EXIT_CODES[checked.disposition]


def _write(record: Record, arguments: argparse.Namespace, line: str) -> Path:
    """Write a record and what is made from it: all of it is made before the first file is written."""
    from rheokit.reports.page import page  # noqa: PLC0415 - only wanted where a page is written

    made = None
    if arguments.pdf:
        from rheokit.reports.pdf import pdf  # noqa: PLC0415 - only wanted where a PDF is written

        made = pdf(record.document, registered=line)
    return record.write(arguments.output, never_inside=arguments.folder, page=page(record.document, registered=line), pdf=made)


def _inspect(arguments: argparse.Namespace) -> int:
    from rheokit.reading.inspection import inspect_export  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.reading.layout_text import layout_for  # noqa: PLC0415 - `rheokit --help` stays fast

    if arguments.print_layout:
        sys.stdout.write(layout_for(arguments.export, arguments.layout))
        return 0
    if arguments.screening:
        from rheokit.reading.export import read_run  # noqa: PLC0415 - `rheokit --help` stays fast
        from rheokit.screening import screening_table, unseen_table  # noqa: PLC0415 - `rheokit --help` stays fast

        run = read_run(arguments.export, layout=arguments.layout)
        tables: Sequence[Table] = (screening_table(run), unseen_table(run))
    else:
        tables = inspect_export(arguments.export, arguments.layout)
    for table in tables:
        sys.stdout.write(f"{table.text(INSPECT_WIDTH)}\n\n")
    return 0


def _specification(arguments: argparse.Namespace) -> int:
    from rheokit.release.room import process_table, room_of, room_table  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.release.schema import schema_text  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.release.specification_file import read_specification  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.release.starter import starter_text  # noqa: PLC0415 - `rheokit --help` stays fast

    if arguments.starter or arguments.schema:
        sys.stdout.write(starter_text() if arguments.starter else schema_text())
        return 0
    specification = read_specification(arguments.file)
    rooms = room_of(specification)
    for table in (specification.table(), room_table(rooms), process_table(rooms)):
        if table.rows:
            sys.stdout.write(f"{table.text(INSPECT_WIDTH)}\n\n")
    return 0


def _use_utf8() -> None:
    """Print UTF-8 on any console; what it cannot show is replaced, never a crash. A stream that is closed prints nowhere."""
    if sys.stdout is None:
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - it lasts as long as the process
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="replace")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    _use_utf8()
    parsed = _parser().parse_args(arguments)
    try:
        code = int(parsed.run(parsed))
        sys.stdout.flush()
    except RheokitError as error:
        sys.stderr.write(f"rheokit: {error}\n")
        return UNREADABLE
    except OSError as error:
        # Files are opened where their errors become ours; what is left is the stream that the page is printed to.
        sys.stderr.write(f"rheokit: the page cannot be printed ({error.strerror or error}); print it elsewhere\n")
        _discard_output()
        return UNREADABLE
    return code


def _discard_output() -> None:
    """Point stdout nowhere, so that Python's own flush at the end does not complain again."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
