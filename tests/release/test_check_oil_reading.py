"""Readings of check oils, judged at their own temperature; charted; and what a failed or overdue one makes of a batch."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rheokit.cli import main
from rheokit.release.check import check_batch
from rheokit.release.instrument_file import read_instrument
from rheokit.release.instrument_starter import STARTER
from rheokit.release.oil_chart import oil_chart
from rheokit.release.oil_reading import oil_readings
from rheokit.release.specification_file import read_specification

SAMPLES = Path(__file__).resolve().parents[2] / "sample_rheometer_runs"
TIME = "2026-09-15T08:10:00+00:00"
SAID = {"Instrument": "R-2", "Geometry id": "CP 25-2, body 0417"}


@pytest.fixture
def instrument(write_specification):
    def make(*changes):
        text = STARTER
        for old, new in changes:
            assert old in text
            text = text.replace(old, new, 1)
        return read_instrument(write_specification(text, "instrument.toml"))

    return make


@pytest.fixture
def read_oil(make_entered):
    def make(value, celsius=23.0, *, error=0.004, temperature_error=None, time=TIME):
        rows = [make_entered("check_oil_viscosity", value, "Pa·s", error, time)]
        return [*rows, make_entered("check_oil_temperature", celsius + 273.15, "K", temperature_error, time)]

    return make


def test_a_reading_is_judged_at_its_own_temperature(instrument, read_oil):
    # At 20 °C the certificate says 1.389 Pa·s: 1.396 is +0.504 % there, and would be +36.9 % at 23 °C.
    (reading,) = oil_readings(read_oil(1.396, 20.0), instrument())
    assert (reading.standing, reading.oil) == ("stands", "oil A, lot 7")
    assert reading.certified == pytest.approx(1.389)
    assert reading.ratio - 1.0 == pytest.approx(0.00504, abs=5e-6)


def test_its_uncertainty_by_hand(instrument, read_oil):
    # Certificate 0.3 %, reading 0.004/1.023 = 0.391 %, temperature 0.1005 1/K · 0.05 K = 0.503 %: root of squares 0.704 %. The slope
    # between the rows is good to 1 %.
    (reading,) = oil_readings(read_oil(1.023), instrument())
    assert reading.relative_error == pytest.approx(0.00704, abs=5e-5)
    # A temperature entered with its own uncertainty of 0.02 K counts instead: 0.201 %, in all 0.532 %.
    (reading,) = oil_readings(read_oil(1.023, temperature_error=0.02), instrument())
    assert reading.relative_error == pytest.approx(0.00532, abs=5e-5)


@pytest.mark.parametrize(
    ("value", "error", "standing", "words"),
    [
        (1.0200, 0.004, "stands", r"reads 1\.020 Pa·s at 23\.00 °C, where it is certified 1\.020 Pa·s: \+0\.00 %"),
        (1.0404, 0.004, "doubtful", "within 2 %, but its 95 % interval reaches beyond: read it again"),
        (1.0405, 0.004, "failed", r"\+2\.01 % .*, more than 2 % off; no number of this instrument counts until it reads right"),
        (0.9990, 0.004, "failed", "more than 2 % off"),
        (1.0200, 0.010, "failed", "its 95 % interval of ± 2.3 % is wider than the tolerance of 2 %: it shows nothing"),
        (1.0200, None, "doubtful", "the uncertainty of the reading is not entered"),
    ],
)
def test_tolerance_and_uncertainty(instrument, read_oil, value, error, standing, words):
    (reading,) = oil_readings(read_oil(value, error=error), instrument())
    assert reading.standing == standing
    assert re.search(words, reading.reason), reading.reason


def test_without_a_row_of_its_own_the_method_says_the_temperature(instrument, make_entered):
    def reading(method):
        result = replace(make_entered("check_oil_viscosity", 1.395, "Pa·s", 0.004, TIME), method=method)
        return oil_readings([result], instrument())[0]

    assert reading("cone-plate, 100 1/s, 20.0 °C").ratio == pytest.approx(1.395 / 1.389)
    for silent in ("cone-plate, 100 1/s", "cone-plate, 20.0 °C, bath at 21.0 °C"):
        assert reading(silent).standing == "not judged"
        assert "does not say at which temperature; write a row check_oil_temperature" in reading(silent).reason
    assert "read where it is not certified: 40.00 °C lies outside" in reading("at 40 °C").reason


def test_of_several_oils_the_method_names_one(instrument, make_entered):
    other = STARTER[STARTER.index("[[check_oil]]\nid") :].replace("oil A, lot 7", "oil B, lot 2").replace("1.020 Pa·s", "1.010 Pa·s")
    both = instrument((STARTER, STARTER + other))
    result = replace(make_entered("check_oil_viscosity", 1.010, "Pa·s", 0.004, TIME), method="Oil B, lot 2 at 23.0 °C")
    assert oil_readings([result], both)[0].ratio == pytest.approx(1.0)
    (silent,) = oil_readings([replace(result, method="at 23.0 °C")], both)
    assert "lists the check oils oil A, lot 7, oil B, lot 2, and the method of the reading does not say which" in silent.reason


# --- a batch ----------------------------------------------------------------------------------------------------------------------


@pytest.fixture
def check(write_specification, specification_text):
    def run(batch, instrument):
        return check_batch(batch, replace(read_specification(write_specification(specification_text)), instrument=instrument))

    return run


@pytest.fixture
def batch_of(make_batch, make_loop_run):
    def make(results, **metadata):
        said = SAID | {key.replace("_", " ").capitalize(): text for key, text in metadata.items()}
        return make_batch(runs=tuple(make_loop_run(load, 380.0, metadata=said) for load in (1, 2)), results=tuple(results))

    return make


def test_a_good_instrument_lets_a_batch_pass(check, batch_of, instrument, read_oil):
    checked = check(batch_of(read_oil(1.02)), instrument())
    assert checked.disposition == "release", checked.reason
    assert checked.record.document["specification"]["instrument"]["geometry"]["id"] == "CP 25-2, body 0417"


SPOILT = [
    # (what the oil reads or None, changes of the file, preamble, the reason)
    (None, (), {}, "no check-oil reading is entered; measure the oil and write a row check_oil_viscosity in results.csv"),
    ({"value": 1.061}, (), {}, r"\+4\.02 % .*more than 2 % off"),
    ({"value": 1.02, "time": "2026-09-15T09:10:00+00:00"}, (), {}, r"no check-oil reading was taken before the run of 2026-09-15T08:40"),
    ({"value": 1.02, "time": "2026-09-07T08:10:00+00:00"}, (), {}, r"last read 8\.02 d before a run; a reading holds for 7 d"),
    ({"value": 1.02}, (("expires = 2027-06-30", "expires = 2026-09-14"),), {}, r"certificate .*expired on 2026-09-14; use a fresh oil"),
    ({"value": 1.02}, (("calibration_due = 2027-03-01", "calibration_due = 2026-09-14"),), {}, "the calibration was due on 2026-09-14"),
    ({"value": 1.02}, (("calibrated = 2026-03-02", "calibrated = 2026-09-16"),), {}, "was before the calibration of 2026-09-16"),
    ({"value": 1.02}, (('"12 h"', '"10 min"'),), {}, r"set to zero 20 min before the run; that holds for 10 min"),
    ({"value": 1.02}, (("set = 2026-09-15T08:20:00Z", ""),), {}, "no gap zero before the run is known"),
    ({"value": 1.02}, (("set = 2026-09-15", "set = 2026-09-16"),), {}, "no gap zero before the run is known"),
    ({"value": 1.02}, (), {"instrument": "R-3"}, "the instrument was R-3, instrument.toml is for R-2"),
    ({"value": 1.02}, (), {"geometry_id": "PP 50"}, "the geometry id was PP 50, instrument.toml is for CP 25-2, body 0417"),
    ({"value": 1.02}, (), {"cone_radius": "12.53 mm", "cone_angle": "2 °"}, "the radius of the export .* is not that of instrument.toml"),
    ({"value": 1.02}, (), {"measured": "this morning"}, "does not say when it was measured"),
]


@pytest.mark.parametrize(("oil", "changes", "metadata", "words"), SPOILT)
def test_what_does_not_stand_makes_no_measurement_and_never_a_reject(check, batch_of, instrument, read_oil, oil, changes, metadata, words):
    checked = check(batch_of([] if oil is None else read_oil(**oil), **metadata), instrument(*changes))
    assert checked.disposition == "hold"
    (decision,) = checked.decisions
    assert (decision.outcome, decision.probability) == ("no measurement", None)
    assert re.search(words, decision.reason), decision.reason


def test_a_geometry_of_another_kind_is_no_measurement(check, make_batch, instrument, read_oil, write_specification):
    checked = check(make_batch(results=tuple(read_oil(1.02)), geometry="parallel plates"), instrument())
    assert any("the geometry was parallel plates, instrument.toml is for cone-plate" in str(found) for found in checked.findings)
    assert checked.disposition == "hold"


@pytest.mark.parametrize("metadata", [{"gap_zero": "2026-09-15T08:35:00Z"}, {"cone_radius": "12.51 mm", "cone_angle": "2 °"}])
def test_what_an_export_says_itself_counts(check, batch_of, instrument, read_oil, metadata):
    # A gap zero in the export 5 min before the run; a radius one standard uncertainty off.
    changes = (("set = 2026-09-15T08:20:00Z", ""),) if "gap_zero" in metadata else ()
    assert check(batch_of(read_oil(1.02), **metadata), instrument(*changes)).disposition == "release"


def test_a_failed_oil_is_not_forgotten_for_a_good_one(check, batch_of, instrument, read_oil, make_entered):
    other = STARTER[STARTER.index("[[check_oil]]\nid") :].replace("oil A, lot 7", "oil B, lot 2")
    both = instrument((STARTER, STARTER + other))

    def reading(oil, value, time):
        return replace(make_entered("check_oil_viscosity", value, "Pa·s", 0.004, time), method=f"{oil} at 23.0 °C")

    early, late = "2026-09-15T08:00:00+00:00", "2026-09-15T08:10:00+00:00"
    spoilt = [reading("oil A, lot 7", 1.061, early), reading("oil B, lot 2", 1.02, late)]
    assert check(batch_of(spoilt), both).disposition == "hold"
    # The same oil read again, rightly, after a cause was found: it stands.
    assert check(batch_of([reading("oil A, lot 7", 1.061, early), reading("oil A, lot 7", 1.02, late)]), both).disposition == "release"


def test_an_export_that_names_no_instrument_is_a_caution(check, make_batch, instrument, read_oil):
    checked = check(make_batch(results=tuple(read_oil(1.02))), instrument())
    assert any("no export names the instrument; it is taken to be R-2" in str(found) for found in checked.findings)
    assert checked.disposition == "release"


# --- the chart --------------------------------------------------------------------------------------------------------------------


def test_the_chart_by_hand(instrument, read_oil):
    # Ratios 1.00, 1.01, 0.99, 1.00 of 1.020: moving ranges 0.01, 0.02, 0.01, mean 0.013333; over 1.12838 a standard deviation of
    # 0.011816, so limits 1 ± 0.035449. A failed one of 1.05 lies beyond them, and moves them not.
    values = (1.02, 1.0302, 1.0098, 1.02, 1.071)
    start = datetime(2026, 9, 1, 8, tzinfo=UTC)
    results = [row for day, value in enumerate(values) for row in read_oil(value, time=(start + timedelta(days=day)).isoformat())]
    chart = oil_chart([*results, *results[:2]], instrument())
    assert len(chart.readings) == 5  # the first, entered with two batches, counts once
    assert chart.chart.lower == pytest.approx(1.0 - 0.035449, abs=1e-6)
    assert chart.chart.outside.tolist() == [False, False, False, False, True]
    assert [row[-1] for row in chart.table().rows] == ["", "", "", "", "beyond the limits and a jump"]
    assert [reading.standing for reading in chart.failed] == ["failed"]
    assert "control limits -3.54 to +3.54 %, centre +0.00 %" in str(chart)


def test_the_command_charts_the_samples(capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("MPLBACKEND", "agg")
    folders = [str(SAMPLES / name) for name in ("B26-041", "B26-046")]
    figure = tmp_path / "oil.svg"
    arguments = ["oil", *folders, "--instrument", str(SAMPLES / "instrument.toml"), "--figure", str(figure)]
    assert main(arguments) == 0
    out = capsys.readouterr().out
    assert "2026-09-15 08:10 UTC" in out
    assert out.count("● stands") == 2
    assert figure.read_bytes().startswith(b"<?xml")
    assert main(arguments) == 4  # the figure is not replaced
    assert "is there already" in capsys.readouterr().err
    # The batch whose oil reads 1.061 Pa·s: the last reading failed.
    assert main(["oil", str(SAMPLES / "B26-047"), "--instrument", str(SAMPLES / "instrument.toml")]) == 3


def test_a_check_names_another_instrument_file(capsys, tmp_path):
    arguments = ["check", str(SAMPLES / "B26-041"), "--spec", str(SAMPLES / "specification.toml"), "--instrument"]
    assert main([*arguments, str(SAMPLES / "instrument.toml")]) == 0
    due = tmp_path / "due.toml"
    due.write_text(STARTER.replace("calibration_due = 2027-03-01", "calibration_due = 2026-09-14"), encoding="utf-8")
    assert main([*arguments, str(due)]) == 3
    assert "the calibration was due on 2026-09-14" in capsys.readouterr().out


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(value=st.floats(0.98, 1.06), error=st.floats(1e-4, 0.03), more=st.floats(1.0, 10.0))
def test_more_uncertainty_never_makes_a_reading_stand_better(instrument, read_oil, value, error, more):
    order = {"stands": 0, "doubtful": 1, "failed": 2}
    (one,), (other,) = (oil_readings(read_oil(value, error=size), instrument()) for size in (error, error * more))
    assert order[one.standing] <= order[other.standing]
