"""A folder becomes a Batch, with and without batch.toml, and whatever is not used is said."""

from __future__ import annotations

import re

import pytest

import rheokit as rk
from rheokit.base.errors import MissingFileError, ReadError
from rheokit.reading.entered import HEADER

TABLE = "Step,t [s],γ̇ [1/s],τ [Pa]\n1,1,100,{stress}\n1,2,100,390\n"
TOML = 'format = 1\n[batch]\nid = "B26-041"\noperator = "technician 2"\nmade = 2026-09-14\n'


def export(stress=400, **preamble):
    return "".join(f"{key},{value}\n" for key, value in preamble.items()) + TABLE.format(stress=stress)


def listed(file="loop_load1.csv", test="loop", load=1, more=""):
    return f'[[run]]\nfile = "{file}"\ntest = "{test}"\nload = {load}\n{more}\n'


def said(batch, check):
    return [finding for finding in batch.findings if finding.check == check]


def test_the_batch_file_places_the_runs(write, tmp_path):
    runs = (
        listed("b.csv", "loop", 2, 'set_temperature = "23.0 °C"')
        + listed("a.csv", "loop", 1)
        + listed("sub/c.csv", "steady", 1)
        + listed("standard.csv", "loop", 1, 'role = "reference"')
    )
    write(TOML + runs, "batch.toml")
    for index, name in enumerate(("a.csv", "b.csv", "sub/c.csv", "standard.csv")):
        write(export(400 + index, Operator="somebody", Room="3"), name)
    batch = rk.read_batch(tmp_path)
    assert batch.name == "B26-041"
    assert {test: [run.name for run in loads] for test, loads in batch.runs.items()} == {
        "loop": ["a.csv", "b.csv", "standard.csv"],
        "steady": ["sub/c.csv"],
    }
    assert batch.places["b.csv"].set_temperature == pytest.approx(296.15, abs=1e-12)
    assert batch.places["standard.csv"].role == "reference"
    assert {place.learnt_from for place in batch.places.values()} == {"batch.toml"}
    assert dict(batch.metadata) == {"operator": "technician 2", "room": "3", "id": "B26-041", "made": "2026-09-14"}
    assert batch.folder == tmp_path
    assert [finding for finding in batch.findings if finding.severity != "info"] == []


def test_missing_unlisted_and_unreadable_exports_are_said_and_the_batch_still_reads(write, tmp_path):
    write(TOML + listed() + listed("gone.csv", load=2) + listed("bad.csv", load=3), "batch.toml")
    write(export(), "loop_load1.csv")
    write("t [s],τ\n1,2\n", "bad.csv")
    write(export(401), "extra.csv")
    batch = rk.read_batch(str(tmp_path))
    assert len(batch.runs["loop"]) == 1
    (missing,), (bad,), (extra,) = (said(batch, check) for check in ("missing_run", "unreadable_export", "unlisted_export"))
    assert (missing.severity, bad.severity, extra.severity) == ("caution", "invalid", "caution")
    assert str(missing) == "'gone.csv' (load 2 of loop) is listed in batch.toml and not in the folder"
    assert "bad.csv, line 1, column 2 ('τ'): shear stress has no unit" in str(bad)
    assert str(extra) == "'extra.csv' is not listed in batch.toml and was not used"


@pytest.mark.parametrize(
    ("preamble", "name", "test", "load", "learnt"),
    [
        ({"Test": "loop", "Load": 2}, "x.csv", "loop", 2, "the preamble"),
        ({"TEST": "Steady Steps", "load": 1}, "loop_load7.csv", "steady_steps", 1, "the preamble"),
        ({}, "step_recovery_load3.csv", "step_recovery", 3, "the file name"),
        ({}, "Loop_Load_12.CSV", "loop", 12, "the file name"),
        ({"Test": "loop"}, "x_load3.csv", "loop", 3, "test from the preamble, load from the file name"),
    ],
)
def test_without_a_batch_file_the_place_is_learnt_and_said(write, tmp_path, preamble, name, test, load, learnt):
    write(export(**preamble), name)
    batch = rk.read_batch(tmp_path)
    place = batch.places[name]
    assert (place.test, place.load, place.learnt_from, place.role) == (test, load, learnt, "batch")
    assert [str(finding) for finding in said(batch, "placed")] == [f"test {test}, load {load}: learnt from {learnt}"]


def test_an_export_without_a_place_is_left_out(write, tmp_path):
    write(export(), "loop_load1.csv")
    write(export(401), "monday.csv")
    batch = rk.read_batch(tmp_path)
    assert list(batch.places) == ["loop_load1.csv"]
    (finding,) = said(batch, "not_placed")
    assert (finding.severity, finding.source) == ("caution", "monday.csv")
    assert "says which test and load this is; it is left out; list it in batch.toml" in str(finding)


