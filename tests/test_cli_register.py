"""The command `rheokit register`, and `rheokit check --register`, on the invented sample batches."""

from __future__ import annotations

import csv
import json
import shutil
import sys
from pathlib import Path

import pytest

from rheokit.base.errors import OutputError
from rheokit.cli import main
from rheokit.register.history import decide, register_rows
from rheokit.register.store import Register

TOP = Path(__file__).resolve().parents[1]
SAMPLES = TOP / "sample_rheometer_runs"
SPEC = SAMPLES / "specification.toml"


@pytest.fixture
def file(tmp_path, capsys):
    path = tmp_path / "plant.register"
    assert main(["register", "create", str(path)]) == 0
    capsys.readouterr()
    return path


def renamed(tmp_path, name):
    """Return a copy of the batch that is released, under another name throughout."""
    again = Path(shutil.copytree(SAMPLES / "B26-041", tmp_path / "again"))
    for path in again.iterdir():
        path.write_text(path.read_text(encoding="utf-8").replace("B26-041", name), encoding="utf-8")
    return again


def check(file, name, *more):
    folder = name if isinstance(name, Path) else SAMPLES / name
    return main(["check", str(folder), "--spec", str(SPEC), "--register", str(file), "--operator", "technician 2", *more])


def decision(file, kind, batch, *more):
    words = ("--operator", "A. Example", "--role", "head of laboratory", "--reason", "air bubble seen in load 2")
    return main(["register", "decide", str(file), kind, "--batch", batch, *words, *more])


def test_a_check_is_kept_whole_and_renders_again_to_the_same_bytes(file, tmp_path, capsys):
    assert check(file, "B26-041", "--output", str(tmp_path / "out")) == 0
    printed = capsys.readouterr().out
    entry = Register(file).entry(1)
    assert f"register entry 1, hash {entry.hash}" in printed
    (written,), (page,) = (tmp_path / "out").glob("*.json"), (tmp_path / "out").glob("*.html")
    assert entry.record == written.read_bytes()
    assert main(["register", "show", str(file), "1", "--json"]) == 0
    assert capsys.readouterr().out.encode() == written.read_bytes()
    assert main(["register", "show", str(file), "1", "--html"]) == 0
    assert capsys.readouterr().out.encode() == page.read_bytes()
    assert f"Kept as register entry 1, hash {entry.hash}." in page.read_text(encoding="utf-8")
    assert main(["register", "show", str(file), "1"]) == 0
    assert "RELEASE  all 8 requirements conforming" in capsys.readouterr().out


def test_an_entry_says_what_it_rests_on(file, capsys):
    assert check(file, "B26-043") == 5
    capsys.readouterr()
    entry = Register(file).entry(1)
    document = json.loads(entry.record)
    inputs = json.loads(entry.inputs_sha256)
    assert {run["sha256"] for run in document["runs"]} < set(inputs.values())  # results.csv besides
    assert entry.specification_sha256 == document["specification"]["sha256"]
    assert (entry.disposition, entry.operator, entry.reason) == ("reject", "technician 2", document["reason"])
    assert json.loads(entry.versions) == document["versions"]
    rows = {(row.requirement, row.role): row for row in register_rows(Register(file))}
    assert rows["viscosity-100", "batch"].value == document["requirements"][0]["estimate"]["value"]
    assert rows["check-oil", "check oil"].value == pytest.approx(1.023 / 1.020)
    assert rows["viscosity-100", "batch"].time.startswith("2026-09")


def test_a_record_that_cannot_be_written_is_kept_all_the_same_and_it_is_said(file, tmp_path, capsys):
    (tmp_path / "taken").write_text("a file where a folder is asked for", encoding="utf-8")
    assert check(file, "B26-041", "--output", str(tmp_path / "taken")) == 4
    assert f"the check itself is kept as register entry 1, hash {Register(file).last_hash}" in capsys.readouterr().err


@pytest.mark.parametrize("words", [("register",), ("register", "decide"), ("trend",)])
def test_every_command_has_help_with_examples(words, capsys):
    with pytest.raises(SystemExit) as stopped:
        main([*words, "--help"])
    assert stopped.value.code == 0
    said = capsys.readouterr().out
    assert "examples:" in said
    assert "exit codes:" in said


def test_a_register_needs_to_know_who(file, capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["check", str(SAMPLES / "B26-041"), "--spec", str(SPEC), "--register", str(file)])
    assert stopped.value.code == 2
    assert "--register needs --operator WORDS" in capsys.readouterr().err
    assert len(Register(file)) == 0


def test_fresh_loads_in_place_of_the_old_ones_are_testing_into_compliance(file, tmp_path, capsys):
    assert check(file, "B26-052") == 5
    again = renamed(tmp_path, "B26-052")
    capsys.readouterr()
    assert check(file, again) == 4
    assert "entry 1 rejects this batch, and a rejection is not measured away" in capsys.readouterr().err
    remark = Register(file).entry(2)  # results that were seen leave a trace
    assert (remark.kind, remark.operator, remark.record) == ("remark", "technician 2", b"")
    assert remark.reason.startswith("check refused: entry 1 rejects this batch")
    assert "loop_load1.csv" in remark.inputs_sha256
    assert decision(file, "void", "B26-052", "--about", "1") == 0
    assert check(file, again) == 0
    assert "Entry 1 is void by entry 3: air bubble seen in load 2." in capsys.readouterr().out


def test_a_specification_saved_anew_is_the_same_one(file, tmp_path, capsys):
    assert check(file, "B26-052") == 5
    saved = tmp_path / "saved.toml"
    saved.write_text("# another comment\n" + SPEC.read_text(encoding="utf-8"), encoding="utf-8")
    words = ["--register", str(file), "--operator", "technician 2"]
    assert main(["check", str(renamed(tmp_path, "B26-052")), "--spec", str(saved), *words]) == 4
    assert "entry 1 rejects this batch" in capsys.readouterr().err


