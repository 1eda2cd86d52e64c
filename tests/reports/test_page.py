"""The page of a record: from the document alone, the same bytes each time, and text from files stays text."""

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import rheokit as rk
from rheokit.release.record import Record
from rheokit.reports.figures import figures_of, limit_strip
from rheokit.reports.page import page
from rheokit.reports.svg import Axis

SAMPLES = Path(__file__).resolve().parents[2] / "sample_rheometer_runs"
HOSTILE = "<script>alert(1)</script>\"'&\x1b[2J\u202e=cmd()"


def record_of(name):
    return rk.check_batch(rk.read_batch(SAMPLES / name), rk.read_specification(SAMPLES / "specification.toml")).record


@pytest.fixture(scope="module")
def record():
    return record_of("B26-041")


def test_the_written_record_gives_the_same_page_byte_for_byte(record):
    again = Record.from_json(record.to_json())
    assert page(again.document) == page(record.document) == page(record.document)


def test_it_needs_nothing_else(record):
    text = page(record.document)
    assert re.findall(r"""(?:src|href)\s*=|url\(|@import|<script""", text) == []
    assert set(re.findall(r"https?://[^\"' <]+", text)) == {"http://www.w3.org/2000/svg"}  # a name space, not an address


@pytest.mark.parametrize("name", ["B26-041", "B26-043", "B26-045", "B26-050"])
def test_every_outcome_and_finding_is_on_it(name):
    document = record_of(name).document
    text = page(document)
    for line in document["requirements"]:
        assert f"{line['id']}" in text
        assert line["outcome"] in text
    for finding in document["findings"]:
        assert finding["reason"].replace("&", "&amp;").replace("'", "&#39;").replace(">", "&gt;") in text
    assert f"<b>{document['disposition']}</b>" in text


def spoiled(value):
    """Return a document in which every word that comes from a file is hostile."""
    if isinstance(value, dict):
        kept = {"format", "kind", "disposition", "outcome", "severity", "test", "role", "law", "name", "unit", "check"}
        return {key: held if key in kept else spoiled(held) for key, held in value.items()}
    if isinstance(value, list):
        return [spoiled(held) for held in value]
    return f"{value} {HOSTILE}" if isinstance(value, str) and value not in {"infinite", "minus infinite"} else value


def test_hostile_text_stays_text(record):
    text = page(spoiled(json.loads(record.to_json())))
    assert "<script" not in text
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "&lt;script&gt;" in text


def test_the_figures_are_drawings_of_the_points(record):
    drawn = figures_of(record.document)
    assert [ET.fromstring(svg).get("aria-label") for svg, _ in drawn] == [
        "Hysteresis loop, loop",
        "Viscosity in time, recovery",
        "Flow curve, steady",
        "Residuals, steady",
    ]
    steady = [run for run in record.document["runs"] if run["test"] == "steady"]
    points = sum(len(step["columns"]["shear_rate"]) for run in steady for step in run["steps"] if step["kind"] == "steady")
    marks = re.findall(r"<circle|<polygon points=\"[^\"]+\"/>", drawn[2][0])
    assert len(marks) == points  # a mark each, circles for one load and squares for the other


def test_a_drawn_point_lies_where_its_numbers_say():
    # Two decades over a known frame: 10 lies halfway between 1 and 100.
    axis = Axis(label="", low=1.0, high=100.0, log=True)
    assert [axis.place(value) for value in (1.0, 10.0, 100.0)] == pytest.approx([0.0, 0.5, 1.0])
    assert [words for _, words in axis.ticks()] == ["1", "10", "100"]
    assert [words for _, words in Axis(label="", low=0.0, high=107.0).ticks()] == ["0", "25", "50", "75", "100"]


@pytest.mark.parametrize(
    ("value", "lower", "upper", "shape"),
    [(3.8, 3.4, 4.2, "circle"), (9.0, 3.4, 4.2, "path"), (3.8, 3.4, None, "circle"), (0.1, None, 4.2, "path"), (3.4, 3.4, 4.2, "circle")],
)
def test_a_value_is_a_ring_in_its_limits_or_an_arrow_far_outside(value, lower, upper, shape):
    line = {"estimate": {"value": value, "standard_error": 0.05}, "lower": lower, "upper": upper, "outcome": "conforming"}
    tags = [element.tag.split("}")[1] for element in ET.fromstring(limit_strip(line))]
    assert tags[-1] == shape
    assert tags.count("line") == 1 + sum(end is not None for end in (lower, upper))


def test_without_a_value_there_is_no_strip():
    assert limit_strip({"estimate": None, "lower": 1.0, "upper": 2.0, "outcome": "no measurement"}) == ""


def test_the_passport_stands_on_page_one(record):
    text = page(record.document).split('class="evidence"')[0]
    for words in ("S26-041-1", "R26-041", "2026-09-14", "technician 2", "<dt>age at test</dt><dd>1 d</dd>", "Rounding: absolute method"):
        assert words in text


def test_what_the_passport_does_not_say_is_said_to_be_missing(record):
    document = json.loads(record.to_json())
    document["batch"] |= {"passport": {}, "age_at_test": None}
    text = page(document)
    assert text.count("<dd>not stated</dd>") == 5  # sample, retained sample, made, measured by, checked by
    assert "<dt>age at test</dt><dd>not known</dd>" in text


def test_a_budget_is_a_bar_for_each_part(record):
    document = json.loads(record.to_json())
    line = document["requirements"][0]
    line["estimate"]["components"] = {"load": 0.3, "day": 0.4}
    line["estimate"]["standard_error"] = 0.5
    line["shown"]["components"] = {"load": "0.30", "day": "0.40"}
    line["stated_uncertainty"]["day"] = {"relative": 0.1, "absolute": None, "degrees_of_freedom": 12.0, "shown": "10 % (12 d.f.)"}
    text = page(document)
    first = text[text.index('<table class="budget">') :].split("</tbody>")[0]
    # 0.4² and 0.3² of 0.5²: 64 % and 36 %, the larger first; the bar is 98 wide where it is full.
    assert re.findall(r"<title>(\d+ %)</title>", first) == ["64 %", "36 %"]
    assert re.findall(r'width="([\d.]+)" height="6" fill="#22313f"', first) == ["62.72", "35.28"]
    assert "between days" in first
    assert first.index("0.40") < first.index("0.30")
    assert "10 % (12 d.f.)" in first


def test_a_stated_revision_and_age_are_shown(record):
    document = json.loads(record.to_json())
    document["specification"] |= {"effective": "2026-09-01", "supersedes": "B"}
    assert "revision C, effective 2026-09-01, supersedes B" in page(document)
