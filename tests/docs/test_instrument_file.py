"""What the page on the instrument file shows is what rheokit prints and reads."""

import re
from pathlib import Path

from rheokit.reading.entered import read_entered
from rheokit.release.instrument_file import read_instrument
from rheokit.release.instrument_starter import STARTER
from rheokit.release.oil_reading import oil_readings

TOP = Path(__file__).resolve().parents[2]
PAGE = (TOP / "docs" / "instrument_file.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"(?ms)^```{language}\n(.*?)^```", PAGE)


def test_the_file_shown_is_the_starter():
    assert blocks("toml") == [STARTER]


def test_the_reading_shown_stands(tmp_path):
    (tmp_path / "results.csv").write_text(blocks("csv")[0], encoding="utf-8")
    (tmp_path / "instrument.toml").write_text(blocks("toml")[0], encoding="utf-8")
    (reading,) = oil_readings(read_entered(tmp_path / "results.csv"), read_instrument(tmp_path / "instrument.toml"))
    assert reading.standing == "stands"
    assert round(reading.certified, 3) == 1.389


def test_the_sample_differs_from_the_starter_in_its_first_line_alone():
    sample = (TOP / "sample_rheometer_runs" / "instrument.toml").read_text(encoding="utf-8")
    assert sample.splitlines()[1:] == STARTER.splitlines()[1:]
