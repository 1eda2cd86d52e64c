"""The commands `rheokit instrument` and `rheokit oil`: what measures, and how its check oils have read over the months.

Exit codes: 0 done, 4 something could not be read or written, 2 wrong usage. `oil` gives 3 when the latest reading of an oil does not stand.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from rheokit.base.errors import printable

__all__ = ["add_instrument", "add_oil"]

_WIDTH = 140

_INSTRUMENT_EXAMPLES = """\
examples:
  rheokit instrument --starter > instrument.toml
  rheokit instrument instrument.toml
  rheokit instrument --schema > instrument.schema.json

A specification names the file (instrument = "instrument.toml" in [specification]), or `rheokit check --instrument FILE` does.
"""


def add_instrument(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `instrument`."""
    instrument = commands.add_parser(
        "instrument",
        help="show an instrument file, or print one to start from",
        description="Read an instrument file: geometry with its uncertainty, gap zero, torque floor, calibration, check oils.",
        epilog=_INSTRUMENT_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    one = instrument.add_mutually_exclusive_group(required=True)
    one.add_argument("file", type=Path, nargs="?", metavar="FILE", help="instrument file (TOML)")
    one.add_argument("--starter", action="store_true", help="print a commented instrument file to start from")
    one.add_argument("--schema", action="store_true", help="print the JSON Schema of an instrument file")
    instrument.set_defaults(run=_instrument)


def _instrument(arguments: argparse.Namespace) -> int:
    from rheokit.release.instrument_file import read_instrument  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.release.instrument_starter import STARTER, instrument_schema_text  # noqa: PLC0415 - `rheokit --help` stays fast

    if arguments.starter or arguments.schema:
        sys.stdout.write(STARTER if arguments.starter else instrument_schema_text())
        return 0
    sys.stdout.write(f"{read_instrument(arguments.file).table().text(_WIDTH)}\n")
    return 0


_OIL_EXAMPLES = """\
examples:
  rheokit oil sample_rheometer_runs/B26-04* --instrument sample_rheometer_runs/instrument.toml
  rheokit oil 2026/B26-*/results.csv --instrument instrument.toml --figure check_oil.svg

PLACE is the folder of a batch, or its results.csv. Each reading is judged at its own temperature against the certificate in FILE.
An alarm of the control chart is a signal to look for a cause; only a reading beyond the tolerance fails.

exit codes:
  0 the latest reading of each oil stands   3 one does not, or there is none   4 something could not be read or written   2 wrong usage
"""

_HOLD = 3


def add_oil(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `oil`."""
    oil = commands.add_parser(
        "oil",
        help="chart the readings of the check oils over time",
        description="Judge and chart the readings of the check oils that were entered with batches.",
        epilog=_OIL_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    oil.add_argument("places", type=Path, nargs="+", metavar="PLACE", help="folder of a batch, or a results file")
    oil.add_argument("--instrument", type=Path, required=True, metavar="FILE", help="instrument file (TOML)")
    oil.add_argument("--figure", type=Path, metavar="FILE", help="file to draw the chart into, such as check_oil.svg; never replaced")
    oil.set_defaults(run=_oil)


def _oil(arguments: argparse.Namespace) -> int:
    from rheokit.reading.entered import read_entered  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.reading.folder import RESULTS_FILE  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.release.instrument_file import read_instrument  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.release.oil_chart import oil_chart  # noqa: PLC0415 - `rheokit --help` stays fast

    instrument = read_instrument(arguments.instrument)
    files = [place / RESULTS_FILE if place.is_dir() else place for place in arguments.places]
    chart = oil_chart((result for file in files for result in read_entered(file)), instrument)
    sys.stdout.write(f"{chart.table().text(_WIDTH)}\n")
    if arguments.figure is not None:
        chart.write_figure(arguments.figure)
        sys.stdout.write(f"figure: {printable(arguments.figure)}\n")
    return 0 if chart.readings and not chart.failed else _HOLD
