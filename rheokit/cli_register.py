"""The command `rheokit register`: the batch register made, listed, shown, added to by people, verified and exported.

Exit codes: 0 done (of verify: the chain holds), 5 the chain does not hold, 4 something could not be read or written, 2 wrong usage.
"""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from rheokit.base.errors import OutputError, RetestError, printable

if TYPE_CHECKING:
    from rheokit.base.run import Batch
    from rheokit.register.entry import Entry
    from rheokit.release.check import BatchCheck
    from rheokit.release.specification import Specification

__all__ = ["add_register", "check_and_keep", "stamp"]

DOES_NOT_HOLD = 5
_WIDTH = 160

_EXAMPLES = """\
examples:
  rheokit register create plant.register
  rheokit check B26-041 --spec specification.toml --register plant.register --operator "technician 2"
  rheokit register list plant.register --batch B26-041
  rheokit register show plant.register 3 --html > B26-041.html
  rheokit register decide plant.register void --batch B26-041 --about 3 --operator "A. Example" --role "head of laboratory" \\
      --reason "air bubble seen in load 2, photograph in the run sheet"
  rheokit register decide plant.register concession --batch B26-043 --operator "B. Example" --role "head of quality" \\
      --reason "customer agreed to the lower viscosity" --expires 2026-12-31
  rheokit register verify plant.register --expect 5f2c...
  rheokit register export plant.register plant.csv

Entries are appended and never changed; each is chained to the one before by its hash. Print the hash of the last one now and then: it shows
an end that was cut off later.

exit codes:
  0 done (of verify: the chain holds)   5 the chain does not hold   4 something could not be read or written   2 wrong usage
"""