def test_the_same_exports_checked_again_are_kept_and_no_new_look(file, capsys):
    assert check(file, "B26-046") == 3
    assert check(file, "B26-046") == 3
    assert "Look 1 at this batch; every result counts. Earlier checks that count: entry 1 (hold)." in capsys.readouterr().out
    assert len(Register(file)) == 2


def test_rework_makes_another_material(file, tmp_path, capsys):
    assert check(file, "B26-043") == 5
    assert decision(file, "rework", "B26-043", "--expires", "2099-12-31") == 0
    again = renamed(tmp_path, "B26-043")
    assert check(file, again) == 0


def test_list_show_and_verify(file, capsys):
    check(file, "B26-041")
    check(file, "B26-043")
    decision(file, "reject", "B26-043")
    capsys.readouterr()
    assert main(["register", "list", str(file), "--batch", "B26-043"]) == 0
    listed = capsys.readouterr().out
    assert "B26-041" not in listed
    assert "2 of 3 entries" in listed
    assert main(["register", "show", str(file), "3"]) == 0
    assert "role: head of laboratory" in capsys.readouterr().out
    assert main(["register", "show", str(file), "3", "--json"]) == 4
    assert "entry 3 is a reject, which has no record" in capsys.readouterr().err
    assert main(["register", "show", str(file), "9"]) == 4
    assert "there is no entry 9; it holds the entries 1 to 3" in capsys.readouterr().err
    assert main(["register", "verify", str(file), "--expect", Register(file).last_hash]) == 0
    assert main(["register", "verify", str(file), "--expect", "0" * 63 + "1"]) == 5
    assert "cut off" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("kind", "batch", "more", "message"),
    [
        ("release", "B26-043", (), "entry 2 recommends to reject: a release against it is a concession, with its last day"),
        ("void", "B26-041", ("--about", "2"), "entry 2 is about a check of batch B26-041; those that count are: 1"),
        ("void", "B26-041", (), "a void names the entry it voids"),
        ("concession", "B26-043", (), "a concession needs its last day (expires, as 2026-12-31), not ''"),
        ("reject", "B99", (), "a decision is about a check of batch B99; those that count are: none"),
    ],
)
def test_a_decision_that_does_not_stand_up_is_refused(file, capsys, kind, batch, more, message):
    check(file, "B26-041")
    check(file, "B26-043")
    assert decision(file, kind, batch, *more) == 4
    assert message in capsys.readouterr().err
    assert len(Register(file)) == 2


def test_the_program_never_decides(file):
    check(file, "B26-041")
    assert [entry.kind for entry in Register(file).entries()] == ["check"]
    register = Register(file)
    decide(register, "void", batch="B26-041", operator="A", role="head", reason="wrong cone was mounted", about=1)
    with pytest.raises(OutputError, match=r"^entry 1 is void already$"):
        decide(register, "void", batch="B26-041", operator="A", role="head", reason="wrong cone was mounted", about=1)


def test_an_entry_that_came_in_between_is_not_passed_over(file):
    check(file, "B26-041")
    register = Register(file)
    first = register.entry(1)
    with pytest.raises(OutputError, match=r"^entry 1 of batch B26-041 came in meanwhile; nothing was written; run it again$"):
        register.append(first, seen=0)
    assert len(register) == 1


def test_export_reads_back(file, tmp_path, capsys):
    parquet = pytest.importorskip("pyarrow.parquet")
    check(file, "B26-041")
    decision(file, "concession", "B26-041", "--expires", "2099-01-01")
    for suffix in ("csv", "parquet"):
        assert main(["register", "export", str(file), str(tmp_path / f"all.{suffix}")]) == 0
    held = list(Register(file).entries())
    csv.field_size_limit(sys.maxsize)
    with (tmp_path / "all.csv").open(encoding="utf-8", newline="") as text:
        rows = list(csv.DictReader(text))
    table = parquet.read_table(tmp_path / "all.parquet").to_pylist()
    for entry, row, other in zip(held, rows, table, strict=True):
        assert (row["number"], row["hash"], row["reason"]) == (str(entry.number), entry.hash, entry.reason)
        assert (other["number"], other["hash"], other["record"].encode()) == (entry.number, entry.hash, entry.record)
        assert row["record"].encode() == entry.record
    assert main(["register", "export", str(file), str(tmp_path / "all.csv")]) == 4
    assert main(["register", "export", str(file), str(tmp_path / "all.xlsx")]) == 4
    assert "is neither .csv nor .parquet" in capsys.readouterr().err


def test_parquet_without_its_extra_says_what_would_do(file, tmp_path, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert main(["register", "export", str(file), str(tmp_path / "all.parquet")]) == 4
    assert "pip install 'rheokit[parquet]', or export to .csv" in capsys.readouterr().err
    assert list(tmp_path.glob("*.parquet*")) == []


def test_a_cell_that_a_spreadsheet_would_run_stands_behind_an_apostrophe(file, tmp_path):
    check(file, "B26-041")
    decide(Register(file), "reject", batch="B26-041", operator="=HYPERLINK(1)", role="head", reason="of no use here")
    assert main(["register", "export", str(file), str(tmp_path / "all.csv")]) == 0
    assert "'=HYPERLINK(1)" in (tmp_path / "all.csv").read_text(encoding="utf-8")


def test_a_register_is_not_made_twice(file, capsys):
    assert main(["register", "create", str(file)]) == 4
    assert "is there already and is not replaced" in capsys.readouterr().err
