"""`rheokit compare`: the demo round of twelve, its page, and wrong usage."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from rheokit.cli import main

SAMPLES = Path(__file__).parents[1] / "sample_rheometer_runs"
SPEC, RECIPES = SAMPLES / "specification.toml", SAMPLES / "recipes"
FOLDERS = [str(RECIPES / f"candidate-{number}") for number in range(1, 13)]


@pytest.fixture(scope="module")
def compared(tmp_path_factory):
    output = tmp_path_factory.mktemp("meeting")
    command = ["compare", *FOLDERS, "--spec", str(SPEC), "--recipes", str(RECIPES / "recipes.csv"), "--output", str(output)]
    code = main(command)
    return code, (output / "comparison.html").read_text(encoding="utf-8"), command


def test_the_round_of_twelve_gives_a_page_that_needs_nothing_else(compared):
    code, page, _ = compared
    assert code == 0
    assert re.search(r"Inside every limit: <b>candidate-1, candidate-12</b>", page)
    assert "default-src 'none'" in page
    assert re.search(r"<script|src=|href=|url\(", page) is None
    for words in ("next candidates", "gellant power law", "main effects", "on the front", "candidate-9 / candidate-1", "fumed silica"):
        assert words in page
    assert "rheokit" in page.split("Made by", 1)[1]


def test_a_score_stands_beside_its_parts_on_the_page(compared):
    _, page, _ = compared
    heads = [head for head in re.findall(r"<thead>(.*?)</thead>", page, flags=re.DOTALL) if "all together" in head]
    assert len(heads) == 1
    assert all(line in heads[0] for line in ("viscosity-100", "yield-stress", "loop-area"))
    assert "consistency" not in page


def test_a_page_is_never_replaced_and_never_written_into_a_candidate(compared, capsys, tmp_path):
    _, _, command = compared
    assert main(command) == 4
    assert "is there already and is not replaced" in capsys.readouterr().err
    inside = shutil.copytree(FOLDERS[0], tmp_path / "a")
    assert main(["compare", str(inside), FOLDERS[1], "--spec", str(SPEC), "--output", str(inside / "out")]) == 4
    assert "lies in a candidate's folder" in capsys.readouterr().err


def test_without_a_specification_the_flow_curves_alone(capsys):
    assert main(["compare", FOLDERS[0], FOLDERS[8], "--base", "candidate-1"]) == 0
    out = capsys.readouterr().out
    assert "candidate-9 over candidate-1" in out
    assert "only flow curves: name a specification" in out


def test_aims_are_the_ones_asked_for(capsys):
    pulls = ["--aim", "yield-stress=high", "--aim", "viscosity-100=low"]
    assert main(["compare", FOLDERS[0], FOLDERS[11], "--spec", str(SPEC), *pulls]) == 0
    head = next(line for line in capsys.readouterr().out.splitlines() if "all together" in line)
    assert head.split() == [
        "candidate",
        "yield-stress",
        "viscosity-100",
        "all",
        "together",
        "on",
        "the",
        "front",
        "rank",
        "1",
        "mean",
        "rank",
    ]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([FOLDERS[0]], "a comparison needs two folders or more"),
        ([*FOLDERS[:2], "--output", "x"], "--output, --recipes and --aim need --spec SPEC"),
        ([*FOLDERS[:2], "--spec", str(SPEC), "--aim", "yield-stress=up"], "write LINE=high, LINE=low or LINE=middle"),
        ([*FOLDERS[:2], "--spec", str(SPEC), "--tolerance", "9"], "--tolerance is 0 to 5 wt %"),
    ],
)
def test_wrong_usage_is_two(capsys, arguments, message):
    with pytest.raises(SystemExit) as stopped:
        main(["compare", *arguments])
    assert stopped.value.code == 2
    assert message in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([FOLDERS[0], FOLDERS[0], "--spec", str(SPEC)], "two folders are called 'candidate-1'"),
        ([*FOLDERS[:2], "--spec", str(SPEC), "--base", "candidate-7"], "'candidate-7' is no candidate; they are candidate-1, candidate-2"),
        ([*FOLDERS[:2], "--spec", str(SPEC), "--aim", "gloss=high"], "gloss=high is no aim"),
        ([*FOLDERS[:2], "--spec", str(SPEC), "--recipes", str(SPEC)], "the header is"),
    ],
)
def test_what_cannot_be_compared_is_four(capsys, arguments, message):
    assert main(["compare", *arguments]) == 4
    assert message in capsys.readouterr().err


def test_help_shows_examples(capsys):
    with pytest.raises(SystemExit):
        main(["compare", "--help"])
    out = capsys.readouterr().out
    assert "examples:" in out
    assert "--recipes" in out


def test_hostile_names_stay_text(tmp_path):
    sheet = (RECIPES / "recipes.csv").read_text(encoding="utf-8").replace("fumed silica", "<img src=x>silica")
    (tmp_path / "recipes.csv").write_text(sheet, encoding="utf-8")
    command = ["compare", *FOLDERS[:3], "--spec", str(SPEC), "--recipes", str(tmp_path / "recipes.csv"), "--output", str(tmp_path / "out")]
    assert main(command) == 0
    page = (tmp_path / "out" / "comparison.html").read_text(encoding="utf-8")
    assert "<img" not in page
    assert "&lt;img src=x&gt;silica" in page
