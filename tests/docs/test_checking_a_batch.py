"""What the page shows is what rheokit reads."""

import re
import tomllib
from pathlib import Path

from rheokit.characteristics import CHARACTERISTICS
from rheokit.reading.entered import read_entered
from rheokit.release.specification_file import read_specification

TOP = Path(__file__).resolve().parents[2]
PAGE = (TOP / "docs" / "checking_a_batch.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"(?ms)^```{language}\n(.*?)^```", PAGE)


def test_the_specification_shown_is_read(tmp_path):
    path = tmp_path / "specification.toml"
    path.write_text(blocks("toml")[0], encoding="utf-8")
    assert [line.id for line in read_specification(path).requirements] == ["viscosity-100", "density"]


def test_the_batch_file_shown_is_that_of_the_sample():
    shown = tomllib.loads(blocks("toml")[1])
    sample = tomllib.loads((TOP / "sample_rheometer_runs" / "B26-041" / "batch.toml").read_text(encoding="utf-8"))
    assert shown["batch"].items() <= sample["batch"].items()
    assert shown["run"][0].items() <= sample["run"][0].items()


def test_the_results_shown_are_read(tmp_path):
    path = tmp_path / "results.csv"
    path.write_text(blocks("csv")[0], encoding="utf-8")
    assert [result.name for result in read_entered(path)] == ["check_oil_viscosity", "density"]


def test_every_characteristic_stands_on_the_page():
    assert [name for name in CHARACTERISTICS if f"`{name}`" not in PAGE] == []
