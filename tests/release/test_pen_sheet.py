"""The pen sheet: plain JSON, the same bytes each time, its cautions beside the numbers that can hurt."""

import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

import rheokit as rk
from rheokit.base.errors import RangeError
from rheokit.refill.holding import gauge_pressure
from rheokit.release.pen_sheet import SECTIONS, PenSheet, pen_sheet
from rheokit.release.record import Record

SAMPLES = Path(__file__).resolve().parents[2] / "sample_rheometer_runs"


@pytest.fixture(scope="module")
def batch():
    return rk.read_batch(SAMPLES / "B26-041")


@pytest.fixture(scope="module")
def refill():
    return rk.read_refill(SAMPLES / "refill.toml")


@pytest.fixture(scope="module")
def sheet(batch, refill):
    return pen_sheet(batch, refill)


def row(sheet, words):
    (found,) = (held for held in sheet.document["rows"] if held["what"] == words)
    return found


def test_the_same_batch_and_refill_give_the_same_bytes(sheet, batch, refill):
    assert pen_sheet(batch, refill).to_bytes() == sheet.to_bytes()
    again = PenSheet.from_json(sheet.to_json())
    assert again.to_bytes() == sheet.to_bytes()
    assert again.file_name == sheet.file_name
    assert pen_sheet(batch, refill, seed=1).to_bytes() != sheet.to_bytes()


def test_it_is_no_record_of_a_check(sheet):
    with pytest.raises(ValueError, match=r"^not a record of the format 'rheokit record 1'$"):
        Record.from_json(sheet.to_json())
    with pytest.raises(ValueError, match=r"^not a record of the format 'rheokit pen sheet 1'$"):
        PenSheet.from_json('{"format": "rheokit record 1"}')


def test_nothing_in_it_tells_where_the_files_lie(sheet):
    text = sheet.to_json()
    assert json.loads(text, parse_constant=pytest.fail) == json.loads(json.dumps(sheet.document))
    assert str(SAMPLES) not in text
    assert sheet.document["refill"]["file"] == "refill.toml"


def test_every_section_has_its_lines_in_order(sheet):
    seen = [held["section"] for held in sheet.document["rows"]]
    assert list(dict.fromkeys(seen)) == list(SECTIONS)
    assert seen == sorted(seen, key=SECTIONS.index)
    assert set(sheet.document["figures"]) == {"holding", "viscosity", "pressure", "window"}


def test_the_cautions_stand_beside_the_numbers_that_can_hurt(sheet, refill):
    hot = row(sheet, "gauge pressure at 120 °C, at most")
    assert (
        "Size pressure margins for this, never for the pressure at filling. Oven tests of sealed refills: behind a shield" in hot["caution"]
    )
    drawn = gauge_pressure(refill.draws(seed=0), refill["use.hottest"].upper).max()
    assert hot["middle"] * 1e3 > drawn  # no draw reaches it
    filling = row(sheet, "needle pressure, upper bound")
    assert filling["middle"] > 20.0
    assert "Above 20 bar a jet injects through skin" in filling["caution"]
    laws = [held for held in sheet.document["rows"] if held["what"].startswith("needle pressure, ") and held is not filling]
    assert filling["middle"] >= 3.0 * max(held["upper"] for held in laws)
    said = " ".join(sheet.document["cautions"])
    for words in ("kPa gauge", "bar here", "shield", "never alone a release requirement", "extrapolations", "local codes", "qualified"):
        assert words in said


def test_extrapolations_are_labelled_and_far_ones_not_given(sheet):
    under_the_ball = [held for held in sheet.document["rows"] if held["what"].startswith("viscosity under the ball, ")]
    assert len(under_the_ball) == 3
    assert all("decades beyond the bench: an extrapolation" in held["note"] for held in under_the_ball)
    assert "understates it" in under_the_ball[0]["note"]
    cold = row(sheet, "viscosity under the ball at -30 °C")
    assert cold["middle"] is None
    assert cold["shown"]["middle"] == "not given"
    assert "-30 °C lies 53 K beyond the runs (23 °C)" in cold["note"]
    assert "97 K beyond the runs: an extrapolation" in row(sheet, "holding index at 120 °C")["note"]
    assert "beyond" not in row(sheet, "holding index at 23 °C")["note"]


def test_the_true_viscosity_under_the_ball_lies_between_the_laws(sheet):
    # The invented ink in equilibrium at 3e4 1/s, from its own parameters: structure a/(a + b g^m) = 0.025/(0.025 + 0.005 · 173) = 0.028;
    # stress 60 + 70 · 0.028 + (20 + 10 · 0.028) · 173 + 0.63 · 3e4, over 3e4: 0.75 Pa·s.
    rate = 3e4
    structure = 0.025 / (0.025 + 0.005 * rate**0.5)
    true = (60.0 + 70.0 * structure + (20.0 + 10.0 * structure) * rate**0.5) / rate + 0.63
    assert true == pytest.approx(0.75, abs=0.005)
    told = [held["middle"] for held in sheet.document["rows"] if held["what"].startswith("viscosity under the ball, ")]
    assert min(told) < true < max(told)


