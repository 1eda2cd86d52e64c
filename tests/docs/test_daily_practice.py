"""What the page on daily practice shows is what rheokit takes."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from rheokit.cli import _parser
from rheokit.comparison.with_standard import BOUND, SESSION
from rheokit.release.specification_file import read_specification
from rheokit.statistics.repeated_looks import repeated_looks

TOP = Path(__file__).resolve().parents[2]
PAGE = (TOP / "docs" / "daily_practice.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"(?ms)^```{language}\n(.*?)^```", PAGE)


@pytest.mark.parametrize("line", [line for text in blocks("sh") for line in text.splitlines()])
def test_every_command_shown_is_one(line):
    name, *words = shlex.split(line)
    assert name == "rheokit"
    assert _parser().parse_args(words).command == words[0]


@pytest.mark.parametrize("table", blocks("toml"))
def test_every_table_shown_is_read(table, tmp_path):
    text = (TOP / "sample_rheometer_runs" / "specification.toml").read_text(encoding="utf-8")
    (tmp_path / "specification.toml").write_text(f"{text}\n{table}", encoding="utf-8")
    assert read_specification(tmp_path / "specification.toml").retest.fresh_loads == 2


def test_the_numbers_shown_are_those_of_the_code():
    risk = repeated_looks((1, 2, 3, 4), reach=2.0, rejects=False)
    assert f"from {100 * risk.first:.1f} to {100 * risk.accepted:.1f} %" in PAGE.replace("\n", " ")
    assert f"{100 * BOUND:.0f} % unless" in PAGE
    assert f"more than {SESSION:g} hours apart" in PAGE


def test_the_kills_shown_lost_nothing():
    shown = dict(re.findall(r"^\| ([a-z ]+) \| (\d+) \|$", (TOP / "docs" / "register_kills.md").read_text(encoding="utf-8"), re.M))
    assert (shown["kills"], shown["lost"], shown["troubles"], shown["locked afterwards"]) == ("200", "0", "0", "0")
    assert int(shown["entries"]) >= int(shown["acknowledged"]) > 200
