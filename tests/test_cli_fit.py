"""The command `fit`: what it prints and writes, what it refuses, and what is left when it is killed."""

import csv
import io
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

import rheokit as rk
from rheokit.cli import main
from rheokit.fitting.archive_file import ArchiveFile

TOP = Path(__file__).resolve().parents[1]
SAMPLES = TOP / "sample_rheometer_runs"
LOOP = SAMPLES / "B26-041" / "loop_load1.csv"


def fit(*arguments, model="herschel_bulkley", step="down"):
    return main(["fit", *map(str, arguments), "--model", model, "--step", step])


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def archive(tmp_path):
    """Forty exports, more than one part, and one that is none."""
    folder = tmp_path / "archive"
    folder.mkdir()
    random = np.random.default_rng(3)
    rates = np.geomspace(100.0, 0.1, 12)
    for index in range(40):
        stresses = (30.0 + index + 10.0 * rates**0.5) * (1.0 + 0.02 * random.standard_normal(rates.size))
        lines = [f"{second},{rate:.9g},{stress:.9g}" for second, (rate, stress) in enumerate(zip(rates, stresses, strict=True))]
        text = "\n".join(["Time [s],Shear rate [1/s],Shear stress [Pa]", *lines, ""])
        (folder / f"run_{index:02}.csv").write_text(text, encoding="utf-8")
    (folder / "run_03.csv").write_text("nothing that is an export\n", encoding="utf-8")
    return folder


def test_a_table_on_stdout_and_failures_at_the_end(capsys):
    assert fit(SAMPLES / "B26-041") == 0
    out, err = capsys.readouterr()
    assert out.startswith("herschel bulkley, 2 curves\n")
    assert "113.0 ± 1.8" in out
    assert "batch.toml" not in out + err
    assert "results.csv" not in out + err
    head, *lines = err.splitlines()
    assert head == "4 without a fit:"
    assert len(lines) == 4
    assert all(": " in line and "has no step 'down'" in line for line in lines)


def test_every_sample_batch_by_a_pattern(capsys, tmp_path):
    file = tmp_path / "fits.csv"
    assert fit(f"{SAMPLES}/B26-*/loop*", "--output", file) == 0
    assert len(rows_of(file)) == len(list(SAMPLES.glob("B26-*/loop*"))) > 20
    assert capsys.readouterr().err == "", "nothing failed, and a pipe is shown no bar"


def test_a_step_by_its_number(capsys):
    assert fit(LOOP, step="5") == 0
    assert " 5 down " in capsys.readouterr().out


def test_nothing_fitted_is_4_and_says_why(capsys, tmp_path):
    assert fit(tmp_path / "gone.csv", tmp_path / "x*", "--output", tmp_path / "fits.csv") == 4
    err = capsys.readouterr().err
    assert "gone.csv: there is no such file" in err
    assert "x*: no export matches this pattern" in err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--model", "herschel-bulkly", "--step", "down"], "'herschel-bulkly' is not known (did you mean herschel_bulkley?)"),
        (["--model", "cross", "--step", "dwn"], "'dwn' is not known (did you mean down?)"),
        (["--model", "cross", "--step", "0"], "or a number from 1"),
        (["--model", "cross", "--step", "down", "--resume"], "--resume: needs --output FILE"),
        (["--model", "cross", "--step", "down", "--floor", "-1"], "'-1' is no stress of zero or more"),
        (["--model", "cross", "--step", "down", "--floor", "nan"], "'nan' is no stress of zero or more"),
        (["--model", "cross", "--step", "down", "--floor", "1", "--weighting", "absolute"], "--floor: goes with relative weighting"),
        (["--model", "cross", "--step", "down", "--workers", "0"], "'0' is no number of processes from 1 to 1024"),
    ],
)
def test_wrong_usage_is_2(capsys, arguments, message):
    with pytest.raises(SystemExit) as ended:
        main(["fit", str(LOOP), *arguments])
    assert ended.value.code == 2
    assert message in capsys.readouterr().err


