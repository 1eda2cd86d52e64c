"""The command `rheokit pen`: exit codes, what it writes and what it never touches."""

import json
import shutil
from pathlib import Path

import pytest

from rheokit.cli import main
from rheokit.release.pen_sheet import PenSheet
from rheokit.reports.pen_page import pen_page

SAMPLES = Path(__file__).resolve().parents[1] / "sample_rheometer_runs"
BATCH, REFILL = SAMPLES / "B26-041", SAMPLES / "refill.toml"


def listed(folder):
    return {path.relative_to(folder): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_the_sheet_is_printed(capsys):
    assert main(["pen", str(BATCH), "--refill", str(REFILL)]) == 0
    out = capsys.readouterr().out
    assert out.startswith("B26-041 in surveyor's refill 12\n")
    for words in ("holding index at 23 °C", "Above 20 bar a jet injects through skin", "local codes come first", "ASSUMED as usual"):
        assert words in out


def test_json_is_the_sheet(capsys):
    assert main(["pen", str(BATCH), "--refill", str(REFILL), "--json", "--operator", "technician 2"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["format"] == "rheokit pen sheet 1"
    assert document["operator"] == "technician 2"
    assert document["time"].endswith("+00:00")


def test_record_and_page_are_written_elsewhere(capsys, tmp_path):
    batch = Path(shutil.copytree(BATCH, tmp_path / "batch"))
    before = listed(batch)
    assert main(["pen", str(batch), "--refill", str(REFILL), "--output", str(tmp_path / "sheets")]) == 0
    written = sorted((tmp_path / "sheets").iterdir())
    assert [path.suffix for path in written] == [".html", ".json"]
    sheet = PenSheet.from_json(written[1].read_text("utf-8"))
    assert written[0].read_text("utf-8") == pen_page(sheet.document)
    assert written[1].name in capsys.readouterr().out
    assert listed(batch) == before


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"folder": "nowhere"}, "nowhere"),
        ({"refill": "nowhere.toml"}, "nowhere.toml"),
        ({"output": "batch/sheets"}, "lies in the batch folder, which is never written to"),
        ({"refill_text": ("1.45 to 1.55 mL", "0.1 mL")}, "liquid-full, the refill may burst"),
        ({"folder": str(SAMPLES / "B26-017")}, "holds runs of the retained standard alone"),
    ],
    ids=["no folder", "no refill", "into the batch", "liquid-full", "the standard"],
)
def test_what_cannot_be_done_is_said_with_code_4(capsys, tmp_path, monkeypatch, change, message):
    monkeypatch.chdir(tmp_path)
    shutil.copytree(BATCH, tmp_path / "batch")
    text = REFILL.read_text("utf-8")
    if "refill_text" in change:
        assert change["refill_text"][0] in text
        text = text.replace(*change["refill_text"])
    (tmp_path / "refill.toml").write_text(text, encoding="utf-8")
    arguments = ["pen", change.get("folder", "batch"), "--refill", change.get("refill", "refill.toml")]
    if "output" in change:
        arguments += ["--output", change["output"]]
    assert main(arguments) == 4
    shown = capsys.readouterr()
    assert message in shown.err
    assert shown.out == ""
    assert listed(tmp_path / "batch") == listed(BATCH)


@pytest.mark.parametrize("arguments", [["pen"], ["pen", str(BATCH)], ["pen", str(BATCH), "--refil", str(REFILL)]])
def test_wrong_usage_is_code_2(arguments):
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2


def test_help_has_examples_and_exit_codes(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["pen", "--help"])
    assert stopped.value.code == 0
    out = capsys.readouterr().out
    assert "examples:\n  rheokit pen sample_rheometer_runs/B26-041 --refill sample_rheometer_runs/refill.toml" in out
    assert "0 the sheet is made   4 something could not be read, written or worked out   2 wrong usage" in out
