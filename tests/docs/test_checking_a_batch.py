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


def test_the_precision_file_shown_is_read_and_fits_the_specification_shown(tmp_path):
    specification, precision = blocks("toml")[:2]
    (tmp_path / "precision.toml").write_text(precision, encoding="utf-8")
    text = specification.replace('revision = "C"', 'revision = "C"\nprecision = "precision.toml"')
    text = re.sub(r"repeatability = \{.*?\}", 'repeatability = "from precision file"', text)
    path = tmp_path / "specification.toml"
    path.write_text(text, encoding="utf-8")
    assert read_specification(path).requirements[0].repeatability.relative == 0.018


def test_the_batch_file_shown_is_that_of_the_sample():
    (shown,) = (held for text in blocks("toml") if "batch" in (held := tomllib.loads(text)))
    sample = tomllib.loads((TOP / "sample_rheometer_runs" / "B26-041" / "batch.toml").read_text(encoding="utf-8"))
    assert shown["batch"].items() <= sample["batch"].items()
    assert shown["run"][0].items() <= sample["run"][0].items()


def test_the_results_shown_are_read(tmp_path):
    path = tmp_path / "results.csv"
    path.write_text(blocks("csv")[0], encoding="utf-8")
    assert [result.name for result in read_entered(path)] == ["check_oil_viscosity", "density"]


def test_every_characteristic_stands_on_the_page():
    assert [name for name in CHARACTERISTICS if f"`{name}`" not in PAGE] == []
