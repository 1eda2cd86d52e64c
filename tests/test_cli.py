"""The command, from the folder to the exit code, on the invented sample batches and on copies that were spoilt on purpose."""

import csv
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from rheokit.cli import main

TOP = Path(__file__).resolve().parents[1]
SAMPLES = TOP / "sample_rheometer_runs"
SPEC = SAMPLES / "specification.toml"
EXIT = {"release": 0, "hold": 3, "reject": 5}

ANSWERS = {
    # what each invented folder was made to be: sample_rheometer_runs/README.md
    "B26-041": "release",
    "B26-042": "release",
    "B26-044": "release",
    "B26-048": "release",
    "B26-043": "reject",
    "B26-045": "hold",
    "B26-046": "hold",
    "B26-047": "hold",
    "B26-049": "hold",
    "B26-050": "hold",
    "B26-051": "hold",
    "B26-052": "reject",
}


def check_json(capsys, folder, spec=SPEC):
    code = main(["check", str(folder), "--spec", str(spec), "--json"])
    document = json.loads(capsys.readouterr().out)
    assert code == EXIT[document["disposition"]]
    return document


def outcomes(document):
    return {line["id"]: line["outcome"] for line in document["requirements"]}


@pytest.fixture
def copy_of(tmp_path):
    def copy(name="B26-041", folder="q7x"):
        return Path(shutil.copytree(SAMPLES / name, tmp_path / folder))

    return copy


def rewrite(path, change):
    """Rewrite the table of an export cell by cell; the preamble stays."""
    preamble, table = path.read_text(encoding="utf-8").split("\n\n", 1)
    rows = list(csv.reader(table.splitlines()))
    changed = change(rows)
    path.write_text(preamble + "\n\n" + "\n".join(",".join(row) for row in changed) + "\n", encoding="utf-8")


def column(rows, words):
    return next(index for index, cell in enumerate(rows[0]) if cell.startswith(words))


@pytest.mark.parametrize(("name", "disposition"), ANSWERS.items(), ids=ANSWERS)
def test_every_sample_batch_is_what_it_was_made_to_be(capsys, name, disposition):
    assert check_json(capsys, SAMPLES / name)["disposition"] == disposition


def test_reasons_name_the_fault(capsys):
    def reasons(name):
        document = check_json(capsys, SAMPLES / name)
        return " ".join([line["reason"] for line in document["requirements"]] + [finding["reason"] for finding in document["findings"]])

    assert "sample was lost" in reasons("B26-045")
    assert "check oil reads" in reasons("B26-047")
    assert "1,000 times 'Shear stress [Pa]'" in reasons("B26-049")
    assert "1 of 2 loads of the test 'steady'" in reasons("B26-050")
    assert "critical range" in reasons("B26-051")


def test_the_inconclusive_batch_is_inconclusive_on_one_line_only(capsys):
    found = outcomes(check_json(capsys, SAMPLES / "B26-046"))
    assert found.pop("viscosity-100") == "inconclusive"
    assert set(found.values()) == {"conforming"}


def test_a_copy_under_another_name_still_releases(capsys, copy_of):
    assert check_json(capsys, copy_of())["disposition"] == "release"
    assert check_json(capsys, copy_of("B26-042", "another name with blanks"))["disposition"] == "release"


@pytest.mark.parametrize(
    ("columns", "disposition"),
    # Stress alone contradicts the viscosity beside it: no measurement. All that follows from it is a batch out of its limits.
    [(("Shear stress",), "hold"), (("Shear stress", "Viscosity", "Torque"), "reject")],
    ids=["stress alone", "all that follows"],
)
def test_stress_times_1_3_no_longer_releases(capsys, copy_of, columns, disposition):
    folder = copy_of()

    def raise_stress(rows):
        for name in columns:
            place = column(rows, name)
            for row in rows[1:]:
                row[place] = f"{1.3 * float(row[place]):.6g}" if row[place] else ""
        return rows

    for path in folder.glob("*_load*.csv"):
        rewrite(path, raise_stress)
    assert check_json(capsys, folder)["disposition"] == disposition


@pytest.mark.parametrize("gone", ["loop_load1.csv", "steady_load2.csv"])
def test_a_required_run_removed_gives_hold(capsys, copy_of, gone):
    folder = copy_of()
    (folder / gone).unlink()
    document = check_json(capsys, folder)
    assert document["disposition"] == "hold"
    assert "no measurement" in outcomes(document).values()