def test_a_load_of_nought_is_no_place(write, tmp_path):
    write(export(), "loop_load1.csv")
    write(export(401, Test="loop", Load=0), "x.csv")
    (finding,) = said(rk.read_batch(tmp_path), "not_placed")
    assert "says which load this is" in str(finding)


def test_the_batch_is_called_after_its_preambles_if_they_agree_else_after_its_folder(write, tmp_path):
    write(export(Batch="B7"), "q/loop_load1.csv")
    write(export(401, Batch="B7"), "q/loop_load2.csv")
    assert rk.read_batch(tmp_path / "q").name == "B7"
    write(export(402, Batch="B8"), "q/loop_load3.csv")
    batch = rk.read_batch(tmp_path / "q")
    assert batch.name == "q"
    assert [str(finding) for finding in said(batch, "batch_name")] == [
        "the preambles name 2 batches ('B7', 'B8'); it is called after its folder"
    ]


def test_hidden_temporary_and_other_files_are_passed_over_by_name(write, tmp_path):
    write(export(), "loop_load1.csv")
    for name in ("#loop#", ".hidden.csv", "~$loop.csv", "a.csv.tmp", "b.bak", "c.csv~", "notes.md"):
        write(export(402), name)
    (tmp_path / "old.csv").mkdir()
    batch = rk.read_batch(tmp_path)
    assert list(batch.places) == ["loop_load1.csv"]
    (finding,) = said(batch, "passed_over")
    for part in (
        "'#loop#' (temporary)",
        "'.hidden.csv' (hidden)",
        "'~$loop.csv' (temporary)",
        "'a.csv.tmp' (temporary)",
        "'b.bak' (temporary)",
        "'c.csv~' (temporary)",
        "'notes.md' (not an export)",
        "'old.csv' (a folder)",
    ):
        assert part in str(finding)


def test_two_exports_for_one_load_are_refused(write, tmp_path):
    write(export(Test="loop", Load=1), "a.csv")
    write(export(401, Test="loop", Load=1), "b.csv")
    with pytest.raises(
        ReadError, match=r"'a\.csv' and 'b\.csv' are both load 1 of loop; list the exports in batch\.toml, or take one away"
    ):
        rk.read_batch(tmp_path)


def test_the_same_bytes_twice_are_said(write, tmp_path):
    write(export(), "loop_load1.csv")
    write(export(), "loop_load2.csv")
    (finding,) = said(rk.read_batch(tmp_path), "same_bytes")
    assert (finding.severity, finding.source) == ("invalid", "loop_load2.csv")


def test_a_preamble_of_another_batch_test_or_load_is_said(write, tmp_path):
    write(TOML + listed() + listed("standard.csv", "loop", 1, 'role = "reference"'), "batch.toml")
    write(export(Batch="B26-040", Test="steady", Load=2), "loop_load1.csv")
    write(export(401, Batch="STANDARD"), "standard.csv")
    assert [str(finding) for finding in said(rk.read_batch(tmp_path), "contradiction")] == [
        "the preamble says test 'steady', the batch file 'loop'; the batch file counts",
        "the preamble says load 2, the batch file 1; the batch file counts",
        "the preamble says batch 'B26-040', the batch file 'B26-041'; find out which, and mend the batch file or take the export away",
    ]
    assert [finding.severity for finding in said(rk.read_batch(tmp_path), "contradiction")] == ["caution", "caution", "invalid"]


def test_results_typed_in_are_read_and_their_mistakes_are_not_dropped(write, tmp_path):
    write(export(), "loop_load1.csv")
    row = "density,1.152,g/cm³,0.003,pycnometer,2026-09-14T13:40:00Z\n"
    write(",".join(HEADER) + "\n" + row, "results.csv")
    assert [estimate.name for estimate in rk.read_batch(tmp_path).entered] == ["density"]
    write(",".join(HEADER) + "\n" + row + "solids,many,%,,oven,2026-09-14T13:40:00Z\n", "results.csv")
    batch = rk.read_batch(tmp_path)
    (finding,) = said(batch, "unreadable_results")
    assert batch.entered == ()
    assert finding.severity == "invalid"
    assert "results.csv, line 3, value: 'many' is not a number" in str(finding)


def test_nothing_readable_at_all_is_an_error(write, tmp_path):
    with pytest.raises(MissingFileError, match="there is no such folder"):
        rk.read_batch(tmp_path / "gone")
    with pytest.raises(ReadError, match="the folder holds no export; name the folder"):
        rk.read_batch(tmp_path)
    path = write("t [s],τ\n1,2\n", "loop_load1.csv")
    with pytest.raises(ReadError, match=r"none of its exports can be read: loop_load1\.csv, line 1, column 2"):
        rk.read_batch(tmp_path)
    with pytest.raises(ReadError, match="this is a file, not a folder"):
        rk.read_batch(path)


