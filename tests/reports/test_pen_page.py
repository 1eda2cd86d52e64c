"""The page of a pen sheet: from the document alone, the same bytes each time, and text from files stays text."""

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import rheokit as rk
from rheokit.release.pen_sheet import PenSheet
from rheokit.reports.pen_figures import pen_figures
from rheokit.reports.pen_page import pen_page
from rheokit.reports.svg import Axis, Plot

SAMPLES = Path(__file__).resolve().parents[2] / "sample_rheometer_runs"
HOSTILE = "<script>alert(1)</script>\"'&\x1b[2J\u202e=cmd()"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def sheet():
    return rk.pen_sheet(rk.read_batch(SAMPLES / "B26-041"), rk.read_refill(SAMPLES / "refill.toml"))


def test_the_written_sheet_gives_the_same_page_byte_for_byte(sheet):
    again = PenSheet.from_json(sheet.to_json())
    assert pen_page(again.document) == pen_page(sheet.document) == pen_page(sheet.document)


def test_it_needs_nothing_else(sheet):
    text = pen_page(sheet.document)
    assert re.findall(r"""(?:src|href)\s*=|url\(|@import|<script""", text) == []
    assert set(re.findall(r"https?://[^\"' <]+", text)) == {"http://www.w3.org/2000/svg"}  # a name space, not an address


def test_every_line_caution_and_assumption_is_on_it(sheet):
    text = pen_page(sheet.document).replace("&#39;", "'").replace("&gt;", ">").replace("&amp;", "&")
    for row in sheet.document["rows"]:
        for part in (row["what"], row["note"], row["caution"], row["shown"]["middle"], row["shown"]["interval"]):
            assert part in text
    for words in (*sheet.document["cautions"], *sheet.document["assumed"]):
        assert words in text
    # The two numbers that can hurt stand at the top too, each with what it is for.
    top = text.split("<dl>")[0]
    assert "size margins for this" in top
    assert "size equipment by this" in top


def spoiled(value):
    """Return a document in which every word that comes from a file is hostile."""
    if isinstance(value, dict):
        kept = {"format", "kind", "section", "unit"}
        return {key: held if key in kept else spoiled(held) for key, held in value.items()}
    if isinstance(value, list):
        return [spoiled(held) for held in value]
    return f"{HOSTILE} {value}" if isinstance(value, str) and value not in {"infinite", "minus infinite"} else value


def test_hostile_text_stays_text(sheet):
    text = pen_page(spoiled(json.loads(sheet.to_json())))
    assert "<script" not in text
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "&lt;script&gt;" in text


def test_the_four_figures_are_drawn(sheet):
    drawn = [ET.fromstring(svg) for svg, _ in pen_figures(sheet.document)]
    assert [held.get("aria-label") for held in drawn] == [
        "Holding index over temperature",
        "Viscosity over seven decades, 23 °C",
        "Pressure against the ink left",
        "Feasible window of the yield stress",
    ]
    viscosity = drawn[1]
    words = [text.text for text in viscosity.iter(f"{SVG}text")]
    assert {"bench", "writing", "Herschel-Bulkley", "Casson", "with a plateau"} <= set(words)
    # Each law once dashed over all seven decades and once full over the bench.
    lines = list(viscosity.iter(f"{SVG}polyline"))
    assert sum(line.get("stroke-dasharray") is not None for line in lines) == 3
    assert sum(line.get("stroke-dasharray") is None for line in lines) == 3
    full = next(line for line in lines if line.get("stroke-dasharray") is None)
    bench = sheet.document["figures"]["viscosity"]["bench"]
    rates = sheet.document["figures"]["viscosity"]["shear_rate"]
    assert len(full.get("points").split()) == sum(bench[0] * 0.999 <= rate <= bench[1] * 1.001 for rate in rates)
    marks = list(viscosity.iter(f"{SVG}circle"))
    assert len(marks) == len(sheet.document["figures"]["viscosity"]["points"]["viscosity"])


def test_only_the_measured_temperature_is_marked(sheet):
    holding = ET.fromstring(pen_figures(sheet.document)[0][0])
    assert {(mark.get("cx"), mark.get("cy")) for mark in holding.iter(f"{SVG}circle")}.__len__() == 1


def test_words_and_not_colour_alone_tell_the_lines_apart(sheet):
    for svg, caption in pen_figures(sheet.document):
        assert caption
        lines = list(ET.fromstring(svg).iter(f"{SVG}polyline"))
        looks = {(line.get("stroke"), line.get("stroke-dasharray"), line.get("stroke-width")) for line in lines}
        assert len({dash for _, dash, _ in looks}) > 1


def test_an_axis_may_run_down():
    axis = Axis(label="", low=100.0, high=0.0)
    assert [axis.place(value) for value in (100.0, 50.0, 0.0)] == [0.0, 0.5, 1.0]
    assert [words for _, words in axis.ticks()] == ["0", "20", "40", "60", "80", "100"]


def test_a_span_stays_inside_the_frame():
    plot = Plot(title="", x=Axis(label="", low=1.0, high=100.0, log=True), y=Axis(label="", low=0.0, high=1.0))
    plot.span(10.0, 1e6, "beyond")
    rectangle = ET.fromstring(plot.svg()).find(f"{SVG}rect")
    inner = plot.width - plot.left - plot.right
    assert float(rectangle.get("x")) == plot.left + inner / 2.0
    assert float(rectangle.get("width")) == inner / 2.0