def test_columns_shuffled_give_the_same_numbers(capsys, copy_of):
    folder = copy_of()
    before = check_json(capsys, folder)
    for path in folder.glob("*_load*.csv"):
        rewrite(path, lambda rows: [[row[place] for place in (4, 7, 2, 0, 6, 3, 1, 5)] for row in rows])
    after = check_json(capsys, folder)
    for document in (before, after):
        for line in document["requirements"]:
            for load in [line, *line["loads"]]:
                load["estimate"]["sources"] = None  # the bytes of the file did change
        for run in document["runs"]:
            run["sha256"] = None
        document["time"] = None
    assert after == before


def test_a_second_load_that_disagrees_is_a_finding_and_a_hold(capsys, copy_of):
    folder = copy_of()

    def lower(rows):
        for name in ("Shear stress", "Viscosity", "Torque"):
            place = column(rows, name)
            for row in rows[1:]:
                row[place] = f"{0.9 * float(row[place]):.6g}" if row[place] else ""
        return rows

    rewrite(folder / "loop_load2.csv", lower)
    document = check_json(capsys, folder)
    assert document["disposition"] == "hold"
    assert "critical_range" in {finding["check"] for finding in document["findings"]}


def test_the_batch_folder_is_left_as_it_was(capsys, copy_of, tmp_path):
    folder = copy_of()
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    main(["check", str(folder), "--spec", str(SPEC), "--output", str(tmp_path / "records")])
    assert main(["check", str(folder), "--spec", str(SPEC), "--output", str(folder / "records")]) == 4
    assert "never written to" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    page, record = sorted((tmp_path / "records").iterdir())
    assert (page.suffix, record.suffix, page.stem) == (".html", ".json", record.stem)
    assert json.loads(record.read_text(encoding="utf-8"))["disposition"] == "release"


def test_a_pdf_is_written_beside_the_record(capsys, tmp_path):
    pytest.importorskip("typst")
    arguments = ["check", str(SAMPLES / "B26-041"), "--spec", str(SPEC), "--output", str(tmp_path), "--pdf"]
    assert main(arguments) == 0
    assert "and the page and the PDF beside it" in capsys.readouterr().out
    files = {path.suffix: path for path in tmp_path.iterdir()}
    assert files.keys() == {".html", ".json", ".pdf"}
    assert len({path.stem for path in files.values()}) == 1
    assert files[".pdf"].read_bytes().startswith(b"%PDF-")


def test_a_pdf_without_the_extra_is_one_clear_line_exit_4_and_no_file(capsys, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "typst", None)
    folder = tmp_path / "records"
    assert main(["check", str(SAMPLES / "B26-041"), "--spec", str(SPEC), "--output", str(folder), "--pdf"]) == 4
    out, err = capsys.readouterr()
    assert (out, err) == ("", "rheokit: a PDF needs the extra 'pdf', which is not installed; run: pip install 'rheokit[pdf]'\n")
    assert not folder.exists()


def test_a_pdf_needs_a_folder_to_go_to(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["check", str(SAMPLES / "B26-041"), "--spec", str(SPEC), "--pdf"])
    assert stopped.value.code == 2
    assert "--pdf needs --output DIR" in capsys.readouterr().err


def test_the_page_ends_with_the_decision(capsys):
    assert main(["check", str(SAMPLES / "B26-041"), "--spec", str(SPEC)]) == 0
    lines = capsys.readouterr().out.strip().splitlines()
    assert lines[-1].startswith("RELEASE  all 8 requirements conforming")
    assert any("viscosity-100" in line and "conforming" in line for line in lines)
    assert any(line.startswith("decision rule: probability of conformity") for line in lines)


def spoil_nothing(folder):
    return folder


def make_empty(folder):
    for path in folder.iterdir():
        path.unlink()
    return folder


def empty_files(folder):
    for path in folder.glob("*_load*.csv"):
        path.write_text("")
    return folder


def binary_files(folder):
    for path in folder.glob("*_load*.csv"):
        path.write_bytes(bytes(range(256)) * 20)
    return folder


def header_only(folder):
    for path in folder.glob("*_load*.csv"):
        rewrite(path, lambda rows: rows[:1])
    return folder


def folders_in_place_of_files(folder):
    for path in folder.glob("*_load*.csv"):
        path.unlink()
        path.mkdir()
    return folder


UNREADABLE = {
    "missing": lambda folder: folder / "nowhere",
    "a file": lambda folder: folder / "loop_load1.csv",
    "empty folder": make_empty,
    "empty files": empty_files,
    "binary files": binary_files,
    "header only": header_only,
    "folders in place of files": folders_in_place_of_files,
}