def test_the_help_has_examples(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["fit", "--help"])
    assert ended.value.code == 0
    assert "rheokit fit sample_rheometer_runs/B26-041/loop_load1.csv --model herschel_bulkley --step down" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["fits.csv", "fits.parquet"])
def test_a_file_holds_every_number_and_is_gone_on_with(archive, tmp_path, name):
    if name.endswith("parquet"):
        pytest.importorskip("pyarrow", reason="pyarrow is not installed; it comes with the extra 'test'")
    whole, grown = tmp_path / f"whole_{name}", tmp_path / name
    assert fit(archive, "--output", whole, "--floor", "0.5") == 0
    # The exports of the second run are a part of their own in both runs, so that even the last digits agree.
    names = sorted(archive.iterdir())
    assert fit(*names[:32], "--output", grown, "--floor", "0.5") == 0
    first = grown.read_bytes()
    assert fit(archive, "--output", grown, "--floor", "0.5", "--resume") == 0
    assert grown.read_bytes() != first
    assert len(read_back(grown)) == 39
    assert sorted(read_back(grown), key=lambda row: row["file"]) == read_back(whole)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(["archive", grown.name, whole.name])


def read_back(path):
    if path.suffix == ".csv":
        return rows_of(path)
    return pytest.importorskip("pyarrow.parquet").read_table(path).to_pylist()


def test_what_is_in_the_file_is_not_fitted_again(capsys, archive, tmp_path):
    file = tmp_path / "fits.csv"
    assert fit(archive, "--output", file) == 0
    marked = file.read_text(encoding="utf-8").replace("run_05.csv", "marked_by_hand.csv")
    file.write_text(marked, encoding="utf-8")
    capsys.readouterr()
    assert fit(archive, "--output", file, "--resume") == 0
    assert "0 curves fitted, 39 exports were in it already" in capsys.readouterr().out
    assert sum(row["file"].endswith("marked_by_hand.csv") for row in rows_of(file)) == 1
    assert len(rows_of(file)) == 39


def test_another_model_or_weighting_joins_the_file(archive, tmp_path):
    file = tmp_path / "fits.csv"
    assert fit(archive, "--output", file) == 0
    assert fit(archive, "--output", file, "--resume", model="bingham") == 0
    assert fit(archive, "--output", file, "--resume", "--weighting", "absolute", model="bingham") == 0
    assert fit(archive, "--output", file, "--resume", "--floor", "2", model="bingham") == 0
    rows = rows_of(file)
    assert [(row["model"], row["weighting"], row["floor [Pa]"]) for row in rows[::39]] == [
        ("herschel_bulkley", "relative", "0.0"),
        ("bingham", "relative", "0.0"),
        ("bingham", "absolute", "0.0"),
        ("bingham", "relative", "2.0"),
    ]
    assert len(rows) == 4 * 39
    assert rows[0]["plastic_viscosity [Pa·s]"] == ""
    assert float(rows[-1]["plastic_viscosity [Pa·s]"]) > 0.0


def test_a_file_is_never_replaced(capsys, tmp_path):
    file = tmp_path / "fits.csv"
    file.write_text("somebody's own", encoding="utf-8")
    assert fit(LOOP, "--output", file) == 4
    assert "fits.csv: is there already and is not replaced; name another file, or go on with --resume" in capsys.readouterr().err
    assert fit(LOOP, "--output", file, "--resume") == 4
    assert "has no column 'file' and was not written by this command" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == "somebody's own"


def test_a_journal_that_is_left_is_not_passed_over(capsys, tmp_path):
    (tmp_path / "fits.csv.journal").write_text("{}\n", encoding="utf-8")
    assert fit(LOOP, "--output", tmp_path / "fits.csv") == 4
    assert "is left from a run that was interrupted; go on with --resume, or remove it" in capsys.readouterr().err
    assert fit(LOOP, "--output", tmp_path / "fits.csv", "--resume") == 4
    assert "is no journal of such a run" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("name", "message"),
    [("fits.xlsx", "is neither .csv nor .parquet"), ("nowhere/fits.csv", "there is no folder")],
)
def test_a_file_that_cannot_be_written_is_said_beforehand(capsys, tmp_path, name, message):
    assert fit(LOOP, "--output", tmp_path / name) == 4
    assert message in capsys.readouterr().err