def test_what_was_typed_in_stands_beside_the_target(sheet):
    # results.csv of the batch: 57.3 mg/100 m with a standard uncertainty of 1.2.
    held = row(sheet, "laydown measured")
    assert (held["middle"], held["unit"]) == (pytest.approx(57.3, rel=1e-9), "mg/100 m")
    assert held["upper"] - held["lower"] == pytest.approx(2 * 1.96 * 1.2, rel=1e-3)


def test_what_the_folder_lacks_is_said(refill):
    # The scenario's B26-050 lacks its second steady load.
    short = pen_sheet(rk.read_batch(SAMPLES / "B26-050"), refill)
    assert "'steady_load2.xlsx' (load 2 of steady) is listed in batch.toml and not in the folder" in str(short)
    assert any(said.startswith("one load: its own scatter stands in") for said in short.document["assumed"])


def test_common_practice_comes_out_of_the_demo_refill(sheet):
    # Common practice, no source: 1.7 g writes 3 km, 57 mg/100 m, a film of 1.2 µm on a 0.4 mm line.
    assert row(sheet, "writing distance")["middle"] == pytest.approx(3000.0, rel=0.01)
    assert row(sheet, "laydown")["middle"] == pytest.approx(57.0, rel=1e-9)
    assert row(sheet, "mean film on paper")["middle"] == pytest.approx(1.24, abs=0.005)
    assert row(sheet, "gas volume taken by the ink at 120 °C")["upper"] < 70.0


def test_what_is_assumed_is_listed_and_stated_numbers_replace_it(batch, tmp_path):
    text = (SAMPLES / "refill.toml").read_text("utf-8")
    assert "# yield_decay" in text
    path = tmp_path / "refill.toml"
    path.write_text(text.replace("# yield_decay", "yield_decay"), encoding="utf-8")
    stated = pen_sheet(batch, rk.read_refill(path))
    # 0.012 to 0.02 1/K: middle 0.016, anywhere in the range: half of it over the root of three.
    assert stated.document["ink"]["yield_decay"] == {
        "value": pytest.approx(0.016),
        "standard_error": pytest.approx(0.004 / np.sqrt(3)),
        "unit": "1/K",
    }
    assert "as the description states" in stated.document["assumed"][0]
    assert "ASSUMED as usual" in stated.document["assumed"][1]
    path.write_text(text.replace("[holding]", "[holding]\n").replace('slip_factor = "0.7 to 1"', ""), encoding="utf-8")
    without = pen_sheet(batch, rk.read_refill(path))
    assert "slip factor 0.5 to 1: a smooth ball lets a gel slip before it yields, ASSUMED" in without.document["assumed"][-1]


def test_it_is_written_once_and_never_into_the_batch_folder(sheet, tmp_path):
    path = sheet.write(tmp_path / "sheets", page="<p>page</p>")
    assert path.name == f"B26-041-pen-{sheet.id}.json"
    assert path.read_bytes() == sheet.to_bytes()
    assert path.with_suffix(".html").read_text("utf-8") == "<p>page</p>"
    with pytest.raises(rk.OutputError, match=r"is there already and is not replaced"):
        sheet.write(tmp_path / "sheets")
    with pytest.raises(rk.OutputError, match=r"lies in the batch folder, which is never written to"):
        sheet.write(tmp_path / "batch" / "sheets", never_inside=tmp_path / "batch")


def test_time_and_operator_are_passed_in(batch, refill):
    sheet = pen_sheet(batch, refill, time=datetime(2026, 10, 1, 8, 0, tzinfo=UTC), operator="technician 2")
    assert (sheet.document["time"], sheet.document["operator"]) == ("2026-10-01T08:00:00+00:00", "technician 2")
    with pytest.raises(ValueError, match=r"^the time of a sheet needs a time zone"):
        pen_sheet(batch, refill, time=datetime(2026, 10, 1, 8, 0))


def test_a_batch_that_cannot_be_judged_is_refused(refill):
    with pytest.raises(RangeError, match=r"^batch empty has no steady steps and no down leg"):
        pen_sheet(rk.Batch(name="empty", runs={}, metadata={}), refill)


def test_a_stronger_gel_holds_better_and_feeds_worse(refill):
    # candidate-2 of the invented recipes has more gellant than candidate-1: the index ranks them.
    sheets = [pen_sheet(rk.read_batch(SAMPLES / "recipes" / name), refill) for name in ("candidate-1", "candidate-2")]
    weak, strong = (row(sheet, "holding index at 23 °C")["middle"] for sheet in sheets)
    assert strong > 1.2 * weak
    weak, strong = (row(sheet, "pressure / needed at 23 °C")["middle"] for sheet in sheets)
    assert strong < weak