def add_register(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `register`."""
    raw = argparse.RawDescriptionHelpFormatter
    register = commands.add_parser(
        "register",
        help="keep checks and decisions for good: create, list, show, decide, verify, export",
        description="The batch register: every check and every human decision, appended for good and chained by hashes.",
        epilog=_EXAMPLES,
        formatter_class=raw,
        allow_abbrev=False,
    )
    tasks = register.add_subparsers(dest="task", required=True, metavar="TASK")

    def task(name: str, words: str) -> argparse.ArgumentParser:
        made = tasks.add_parser(name, help=words, description=f"{words[:1].upper()}{words[1:]}.", epilog=_EXAMPLES, formatter_class=raw,
                                allow_abbrev=False)  # fmt: skip
        made.add_argument("file", type=Path, metavar="FILE", help="the register")
        return made

    task("create", "make a new, empty register").set_defaults(run=_create)
    listed = task("list", "list the entries, the last at the end")
    listed.add_argument("--batch", metavar="ID", help="only those of one batch")
    listed.add_argument("--last", type=int, default=50, metavar="N", help="how many at most (50)")
    listed.set_defaults(run=_list)
    shown = task("show", "show an entry; a check renders again to the same bytes")
    shown.add_argument("number", type=int, metavar="NUMBER", help="number of the entry")
    one = shown.add_mutually_exclusive_group()
    one.add_argument("--json", action="store_true", help="print the record as JSON, as it was written")
    one.add_argument("--html", action="store_true", help="print the record's page")
    shown.set_defaults(run=_show)
    _add_decide(task("decide", "write down what a person decided"))
    verified = task("verify", "hash every entry again and hold it against the chain")
    verified.add_argument("--expect", metavar="HASH", help="hash of an entry as it stands on a printed record")
    verified.set_defaults(run=_verify)
    exported = task("export", "write all entries into a table for other programs")
    exported.add_argument("target", type=Path, metavar="TARGET", help="a new file ending in .csv or .parquet (needs the extra 'parquet')")
    exported.set_defaults(run=_export)


def _add_decide(decide: argparse.ArgumentParser) -> None:
    decide.add_argument("kind", choices=("void", "rework", "concession", "release", "reject"), help="what was decided")
    decide.add_argument("--batch", required=True, metavar="ID", help="the batch")
    decide.add_argument("--about", type=int, metavar="NUMBER", help="the check it is about (its last one); a void must name it")
    decide.add_argument("--operator", required=True, metavar="WORDS", help="who decided")
    decide.add_argument("--role", required=True, metavar="WORDS", help="as what")
    decide.add_argument("--reason", required=True, metavar="WORDS", help="why; for a void the assignable cause, in words")
    decide.add_argument("--expires", default="", metavar="DAY", help="last day of rework or a concession, as 2026-12-31")
    decide.set_defaults(run=_decide)


def stamp(entry: Entry) -> str:
    """Return the line that ties what is printed to the register; the register's own name may change and is not in it."""
    return f"register entry {entry.number}, hash {entry.hash}"


def check_and_keep(arguments: argparse.Namespace, batch: Batch, specification: Specification) -> tuple[BatchCheck, str]:
    """Check a batch and, with a register, append it there; return the check and the line that ties it to the register.

    Raises
    ------
    RetestError
        When the check would be testing into compliance; the register then holds a remark of it.
    """
    from rheokit.release.check import check_batch  # noqa: PLC0415 - `rheokit --help` stays fast

    now = datetime.now(UTC)
    if arguments.register is None:
        return check_batch(batch, specification, time=now, operator=arguments.operator), ""
    from rheokit.register.history import append_check, append_refusal, history_of  # noqa: PLC0415 - only wanted with a register
    from rheokit.register.store import Register  # noqa: PLC0415 - as above

    if not (arguments.operator or "").strip():
        arguments.wrong_usage("--register needs --operator WORDS: an entry says who made it")
    register = Register(arguments.register)
    history = history_of(register, batch.name, specification)
    try:
        checked = check_batch(batch, specification, time=now, operator=arguments.operator, earlier=history.checks)
    except RetestError as error:
        append_refusal(register, batch, specification, error, operator=arguments.operator, time=now.isoformat(timespec="seconds"))
        raise
    return checked, stamp(append_check(register, checked.record, seen=history.seen))


def _create(arguments: argparse.Namespace) -> int:
    from rheokit.register.store import Register  # noqa: PLC0415 - `rheokit --help` stays fast

    if arguments.file.exists():
        raise OutputError(f"{printable(arguments.file)}: is there already and is not replaced; name another file")
    Register(arguments.file, create=True)
    sys.stdout.write(f"made {printable(arguments.file)}; check with --register {printable(arguments.file)} to append to it\n")
    return 0


def _list(arguments: argparse.Namespace) -> int:
    from rheokit.register.store import Register  # noqa: PLC0415 - `rheokit --help` stays fast

    table = Register(arguments.file).table(last=max(arguments.last, 0), batch=arguments.batch)
    sys.stdout.write(f"{table.text(_WIDTH)}\n")
    return 0


def _show(arguments: argparse.Namespace) -> int:
    from rheokit.register.store import Register  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.release.record import Record  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.reports.terminal import print_record  # noqa: PLC0415 - `rheokit --help` stays fast

    entry = Register(arguments.file).entry(arguments.number)
    line = stamp(entry)
    if entry.kind != "check":
        if arguments.json or arguments.html:
            raise OutputError(f"entry {entry.number} is a {entry.kind}, which has no record; show it without --json or --html")
        fields = {name: text for name, text in entry.values.items() if text}
        sys.stdout.write("\n".join(f"{name.replace('_', ' ')}: {printable(text, 1000)}" for name, text in fields.items()))
        sys.stdout.write(f"\n{line}\n")
        return 0
    if arguments.json:
        sys.stdout.write(entry.record.decode("utf-8"))
        return 0
    document = Record.from_json(entry.record.decode("utf-8")).document
    if arguments.html:
        from rheokit.reports.page import page  # noqa: PLC0415 - only wanted where a page is made

        sys.stdout.write(page(document, registered=line))
        return 0
    print_record(document, sys.stdout)
    sys.stdout.write(f"{line}\n")
    return 0


def _decide(arguments: argparse.Namespace) -> int:
    from rheokit.register.history import decide  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.register.store import Register  # noqa: PLC0415 - `rheokit --help` stays fast

    entry = decide(
        Register(arguments.file), arguments.kind, batch=arguments.batch, operator=arguments.operator, role=arguments.role,
        reason=arguments.reason, about=arguments.about, expires=arguments.expires,
    )  # fmt: skip
    sys.stdout.write(f"{entry.kind} of entry {entry.about} (batch {printable(entry.batch)}) is kept\n{stamp(entry)}\n")
    return 0


def _verify(arguments: argparse.Namespace) -> int:
    from rheokit.register.verification import verify_register  # noqa: PLC0415 - `rheokit --help` stays fast

    found = verify_register(arguments.file, expected_hash=arguments.expect)
    sys.stdout.write(f"{found.table().text(_WIDTH)}\n")
    return 0 if found.holds else DOES_NOT_HOLD


def _export(arguments: argparse.Namespace) -> int:
    from rheokit.register.export import export_register  # noqa: PLC0415 - `rheokit --help` stays fast
    from rheokit.register.store import Register  # noqa: PLC0415 - `rheokit --help` stays fast

    count = export_register(Register(arguments.file), arguments.target)
    sys.stdout.write(f"{count} entries written to {printable(arguments.target)}\n")
    return 0