def test_without_pyarrow_parquet_is_one_clear_line(capsys, monkeypatch, tmp_path):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert fit(LOOP, "--output", tmp_path / "fits.parquet") == 4
    err = capsys.readouterr().err
    assert err == "rheokit: Parquet needs pyarrow, which is not installed: pip install 'rheokit[parquet]', or write a .csv\n"


@pytest.mark.skipif(os.name == "nt", reason="Windows allows no such file names")
def test_hostile_names_run_nowhere(capsys, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    names = [
        "=1+1;=2.csv",
        "+cmd|x.csv",
        "-3.csv",
        "@sum(1).csv",
        "'=x.csv",
        "＝1.csv",
        " =1.csv",
        "a\n=1.csv",
        "\x1b]0;x\x07.csv",
        "[red]x.csv",
    ]
    for index, name in enumerate(names):
        text = LOOP.read_text(encoding="utf-8")
        Path(name).write_text(text.replace("\n", f"\nmark,{index}\n", 1), encoding="utf-8")
    assert fit("./*.csv") == 0
    shown = capsys.readouterr().out
    assert "\x1b" not in shown
    assert "\x07" not in shown
    assert "[red]x.csv" in shown
    Path("out").mkdir()
    assert fit("./*.csv", "--output", "out/fits.csv") == 0
    files = [row["file"] for row in rows_of(Path("out/fits.csv"))]
    assert len(files) == len(names)
    assert not [name for name in files if name.strip()[0] in "=+-@＝" or "\n" in name or "\x1b" in name]
    before = Path("out/fits.csv").read_bytes()
    assert fit("./*.csv", "--output", "out/fits.csv", "--resume") == 0
    assert Path("out/fits.csv").read_bytes() == before, "what was read back is what was written"


def test_workers_write_the_same_bytes(archive, tmp_path):
    assert fit(archive, "--output", tmp_path / "one.csv") == 0
    assert fit(archive, "--output", tmp_path / "two.csv", "--workers", "2") == 0
    assert (tmp_path / "two.csv").read_bytes() == (tmp_path / "one.csv").read_bytes()


# --- interruptions ---------------------------------------------------------------------------------------------------------------

SLOW = """\
import sys, time
import rheokit.fitting.archive as archive
real = archive.fit_part
def slow(paths, asked):
    if not paths[0].name.endswith("run_00.csv"):
        time.sleep(600)
    return real(paths, asked)
archive.fit_part = slow
from rheokit.cli import main
sys.exit(main(sys.argv[1:]))
"""

STOPPED = """\
import os, sys
import rheokit.fitting.archive_file as archive_file
real = archive_file.ArchiveFile._give_name
def stopped(self, temporary):
    if "{moment}" == "after":
        real(self, temporary)
    os._exit(9)
archive_file.ArchiveFile._give_name = stopped
from rheokit.cli import main
sys.exit(main(sys.argv[1:]))
"""


def command(program, archive, file, *more, model="herschel_bulkley"):
    words = ["fit", str(archive), "--model", model, "--step", "down", "--output", str(file), *more]
    return [sys.executable, "-c", program, *words]


def test_a_run_that_was_killed_goes_on_to_the_same_file(archive, tmp_path):
    for index in range(40, 70):  # three parts, of which the last two would shift if what failed in the first were tried again before them
        text = (archive / f"run_{index - 36:02}.csv").read_text(encoding="utf-8")
        (archive / f"run_{index}.csv").write_text(f"{text}\n", encoding="utf-8")
    assert fit(archive, "--output", tmp_path / "whole.csv", model="cross") == 0
    file, journal = tmp_path / "fits.csv", tmp_path / "fits.csv.journal"
    with subprocess.Popen(command(SLOW, archive, file, model="cross")) as running:
        deadline = time.monotonic() + 60.0
        while not (journal.exists() and journal.read_bytes().endswith(b"\n")):
            assert time.monotonic() < deadline
            assert running.poll() is None
            time.sleep(0.02)
        running.kill()
    assert not file.exists()
    assert len(json.loads(journal.read_text(encoding="ascii"))["rows"]) == 31
    with journal.open("ab") as torn:
        torn.write(b'{"rows": [{"fi')  # as a kill in the middle of a line leaves it
    assert fit(archive, "--output", file, "--resume", model="cross") == 0
    assert file.read_bytes() == (tmp_path / "whole.csv").read_bytes()
    assert not journal.exists()


def test_a_journal_is_gone_on_with_after_a_torn_line_and_torn_again(archive, tmp_path):
    fits = [fit.cells() for fit in rk.fit_archive(sorted(archive.glob("run_0*")), "bingham", step="down").fits]
    first = ArchiveFile(tmp_path / "fits.csv", resume=False)
    first.append(fits[:3], ["a name"])
    with first.journal.open("ab") as torn:
        torn.write(b'{"rows": [{"fi')
    second = ArchiveFile(tmp_path / "fits.csv", resume=True)
    second.append(fits[2:5], [])
    with second.journal.open("ab") as torn:
        torn.write(b"{")
    third = ArchiveFile(tmp_path / "fits.csv", resume=True)
    assert third.rows == fits[:5]


@pytest.mark.parametrize("moment", ["before", "after"])
def test_a_kill_at_the_end_leaves_the_old_file_or_the_new_one(archive, tmp_path, moment):
    assert fit(archive, "--output", tmp_path / "whole.csv") == 0
    file = tmp_path / "fits.csv"
    assert fit(*sorted(archive.iterdir())[:32], "--output", file) == 0
    old, new = file.read_bytes(), (tmp_path / "whole.csv").read_bytes()
    done = subprocess.run(command(STOPPED.replace("{moment}", moment), archive, file, "--resume"), check=False)
    assert done.returncode == 9
    assert file.read_bytes() == (new if moment == "after" else old)
    assert fit(archive, "--output", file, "--resume") == 0
    assert file.read_bytes() == new
    assert sorted(path.name for path in tmp_path.iterdir()) == ["archive", "fits.csv", "whole.csv"]


def test_an_interruption_from_the_keyboard_says_how_to_go_on(capsys, monkeypatch, archive, tmp_path):
    def interrupted(paths, asked):
        raise KeyboardInterrupt

    monkeypatch.setattr("rheokit.fitting.archive.fit_part", interrupted)
    assert fit(archive, "--output", tmp_path / "fits.csv") == 130
    assert capsys.readouterr().err == "rheokit: interrupted; the same command with --resume goes on from there\n"


# --- the terminal, and what is not loaded -----------------------------------------------------------------------------------------


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_a_terminal_is_shown_a_bar(monkeypatch, archive):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    assert fit(archive) == 0
    assert "40/40" in terminal.getvalue()


def test_check_loads_nothing_of_this():
    program = (
        "import sys, json; from rheokit.cli import main\n"
        f"main(['check', {str(SAMPLES / 'B26-041')!r}, '--spec', {str(SAMPLES / 'specification.toml')!r}, '--json'])\n"
        "print(); print(json.dumps(sorted(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, encoding="utf-8")
    loaded = set(json.loads(done.stdout.splitlines()[-1]))
    assert "rheokit.release.check" in loaded
    unwanted = {"pyarrow", "pandas", "multiprocessing.pool", "rich.progress", "rheokit.reading.exports"}
    assert loaded & unwanted == set()
    assert not [name for name in loaded if name.startswith("rheokit.fitting.archive")]
