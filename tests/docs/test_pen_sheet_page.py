"""What the page of the pen sheet shows is what rheokit reads and says."""

import re
from math import pi
from pathlib import Path

import pytest

from rheokit.base.errors import ReadError
from rheokit.refill.description import ASSUMED, FIELDS, OPTIONAL, read_refill
from rheokit.refill.extent import DRAWS
from rheokit.refill.feeding import FIRST_STROKE
from rheokit.refill.gas import LIQUID_FULL
from rheokit.temperature.dependence import LONGEST_REACH

DOCS = Path(__file__).resolve().parents[2] / "docs"
PAGE = (DOCS / "pen_sheet.md").read_text(encoding="utf-8")


def shown(tmp_path, *changes):
    (text,) = re.findall(r"(?ms)^```toml\n(.*?)^```", PAGE)
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "refill.toml"
    path.write_text(text, encoding="utf-8")
    return read_refill(path)


def test_the_refill_shown_is_read_and_needs_every_line(tmp_path):
    refill = shown(tmp_path)
    assert set(refill.assumed) == set(ASSUMED)
    inside = pi * refill["tube.radius"].middle ** 2 * refill["tube.ink_length"].middle
    assert inside == pytest.approx(refill["tube.ink_volume"].middle, rel=0.02)
    stated = {f"{table}.{key}" for table, keys in FIELDS.items() for key in keys} - {*ASSUMED, *OPTIONAL}
    assert stated < set(refill.values)


def test_every_optional_field_is_named():
    for key in {*ASSUMED, *OPTIONAL} - {"tube.ink_volume"}:
        assert f"`{key}`" in PAGE


def test_what_it_says_is_refused_is_refused(tmp_path):
    with pytest.raises(ReadError, match="liquid-full"):
        shown(tmp_path, ('volume = "1.5 mL"', 'volume = "0.14 mL"'))
    with pytest.raises(ReadError, match="which no refill has"):
        shown(tmp_path, ('needle_length = "40 mm"', 'needle_length = "40 m"'))


def test_the_settings_it_names_are_those_in_force():
    assert f"{DRAWS} evenly spread draws" in PAGE
    assert f"more than {LIQUID_FULL * 100:.0f} % of the gas volume" in PAGE
    assert f"followed {LONGEST_REACH:.0f} K beyond the runs" in PAGE
    assert FIRST_STROKE[1] == 3.0
    assert "three times that of the dynamic one" in PAGE


def test_the_picture_is_there_and_small():
    targets = re.findall(r"\]\(([^)]+)\)", PAGE)
    assert targets == ["pictures/pen_sheet.png"]
    assert (DOCS / targets[0]).stat().st_size < 150_000
