"""The command `rheokit trend`: the numbers of a register over time.

Exit codes: 0 done, alarms or not, 4 something could not be read or written, 2 wrong usage.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from rheokit.base.errors import printable

__all__ = ["add_trend"]

_WIDTH = 160
LAST = 1000
"""Checks that are looked at, the last ones."""

_EXAMPLES = """\
examples:
  rheokit trend plant.register
  rheokit trend plant.register --requirement viscosity-100 --output trends
  rheokit trend plant.register --run-rules --base 30

The last checks of one product that are not void, one a batch: single values with moving ranges, the weighted moving average, capability
with its interval, drift of product, retained standard and check oil, limits that the history proposes, global risk.

An alarm is a signal to look for a cause, never a reject: the exit code is 0 with alarms too.

exit codes:
  0 done   4 something could not be read or written   2 wrong usage
"""


def add_trend(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `trend`."""
    trend = commands.add_parser(
        "trend",
        help="chart the numbers of a register over time",
        description="Chart the numbers of a register over time: is the process steady, and what drifts, ink or instrument?",
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    trend.add_argument("file", type=Path, metavar="REGISTER", help="the register")
    trend.add_argument("--requirement", metavar="ID", help="one requirement (all)")
    trend.add_argument("--product", metavar="WORDS", help="the product, as its specification calls it (that of the last check)")
    trend.add_argument("--last", type=int, default=LAST, metavar="N", help=f"how many checks are looked at ({LAST})")
    trend.add_argument("--base", type=int, metavar="N", help="take the limits of the charts from the first N batches (all)")
    trend.add_argument("--run-rules", action="store_true", help="apply the four run rules too: sooner, with more false alarms")
    trend.add_argument("--output", type=Path, metavar="DIR", help="folder to write the page into")
    trend.set_defaults(run=_trend, wrong_usage=trend.error)


def _trend(arguments: argparse.Namespace) -> int:
    from rheokit.comparison.trend import trend  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.register.history import register_rows  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.register.store import Register  # noqa: PLC0415 - `rheokit --help` stays fast

    if arguments.last < 1 or (arguments.base is not None and arguments.base < 2):
        arguments.wrong_usage("--last is 1 or more, --base 2 or more")
    register = Register(arguments.file)
    rows = register_rows(register, last=arguments.last, product=arguments.product)
    found = trend(rows, requirement=arguments.requirement, base=arguments.base, use_run_rules=arguments.run_rules)
    sys.stdout.write(f"{found.table().text(_WIDTH)}\n")
    if arguments.output is not None:
        from rheokit.reports.trend_page import trend_page  # noqa: PLC0415 - only wanted where a page is made
        from rheokit.reports.written import write_page  # noqa: PLC0415 - as above

        source = f"{len({row.batch for row in rows})} batches up to register entry {len(register)}, hash {register.last_hash}"
        page = trend_page(found, title=arguments.requirement or arguments.product or "Trend of the register", source=source)
        path = write_page(arguments.output, f"trend-{len(register)}{_slug(arguments.requirement)}.html", page)
        sys.stdout.write(f"page: {printable(path)}\n")
    return 0


def _slug(requirement: str | None) -> str:
    kept = "".join(letter if letter.isalnum() or letter in "-_" else "_" for letter in requirement or "")
    return f"-{kept[:60]}" if kept else ""
