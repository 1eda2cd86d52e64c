"""The command `rheokit pen`: what one batch will do in one refill.

Exit codes: 0 the sheet is made, 4 something could not be read, written or worked out, 2 wrong usage. It judges nothing.
"""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path

from rheokit.base.errors import printable

__all__ = ["add_pen"]

WIDTH = 180
"""Characters to which the last column of the sheet is folded."""

_EXAMPLES = """\
examples:
  rheokit pen sample_rheometer_runs/B26-041 --refill sample_rheometer_runs/refill.toml
  rheokit pen B26-041 --refill refill.toml --output sheets --operator "technician 2"
  rheokit pen B26-041 --refill refill.toml --json > B26-041-pen.json

FILE describes the refill: tube, gas, seated tip, ball, writing, filling, use. A dimension may be a range; ranges go through to every
answer. Pressures say gauge or absolute. --output writes the sheet as JSON and as a page; nothing is replaced.

exit codes:
  0 the sheet is made   4 something could not be read, written or worked out   2 wrong usage

The sheet informs; it judges nothing. Safety data sheets, site rules and local codes come first.
"""


def add_pen(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `pen`."""
    pen = commands.add_parser(
        "pen",
        help="work out what a batch will do in a refill: holding, feeding, writing, filling, gas",
        description="Work out what a batch will do in a refill, from the coldest to the hottest use, with ranges.",
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    pen.add_argument("folder", type=Path, metavar="FOLDER", help="folder with the exports of one batch")
    pen.add_argument("--refill", type=Path, required=True, metavar="FILE", help="description of the refill (TOML)")
    pen.add_argument("--output", type=Path, metavar="DIR", help="folder to write the sheet into, as JSON and page; never the batch folder")
    pen.add_argument("--operator", metavar="WORDS", help="who works it out, as the sheet shall say")
    pen.add_argument("--json", action="store_true", help="print the sheet as JSON instead of a table")
    pen.set_defaults(run=_pen)


def _pen(arguments: argparse.Namespace) -> int:
    from rheokit.reading.batch import read_batch  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.refill.description import read_refill  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.release.pen_sheet import pen_sheet  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.reports.pen_page import pen_page  # noqa: PLC0415 - `rheokit --help` stays fast

    refill = read_refill(arguments.refill)
    sheet = pen_sheet(read_batch(arguments.folder), refill, time=datetime.now(UTC), operator=arguments.operator)
    written = None
    if arguments.output is not None:
        written = sheet.write(arguments.output, never_inside=arguments.folder, page=pen_page(sheet.document))
    if arguments.json:
        sys.stdout.write(sheet.to_json(ascii_only=sys.stdout.isatty()))
        return 0
    sys.stdout.write(sheet.table().text(WIDTH) + "\n")
    if written is not None:
        sys.stdout.write(f"sheet: {printable(written)} and the page beside it\n")
    return 0