@pytest.mark.parametrize("spoil", UNREADABLE.values(), ids=UNREADABLE)
def test_bad_folders_give_one_clear_line_and_exit_4(capsys, copy_of, spoil, tmp_path):
    target = spoil(copy_of())
    assert main(["check", str(target), "--spec", str(SPEC), "--output", str(tmp_path / "records")]) == 4
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("rheokit: ")
    assert err.count("\n") == 1
    assert ";" in err  # what is wrong; what would do
    assert not (tmp_path / "records").exists()


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('upper = "4.2 Pa·s"', 'uppr = "4.2 Pa·s"', "did you mean 'upper'?"),
        ('lower = "3.4 Pa·s"', 'lower = "34 Pa·s"', "is not below the upper limit"),
        ('step = "down"', 'step = "sideways"', "there is no kind of step 'sideways'"),
    ],
)
def test_bad_specifications_give_one_clear_line_and_exit_4(capsys, tmp_path, old, new, message):
    text = SPEC.read_text(encoding="utf-8")
    assert old in text
    spec = tmp_path / "spec.toml"
    spec.write_text(text.replace(old, new, 1), encoding="utf-8")
    assert main(["check", str(SAMPLES / "B26-041"), "--spec", str(spec)]) == 4
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert message in err
    assert "spec.toml, line " in err


def test_a_requirement_on_a_step_that_is_not_there_holds_and_says_so(capsys, tmp_path):
    spec = tmp_path / "spec.toml"
    spec.write_text(SPEC.read_text(encoding="utf-8").replace('step = "down"', 'step = "creep"', 1), encoding="utf-8")
    document = check_json(capsys, SAMPLES / "B26-041", spec)
    assert document["disposition"] == "hold"
    assert "has no step 'creep'; its steps are" in document["requirements"][0]["reason"]


@pytest.mark.parametrize("arguments", [[], ["check"], ["check", "x"], ["chek"], ["check", "x", "--spec"], ["inspect"], ["specification"]])
def test_wrong_usage_is_exit_2(capsys, arguments):
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    assert "usage: rheokit" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [["--help"], ["check", "--help"], ["inspect", "--help"], ["specification", "--help"]])
def test_help_has_examples(capsys, arguments):
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 0
    assert ("examples:" in capsys.readouterr().out) is (len(arguments) == 2)


def test_inspect_shows_how_an_export_is_read(capsys):
    assert main(["inspect", str(SAMPLES / "B26-041" / "loop_load1.csv")]) == 0
    out = capsys.readouterr().out
    for words in ("Shear stress [Pa]", "shear stress", "Torque [µN·m]", "down", "rest"):
        assert words in out


def test_inspect_shows_every_check_and_what_none_can_see(capsys):
    assert main(["inspect", str(SAMPLES / "B26-045" / "loop_load1.dat"), "--screening"]) == 0
    printed = capsys.readouterr().out
    assert re.search(r"reference point +0\.2\d\d +at most 0\.0500 +invalid", printed)
    assert re.search(r"point scatter +0\.0\d+ +at most 0\.0500 +good", printed)
    assert "could not look: the density is not known" in " ".join(printed.split())
    assert "measure at a second gap" in printed