LEADS_OUT = [
    "../x.csv",
    "sub/../loop_load1.csv",
    "/etc/passwd",
    "a/../../x.csv",
    "C:/x.csv",
    "C:x.csv",
    "..\\\\x.csv",
    "\\\\\\\\host\\\\x.csv",
    "a" * 300,
]


@pytest.mark.parametrize("file", LEADS_OUT)
def test_a_file_outside_the_folder_is_refused(write, tmp_path, file):
    write(TOML + listed(file), "batch.toml")
    with pytest.raises(ReadError, match=r"batch\.toml, run 1, file: .* is not inside the folder; name a file of the folder"):
        rk.read_batch(tmp_path)


def test_a_link_that_leads_out_of_the_folder_is_not_followed(write, tmp_path):
    write(export(), "secret.csv")
    write(export(401), "q/loop_load1.csv")
    (tmp_path / "q" / "loop_load2.csv").symlink_to(tmp_path / "secret.csv")
    (tmp_path / "q" / "circle.csv").symlink_to("circle.csv")
    batch = rk.read_batch(tmp_path / "q")
    assert list(batch.places) == ["loop_load1.csv"]
    assert "'loop_load2.csv' (a link that leads out of the folder)" in str(said(batch, "passed_over")[0])
    write(TOML + listed("loop_load2.csv"), "q/batch.toml")
    with pytest.raises(ReadError, match=r"'loop_load2\.csv' is not inside the folder"):
        rk.read_batch(tmp_path / "q")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[batch]\n", r"batch\.toml, format: it is missing"),
        ("format = 1\n[batch]\nretaind_sample = 'R'\n", r"batch\.toml, batch\.retaind_sample: unknown key; .* 'retained_sample'\?"),
        ("format = 1\n[batches]\n", r"batch\.toml, batches: unknown key; did you mean 'batch'\?"),
        ("format = 1\nbatch = 3\n", r"batch\.toml, batch: it is 3, not a table; write '\[batch\]'"),
        ("format = 1\n[batch]\nid = 41\n", r"batch\.toml, batch\.id: it is 41, not a text; write it in quotes"),
        ("format = 1\n[batch]\nid = ' '\n", r"batch\.toml, batch\.id: it is ' ', not a text"),
        ("format = 1\n[batch]\nrole = 'standard'\n", r"batch\.toml, batch\.role: unknown role 'standard'; known are batch, reference"),
        ("format = 1\n[run]\nfile = 'a'\n", r"batch\.toml, run: it is not a list of tables; write '\[\[run\]\]'"),
        (TOML + "[[run]]\nfile = 'a.csv'\ntest = 'loop'\n", r"batch\.toml, run 1, load: it is missing; write a whole number from 1"),
        (TOML + "[[run]]\ntest = 'loop'\nload = 1\n", r"batch\.toml, run 1, file: it is missing; every run has a file, a test and a load"),
        (TOML + listed(load="true"), r"batch\.toml, run 1, load: it is True"),
        (TOML + listed(load=0), r"batch\.toml, run 1, load: it is 0; write a whole number from 1"),
        (TOML + listed(test="Loop test"), r"batch\.toml, run 1, test: 'Loop test' is no name of a test; write one word in small letters"),
        (TOML + listed(more="lod = 1"), r"batch\.toml, run 1, lod: unknown key; did you mean 'load'\?"),
        (TOML + listed(more="set_temperature = '23'"), r"batch\.toml, run 1, set_temperature: .*; write for example '23\.0 °C'"),
        (TOML + listed(more="set_temperature = '23 °C ± 1'"), r"set_temperature: .* has a tolerance; a set temperature is one number"),
        (TOML + listed(more="set_temperature = '-300 °C'"), r"set_temperature: .* is below absolute zero"),
        (TOML + listed() + listed(load=2), r"batch\.toml, run 2, file: 'loop_load1\.csv' is listed in run 1 as well"),
        (TOML + listed() + listed("./loop_load1.csv", load=2), r"run 2, file: '\./loop_load1\.csv' is listed in run 1 as well"),
        (TOML + listed() + listed("b.csv"), r"batch\.toml, run 2, load: load 1 of loop is run 1 already; number the loads"),
    ],
)
def test_mistakes_in_the_batch_file_are_named_by_key(write, tmp_path, text, message):
    write(export(), "loop_load1.csv")
    write(text, "batch.toml")
    with pytest.raises(ReadError, match=message):
        rk.read_batch(tmp_path)


def test_hostile_names_are_shown_as_text_and_nothing_is_written(write, tmp_path):
    write(export(), "loop_load1.csv")
    write("nonsense", "\x1b[31m$(rm -rf x)\u202e.csv")
    before = sorted(tmp_path.iterdir())
    batch = rk.read_batch(tmp_path)
    (finding,) = said(batch, "unreadable_export")
    assert re.search(r"\\x1b\[31m\$\(rm -rf x\)\\u202e\.csv", str(finding))
    assert "\x1b" not in str(finding)
    assert sorted(tmp_path.iterdir()) == before
