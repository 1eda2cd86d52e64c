"""One entry of the register: what is appended, and the hash that chains it to the one before."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import Literal, get_args

from rheokit.base.carry import Carried
from rheokit.base.errors import OutputError, printable

__all__ = ["DECISIONS", "EXPIRING", "FIELDS", "FIRST", "KINDS", "Entry", "EntryKind", "chained", "new_decision"]

EntryKind = Literal["check", "void", "rework", "concession", "release", "reject", "remark"]
KINDS: tuple[EntryKind, ...] = get_args(EntryKind)
"""A check, and what people decide: an earlier entry voided for a cause, rework, a concession, the release or rejection itself, a remark."""

DECISIONS: tuple[EntryKind, ...] = ("void", "rework", "concession", "release", "reject")
"""What only a person decides: role and reason are needed."""

FIELDS = (
    "kind", "written", "batch", "product", "revision", "disposition", "operator", "role", "reason", "expires", "about",
    "specification_sha256", "inputs_sha256", "record_sha256", "results", "versions",
)  # fmt: skip
"""Text columns of an entry in the order in which they are hashed, the record itself last."""

EXPIRING: tuple[EntryKind, ...] = ("rework", "concession")
"""Decisions with a last day."""

_WORD = re.compile(r"[^\W\d_]{2,}")
_LEAST_WORDS = 3
"""Words of which an assignable cause is made at least (our own setting)."""

FIRST = "0" * 64
"""What the first entry is chained to."""


@dataclass(frozen=True, kw_only=True)
class Entry(Carried):
    """One entry; every field is text, `about` the number of an earlier entry or empty, `record` the JSON of a check or empty.

    `number` and `hash` are given by the register. `written` is UTC in ISO 8601. `expires` is the last day of a rework or concession.
    `results` holds the numbers of a check once more, so that a trend over many checks need not open every record.
    """

    kind: EntryKind
    written: str
    batch: str
    product: str = ""
    revision: str = ""
    disposition: str = ""
    operator: str = ""
    role: str = ""
    reason: str = ""
    expires: str = ""
    about: str = ""
    specification_sha256: str = ""
    inputs_sha256: str = ""
    record_sha256: str = ""
    results: str = ""
    versions: str = ""
    record: bytes = b""
    number: int = 0
    previous: str = ""
    hash: str = ""
    values: Mapping[str, str] = field(default_factory=dict, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise OutputError(f"{printable(self.kind)!r} is no kind of entry; they are {', '.join(KINDS)}")
        object.__setattr__(self, "values", MappingProxyType({name: getattr(self, name) for name in FIELDS}))

    def chain_hash(self, previous: str, number: int) -> str:
        """Return the sha256 that chains this entry as number so-and-so to the hash before it."""
        return chained(previous, number, tuple(self.values[name] for name in FIELDS), self.record)


def chained(previous: str, number: int, texts: tuple[str, ...], record: bytes) -> str:
    """Return the sha256 of the hash before, the number, every text with its length, and the record: nothing can move between fields."""
    head = json.dumps([previous, number, *texts], ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(head.encode("ascii") + b"\n" + record).hexdigest()


def new_decision(
    kind: EntryKind, *, written: str, batch: str, operator: str, role: str, reason: str, about: int | None = None, expires: str = ""
) -> Entry:
    """Return the entry of a human decision, complete or refused.

    Raises
    ------
    OutputError
        When role, name or reason is missing, a void does not name an entry and a cause in words, or rework or a concession has no last
        day, or one that is past.
    """
    if kind not in DECISIONS:
        raise OutputError(f"{printable(kind)!r} is no decision of a person; they are {', '.join(DECISIONS)}")
    missing = [name for name, text in (("operator", operator), ("role", role), ("reason", reason)) if not text.strip()]
    if missing:
        raise OutputError(f"a {kind} needs its {' and '.join(missing)} in words; the program never decides it")
    if kind == "void" and (about is None or len(_WORD.findall(reason)) < _LEAST_WORDS):
        raise OutputError("a void names the entry it voids, and its reason is an assignable cause in words, as 'air bubble seen in load 2'")
    if kind in EXPIRING:
        _check_day(kind, expires, written)
    elif expires:
        raise OutputError(f"a {kind} does not expire; leave the last day out")
    number = "" if about is None else str(about)
    return Entry(kind=kind, written=written, batch=batch, operator=operator, role=role, reason=reason, about=number, expires=expires)


def _check_day(kind: str, expires: str, written: str) -> None:
    try:
        day = date.fromisoformat(expires)
    except ValueError:
        raise OutputError(f"a {kind} needs its last day (expires, as 2026-12-31), not {printable(expires)!r}") from None
    if day.isoformat() < written[:10]:
        raise OutputError(f"a {kind} cannot expire on {expires}, before it is written")