def test_inspect_refuses_what_it_cannot_read(capsys, tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text("Shear rate,Shear stress\n1,2\n", encoding="utf-8")
    assert main(["inspect", str(path)]) == 4
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert "bad.csv" in err


def test_a_cold_check_loads_no_heavy_library():
    script = (
        "import sys; from rheokit.cli import main; main(sys.argv[1:]);"
        "heavy = {'lmfit', 'pandas', 'matplotlib', 'scipy.optimize', 'scipy.stats'} & set(sys.modules);"
        "sys.exit(','.join(sorted(heavy)) or 77)"
    )
    arguments = ["check", str(SAMPLES / "B26-041"), "--spec", str(SPEC), "--json"]
    done = subprocess.run([sys.executable, "-c", script, *arguments], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (77, "")


def test_a_console_of_another_encoding_gets_utf8():
    command = [sys.executable, "-m", "rheokit", "check", str(SAMPLES / "B26-041"), "--spec", str(SPEC)]
    environment = {"PYTHONIOENCODING": "ascii", "LC_ALL": "C", "PATH": ""}
    done = subprocess.run(command, cwd=TOP, capture_output=True, env=environment, check=False)
    assert done.returncode == 0, done.stderr
    assert "Pa·s" in done.stdout.decode("utf-8")


def test_a_terminal_gets_the_same_words_as_a_pipe(monkeypatch, capsys):
    monkeypatch.setattr(type(sys.stdout), "isatty", lambda self: True, raising=False)
    monkeypatch.setenv("COLUMNS", "200")
    assert main(["check", str(SAMPLES / "B26-041"), "--spec", str(SPEC)]) == 0
    out = capsys.readouterr().out
    assert "viscosity-100" in out
    assert "RELEASE  all 8 requirements conforming" in out


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_page_that_cannot_be_printed_is_exit_4():
    command = [sys.executable, "-m", "rheokit", "check", str(SAMPLES / "B26-041"), "--spec", str(SPEC)]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(command, cwd=TOP, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert (done.returncode, done.stderr.count("\n")) == (4, 1)
    assert "cannot be printed" in done.stderr


def test_a_closed_output_still_gives_the_exit_code():
    command = f"{sys.executable} -m rheokit check {SAMPLES / 'B26-043'} --spec {SPEC} >&-"
    assert subprocess.run(["sh", "-c", command], cwd=TOP, check=False).returncode == 5


def test_shortened_options_are_wrong_usage():
    with pytest.raises(SystemExit) as stopped:
        main(["check", str(SAMPLES / "B26-041"), "--sp", str(SPEC)])
    assert stopped.value.code == 2


def test_control_codes_never_reach_the_page(capsys, tmp_path):
    spec = tmp_path / "spec.toml"
    text = SPEC.read_text(encoding="utf-8").replace('id = "viscosity-100"', 'id = "\\u001b[31mred\\u009b"')
    text = text.replace('lower = "3.4 Pa·s"', 'lower = "2.7 Pa·s"', 1).replace('upper = "4.2 Pa·s"', 'upper = "3.5 Pa·s"', 1)
    spec.write_text(text, encoding="utf-8")
    assert main(["check", str(SAMPLES / "B26-041"), "--spec", str(spec)]) == 5
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "\x9b" not in out


def test_a_specification_is_shown_with_the_room_it_leaves(capsys):
    assert main(["specification", str(SPEC)]) == 0
    out = capsys.readouterr().out
    for words in ("viscosity-100", "What the limits leave", "gauge ratio", "on hold", "too coarse", "entered with each result"):
        assert words in out
    # Six times 2 % of 3.8 over the root of two loads, over the width of 0.8: 40.3 %.
    assert next(line for line in out.splitlines() if line.startswith("viscosity-100") and "40 %" in line)


def test_a_specification_that_leaves_nothing_is_refused_by_every_command(capsys, tmp_path):
    spec = tmp_path / "spec.toml"
    spec.write_text(SPEC.read_text(encoding="utf-8").replace('upper = "4.2 Pa·s"', 'upper = "3.45 Pa·s"', 1), encoding="utf-8")
    for arguments in (["specification", str(spec)], ["check", str(SAMPLES / "B26-041"), "--spec", str(spec)]):
        assert main(arguments) == 4
        out, err = capsys.readouterr()
        assert (out, err.count("\n")) == ("", 1)
        assert "spec.toml, line 35, requirement 1, upper: " in err
        assert "leaves no value that could conform" in err


def test_the_starter_printed_is_a_specification(capsys, tmp_path):
    assert main(["specification", "--starter"]) == 0
    path = tmp_path / "starter.toml"
    path.write_text(capsys.readouterr().out, encoding="utf-8")
    assert main(["specification", str(path)]) == 0
    assert "viscosity-100" in capsys.readouterr().out


def test_the_schema_printed_is_json(capsys):
    assert main(["specification", "--schema"]) == 0
    assert json.loads(capsys.readouterr().out)["title"].startswith("Release specification")


HOSTILE = "\\u001b[31mred\\u009b<script>alert(1)</script>=cmd()"


def test_hostile_words_of_a_specification_stay_words_everywhere(capsys, copy_of, tmp_path):
    text = SPEC.read_text(encoding="utf-8")
    for key in ("revision", "id"):
        old = {"revision": 'revision = "C"', "id": 'id = "viscosity-100"'}[key]
        assert old in text
        text = text.replace(old, f'{key} = "{HOSTILE}"')
    text = text.replace("decision_rule", f'supersedes = "{HOSTILE}"\neffective = 2030-01-01\ndecision_rule', 1)
    spec = tmp_path / "spec.toml"
    spec.write_text(text, encoding="utf-8")
    assert main(["specification", str(spec)]) == 0
    assert main(["check", str(copy_of()), "--spec", str(spec), "--output", str(tmp_path / "records")]) == 0
    shown = capsys.readouterr().out
    page, record = sorted((tmp_path / "records").iterdir())
    html = page.read_text(encoding="utf-8")
    assert not {"\x1b", "\x9b"} & set(shown)
    assert not {"\x1b", "\x9b"} & set(html)
    assert "\x1b" not in record.read_text(encoding="utf-8")  # JSON writes it as an escape
    assert "<script" not in html
    assert "&lt;script&gt;" in html
