"""The register: appended for good, chained, verified; kills and tampering leave no doubt."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from itertools import pairwise
from pathlib import Path

import pytest
from studies.register_kills import study

from rheokit.base.errors import MissingFileError, OutputError, ReadError
from rheokit.register.entry import FIRST, Entry, new_decision
from rheokit.register.store import Register
from rheokit.register.verification import verify_register


def entry(number, record=b'{"format": "rheokit record 1"}'):
    return Entry(kind="check", written=f"2026-11-25T08:00:{number:02d}Z", batch=f"B26-{number:03d}", disposition="release", record=record)


@pytest.fixture
def register(tmp_path):
    return Register(tmp_path / "register.sqlite", create=True)


@pytest.fixture
def filled(register):
    for number in range(1, 21):
        register.append(entry(number))
    return register


def meddle(register, *statements):
    """Change the file as somebody with an editor would: triggers dropped first."""
    with closing(sqlite3.connect(register.path)) as connection:
        for name in ("entries_stay", "entries_remain", "entries_follow", "entries_end", "last_remains", "last_rises"):
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        connection.commit()


def troubles(register, **given):
    found = [(trouble.number, trouble.kind) for trouble in verify_register(register.path, **given).troubles]
    assert (0, "unguarded") in found  # the triggers that had to go first
    return [one for one in found if one != (0, "unguarded")]


def test_what_is_appended_reads_back_in_order_and_chained(filled):
    held = list(filled.entries())
    assert [found.number for found in held] == list(range(1, 21))
    assert held[0].previous == FIRST
    assert all(later.previous == earlier.hash for earlier, later in pairwise(held))
    assert held[4].record == b'{"format": "rheokit record 1"}'
    assert [found.number for found in filled.entries(batch="B26-007")] == [7]
    assert filled.entry(3).batch == "B26-003"
    assert len(filled) == 20
    assert filled.last_hash == held[-1].hash
    assert verify_register(filled.path).holds


def test_nothing_is_changed_or_deleted_even_by_hand(filled):
    for statement in (
        "UPDATE entries SET disposition = 'release' WHERE number = 3",
        "DELETE FROM entries WHERE number = 3",
        "REPLACE INTO entries SELECT * FROM entries WHERE number = 3",
        "DELETE FROM last",
        "UPDATE last SET number = 3",
    ):
        with pytest.raises(OutputError, match="nothing was written"), filled.connection() as connection:
            connection.execute(statement)
    assert verify_register(filled.path).holds


@pytest.mark.parametrize(
    ("statements", "expected"),
    [
        (("UPDATE entries SET disposition = 'reject' WHERE number = 7",), [(7, "altered")]),
        (("UPDATE entries SET record = x'00' WHERE number = 1",), [(1, "altered")]),
        (("DELETE FROM entries WHERE number = 7",), [(7, "missing")]),
        (("DELETE FROM entries WHERE number IN (7, 8, 9)",), [(7, "missing")]),
        (("DELETE FROM entries WHERE number > 18",), [(19, "cut off")]),
        (
            (
                "UPDATE entries SET number = -1 WHERE number = 5",
                "UPDATE entries SET number = 5 WHERE number = 6",
                "UPDATE entries SET number = 6 WHERE number = -1",
            ),
            [(5, "out of order"), (5, "altered"), (6, "out of order"), (6, "altered"), (7, "out of order")],
        ),
        (("DELETE FROM last",), [(0, "altered")]),
    ],
)
def test_meddling_is_located(filled, statements, expected):
    meddle(filled, *statements)
    assert troubles(filled) == expected


_EIGHTEEN = "UPDATE last SET number = 18, hash = (SELECT hash FROM entries WHERE number = 18)"


def test_an_end_cut_off_with_its_mark_is_missed_by_a_printed_hash(filled):
    printed = filled.last_hash
    meddle(
        filled, "DELETE FROM entries WHERE number > 18", "UPDATE last SET number = 18, hash = (SELECT hash FROM entries WHERE number = 18)"
    )
    assert troubles(filled) == []
    assert troubles(filled, expected_hash=printed) == [(18, "cut off")]


def test_a_rewritten_entry_with_a_hash_of_its_own_breaks_the_next(filled):
    held = filled.entry(7)
    forged = Entry(kind="check", written=held.written, batch=held.batch, disposition="reject", record=held.record)
    meddle(filled, f"UPDATE entries SET disposition = 'reject', hash = '{forged.chain_hash(held.previous, 7)}' WHERE number = 7")
    assert troubles(filled) == [(8, "out of order")]


def test_a_flipped_byte_and_a_truncated_file_are_found(filled):
    with closing(sqlite3.connect(filled.path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    whole = filled.path.read_bytes()
    for match in re.finditer(b"B26-007", whole):  # in the table and in the index
        damaged = bytearray(whole)
        damaged[match.start() + 6] ^= 0x10
        filled.path.write_bytes(bytes(damaged))
        assert {trouble.kind for trouble in verify_register(filled.path).troubles} <= {"altered", "damaged"}
        assert not verify_register(filled.path).holds
    filled.path.write_bytes(whole[:-4096])
    assert not verify_register(filled.path).holds
    filled.path.write_bytes(whole[:50])
    assert verify_register(filled.path).troubles[0].kind == "unreadable"


def test_a_damaged_byte_in_the_guards_is_trouble_and_no_crash(filled):
    with closing(sqlite3.connect(filled.path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    whole = filled.path.read_bytes()
    place = whole.index(b"TRIGGER last_rises")
    for offset in (0, 8, 12):  # the words of the database's own complaint then hold the byte, which is no UTF-8
        damaged = bytearray(whole)
        damaged[place + offset] ^= 0x80
        filled.path.write_bytes(bytes(damaged))
        assert not verify_register(filled.path).holds
        with pytest.raises(ReadError, match=r"it is no register of the format|it cannot be read as a register"):
            Register(filled.path)


def test_every_flipped_byte_that_matters_is_found(tmp_path):
    small = Register(tmp_path / "small.sqlite", create=True)
    for number in range(1, 4):
        small.append(entry(number))
    with closing(sqlite3.connect(small.path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    whole = small.path.read_bytes()
    kept = [(held.batch, held.disposition, held.record) for held in small.entries()]
    # Every 13th byte of the whole file: either the chain says so, or what is read is what was written.
    for index in range(0, len(whole), 13):
        damaged = bytearray(whole)
        damaged[index] ^= 0x04
        small.path.write_bytes(bytes(damaged))
        if verify_register(small.path).holds:
            held_now = [(held.batch, held.disposition, held.record) for held in small.entries()]
            assert held_now == kept, index


def test_kills_at_random_moments_lose_nothing_acknowledged():
    counts = study(kills=12, seed=3)
    assert counts["acknowledged"] > 20
    assert (counts["lost"], counts["troubles"], counts["locked_afterwards"]) == (0, 0, 0)


def test_writing_takes_no_more_than_the_register():
    # A process that imports the register loads nothing of the measuring side: several technicians' writers stay small.
    code = "import sys, rheokit.register.store; print([n for n in ('numpy', 'pandas', 'scipy', 'matplotlib') if n in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2])
    assert done.stdout.strip() in {"[]", "['numpy']"}


def test_an_archive_goes_in_whole_or_not_at_all(register):
    assert register.append_all(entry(number) for number in range(1, 50)) == 49

    def broken():
        yield entry(51)
        raise RuntimeError("stopped half way")

    with pytest.raises(RuntimeError, match="stopped half way"):
        register.append_all(broken())
    assert len(register) == 49
    assert verify_register(register.path).holds


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"role": ""}, r"^a concession needs its role in words; the program never decides it$"),
        ({"reason": " ", "operator": ""}, r"^a concession needs its operator and reason in words"),
        ({"expires": ""}, r"^a concession needs its last day \(expires, as 2026-12-31\), not ''$"),
        ({"expires": "next week"}, r"^a concession needs its last day \(expires, as 2026-12-31\), not 'next week'$"),
        ({"expires": "2026-11-24"}, r"^a concession cannot expire on 2026-11-24, before it is written$"),
        ({"kind": "rework", "expires": ""}, r"^a rework needs its last day"),
        ({"kind": "release"}, r"^a release does not expire; leave the last day out$"),
        ({"kind": "void", "about": None}, r"^a void names the entry it voids, and its reason is an assignable cause in words"),
        ({"kind": "void", "reason": "n/a 3"}, r"assignable cause in words, as 'air bubble seen in load 2'$"),
        ({"kind": "check"}, r"^'check' is no decision of a person; they are void, rework, concession, release, reject$"),
    ],
)
def test_a_decision_is_complete_or_refused(change, message):
    given = {"kind": "concession", "batch": "B26-041", "operator": "technician 2", "role": "head of quality", "about": 3}
    given |= {"written": "2026-11-25T10:00:00Z", "reason": "customer agreed", "expires": "2026-12-31"}
    assert new_decision(**given).about == "3"
    with pytest.raises(OutputError, match=message):
        new_decision(**(given | change))


def test_what_is_no_register_is_refused(tmp_path):
    with pytest.raises(MissingFileError, match=r"there is no register; create one with 'rheokit register create FILE'$"):
        Register(tmp_path / "nothing.sqlite")
    (tmp_path / "text.sqlite").write_text("not a database at all, only words" * 50)
    with pytest.raises(ReadError, match=r"it cannot be read as a register: file is not a database"):
        Register(tmp_path / "text.sqlite")
    with pytest.raises(MissingFileError, match="there is no register"):
        verify_register(tmp_path / "nothing.sqlite")
