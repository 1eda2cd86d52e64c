"""A batch's history in the register: checks that count, decisions of people, and how both are appended."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from rheokit.base.errors import OutputError, RetestError, printable
from rheokit.base.run import Batch
from rheokit.register.entry import Entry, EntryKind, new_decision
from rheokit.register.store import Register
from rheokit.release.record import Record
from rheokit.release.result_rows import ResultRow, result_rows, rows_from_text, rows_to_text
from rheokit.release.retest import EarlierCheck, counted_results
from rheokit.release.specification import Specification

__all__ = ["History", "append_check", "append_refusal", "check_entry", "decide", "history_of", "register_rows"]


@dataclass(frozen=True, kw_only=True)
class History:
    """Earlier checks of a batch by one specification since its last rework, and the number of the last entry of the batch."""

    checks: tuple[EarlierCheck, ...]
    seen: int


def history_of(register: Register, batch: str, specification: Specification) -> History:
    """Return what counts when a batch is checked by a specification: its file, or its product and revision, name it.

    A specification that was saved anew under the same product and revision is the same one.
    """
    entries = list(register.entries(batch=batch))
    reworked = max((entry.number for entry in entries if entry.kind == "rework"), default=0)
    void = {int(entry.about): entry for entry in entries if entry.kind == "void"}
    checks = []
    for entry in entries:
        same = entry.specification_sha256 == specification.sha256 or (entry.product, entry.revision) == (
            specification.product,
            specification.revision,
        )
        if entry.kind != "check" or entry.number <= reworked or not same:
            continue
        cause = void.get(entry.number)
        held = EarlierCheck(
            number=entry.number, hash=entry.hash, disposition=entry.disposition, results=counted_results(json.loads(entry.record))
        )
        checks.append(held if cause is None else replace(held, void=cause.reason, void_entry=cause.number))
    return History(checks=tuple(checks), seen=entries[-1].number if entries else 0)


def check_entry(record: Record, *, written: str | None = None) -> Entry:
    """Return the entry of a check: the whole record, the hashes of what it rests on, its versions, and its numbers as rows.

    Raises
    ------
    OutputError
        When the record carries no time and none is given: an entry says when it was written.
    """
    document = record.document
    when = written or document["time"]
    if not when:
        raise OutputError("a check without a time is not kept; give check_batch the time, as datetime.now(timezone.utc)")
    head = document["specification"]
    inputs = {run["name"]: run["sha256"] for run in document["runs"]}
    for line in document["requirements"]:
        for load in line["loads"]:
            inputs |= {source["run"]: source["sha256"] for source in (load["estimate"] or {"sources": ()})["sources"]}
    return Entry(
        kind="check",
        written=when,
        batch=document["batch"]["id"],
        product=head["product"],
        revision=head["revision"],
        disposition=document["disposition"],
        operator=document["operator"] or "",
        reason=document["reason"],
        specification_sha256=head["sha256"],
        inputs_sha256=_compact(inputs),
        record_sha256=record.sha256,
        results=rows_to_text(result_rows(document)),
        versions=_compact(document["versions"]),
        record=record.to_bytes(),
    )


def append_check(register: Register, record: Record, *, seen: int | None = None, written: str | None = None) -> Entry:
    """Append a check and return its entry; `seen` is the last entry of the batch that the check knew of."""
    return register.append(check_entry(record, written=written), seen=seen)


def append_refusal(register: Register, batch: Batch, specification: Specification, why: RetestError, *, operator: str, time: str) -> Entry:
    """Append a remark that a check was refused, with the hashes of what it would have rested on: results that were seen leave a trace."""
    inputs = {run.name: run.source.sha256 for run in batch.all_runs}
    return register.append(
        Entry(
            kind="remark",
            written=time,
            batch=batch.name,
            product=specification.product,
            revision=specification.revision,
            operator=operator,
            reason=f"check refused: {why}",
            specification_sha256=specification.sha256,
            inputs_sha256=_compact(inputs),
        )
    )


def _compact(held: dict[str, str]) -> str:
    return json.dumps(held, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode("utf-8", "backslashreplace").decode()


def decide(
    register: Register, kind: EntryKind, *, batch: str, operator: str, role: str, reason: str, about: int | None = None,
    expires: str = "", time: datetime | None = None,
) -> Entry:  # fmt: skip
    """Append what a person decided on a batch, and return the entry.

    Parameters
    ----------
    register, kind
        Where to, and `void`, `rework`, `concession`, `release` or `reject`.
    batch, about
        The batch, and the check it is about; without one its last check that is not void.
    operator, role, reason, expires
        Who, as what, why in words, and the last day of rework or a concession.
    time
        Of the decision, with its zone; now without one.

    Raises
    ------
    OutputError
        When something is missing, the check is not one of this batch or void already, or a release goes against a rejection.
    """
    when = (time or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds")
    asked = {"written": when, "batch": batch, "operator": operator, "role": role, "reason": reason, "expires": expires}
    new_decision(kind, **asked, about=about)  # what is missing is said before the register is looked at
    entries = list(_plain(register, batch))
    void = {int(entry.about) for entry in entries if entry.kind == "void"}
    checks = {entry.number: entry for entry in entries if entry.kind == "check" and entry.number not in void}
    if about in void:
        raise OutputError(f"entry {about} is void already")
    if not checks or (about is not None and about not in checks):
        known = ", ".join(map(str, checks)) or "none"
        wanted = "a decision" if about is None else f"entry {about}"
        raise OutputError(f"{wanted} is about a check of batch {printable(batch)}; those that count are: {known}")
    held = checks[max(checks) if about is None else about]
    if kind == "release" and held.disposition == "reject":
        raise OutputError(f"entry {held.number} recommends to reject: a release against it is a concession, with its last day")
    return register.append(new_decision(kind, **asked, about=held.number), seen=entries[-1].number)


def _plain(register: Register, batch: str) -> Iterator[Entry]:
    """Yield a batch's entries; the records stay unread."""
    yield from register.latest(len(register), batch=batch)


def register_rows(register: Register, *, last: int = 1000, product: str | None = None) -> list[ResultRow]:
    """Return the numbers of the last so many checks that are not void, in their order, as rows for a trend.

    A check that was repeated counts by its last look; product is the one of the last check unless it is named, for products never share
    a chart.
    """
    checks = register.latest(last, kind="check")
    void = {int(entry.about) for entry in register.latest(len(register), kind="void")}
    kept = [entry for entry in checks if entry.number not in void]
    if not kept:
        return []
    wanted = kept[-1].product if product is None else product
    looked: dict[str, Entry] = {entry.batch: entry for entry in kept if entry.product == wanted}
    return [row for entry in sorted(looked.values(), key=lambda one: one.number)
            for row in rows_from_text(entry.results, batch=entry.batch, number=entry.number)]  # fmt: skip
