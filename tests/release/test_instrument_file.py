"""Reading an instrument file: what stands, in SI, and one clear line for what does not."""

import json
import math
import tomllib
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator, FormatChecker

from rheokit.base.errors import SpecificationError
from rheokit.cli import main
from rheokit.release.instrument_file import read_instrument
from rheokit.release.instrument_starter import STARTER, instrument_schema, instrument_schema_text
from rheokit.release.specification_file import read_specification

TOP = Path(__file__).resolve().parents[2]
PLATES = """\
kind = "parallel plates"
radius = { value = "25 mm", standard_uncertainty = "0.01 mm" }
gap = { value = "1 mm", standard_uncertainty = "5 µm" }
"""
CONE = """\
kind = "cone-plate"
radius = { value = "12.5 mm", standard_uncertainty = "0.01 mm" }
angle = { value = "2 °", standard_uncertainty = "0.005 °" }
"""
CYLINDERS = """\
kind = "concentric cylinders"
inner_radius = { value = "10 mm", standard_uncertainty = "5 µm" }
outer_radius = { value = "10.847 mm", standard_uncertainty = "5 µm" }
length = { value = "30 mm", standard_uncertainty = "0.02 mm" }
end_factor = { value = "1.10", standard_uncertainty = "0.01" }
"""


@pytest.fixture
def read(write_specification):
    def run(text=STARTER, name="instrument.toml"):
        return read_instrument(write_specification(text, name))

    return run


def test_everything_is_read_in_si(read):
    instrument = read()
    assert (instrument.id, instrument.geometry_id) == ("R-2", "CP 25-2, body 0417")
    assert instrument.torque_floor == pytest.approx(2e-7)
    assert instrument.moment_of_inertia == pytest.approx(1e-5)
    assert instrument.temperature_error == pytest.approx(0.05)
    assert (instrument.calibrated, instrument.calibration_due) == (date(2026, 3, 2), date(2027, 3, 1))
    assert instrument.gap_zero == datetime(2026, 9, 15, 8, 20, tzinfo=UTC)
    assert instrument.gap_zero_valid_for == 12 * 3600.0
    assert instrument.geometry.radius == pytest.approx(0.0125)
    # An angle of 0.005 ° is 8.727e-5 rad, a radius of 0.01 mm one part in 1250.
    assert instrument.dimension_errors == pytest.approx({"radius": 1e-5, "angle": math.radians(0.005)})
    assert instrument.relative_errors() == pytest.approx({"radius": 0.0008, "angle": 0.0025})
    (oil,) = instrument.check_oils
    assert (oil.tolerance, oil.relative_error, oil.valid_for) == pytest.approx((0.02, 0.003, 7 * 86_400.0))
    assert oil.certificate.viscosity(296.15) == pytest.approx(1.020)
    assert len(instrument.sha256) == 64
    assert "12.500 ± 0.010 mm" in str(instrument)


@pytest.mark.parametrize(
    ("geometry", "relative"),
    [
        (PLATES, {"radius": 0.0004, "gap": 0.005}),
        (CYLINDERS, {"inner_radius": 0.0005, "outer_radius": 5e-6 / 0.010847, "length": 0.02 / 30.0, "end_factor": 0.01 / 1.1}),
    ],
)
def test_other_geometries(read, geometry, relative):
    assert read(STARTER.replace(CONE, geometry)).relative_errors() == pytest.approx(relative)


def test_an_oil_certified_by_a_law(read):
    rows = STARTER[STARTER.index("certified = [") : STARTER.index("# or, instead of rows")]
    text = STARTER.replace(rows, "").replace("# vogel = ", "vogel = ")
    (oil,) = read(text).check_oils
    assert oil.certificate.viscosity(296.15) == pytest.approx(1.0198, abs=5e-5)


REFUSED = [
    ('id = "R-2"', 'id = " "', r"line 5, instrument, id: the id is empty"),
    ("torque_floor", "torque_flor", r"instrument, torque_flor: unknown key 'torque_flor'; did you mean 'torque_floor'\?"),
    ('"0.2 µN·m"', '"0.2 µN"', r"instrument, torque_floor: 'µN' is not a unit of torque"),
    ('"0.2 µN·m"', '"0 µN·m"', r"torque_floor: '0 µN·m' is not positive"),
    ('"0.05 K"', '"-0.05 K"', r"is below absolute zero|is no standard uncertainty"),
    ("calibration_due = 2027-03-01", "calibration_due = 2026-03-01", r"line 9, .*the calibration is due before it was done"),
    ("2026-09-15T08:20:00Z", "2026-09-15T08:20:00", r"gap_zero, set: 2026-09-15T08:20:00 has no time zone"),
    ('valid_for = "12 h"', 'valid_for = "500 d"', r"gap_zero, valid_for: '500 d' is no time between zero and a year"),
    ('kind = "cone-plate"', 'kind = "parallel plates"', r"geometry, angle: parallel plates has no angle; its dimensions are radius, gap"),
    ("angle = {", "# angle = {", r'geometry, kind: cone-plate needs the key \'angle\'; write angle = \{ value = "\.\.\."'),
    ('kind = "cone-plate"', 'kind = "spindle"', r"geometry, kind: .*'cone-plate', 'parallel plates' or 'concentric cylinders'"),
    ('angle = {', 'gap = { value = "1 mm", standard_uncertainty = "1 µm" }\nangle = {', r"geometry, gap: cone-plate has no gap"),
    ('value = "2 °"', 'value = "20 °"', r"geometry: the cone angle is 20°"),
    ('standard_uncertainty = "0.01 mm"', 'standard_uncertainty = "0 mm"', r"geometry, radius: '0 mm' is no standard uncertainty"),
    ('standard_uncertainty = "0.01 mm"', 'standard_uncertainty = "10 mm"', r"uncertainty of the radius is more than a tenth of it"),
    ('standard_uncertainty = "0.01 mm"', 'uncertainty = "0.01 mm"', r"radius, uncertainty: unknown key .*mean 'standard_uncertainty'\?"),
    ('radius = { value = "12.5 mm", standard_uncertainty = "0.01 mm" }', 'radius = "12.5 mm"', r"line 21, geometry, radius: "),
    ('certified_uncertainty = "0.3 %"', 'certified_uncertainty = "0.003"', r"'0\.003' is not a percentage"),
    ('tolerance = "2 %"', 'tolerance = "30 %"', r"check_oil 1, tolerance: '30 %' is not between 0 and 20 %"),
    ('viscosity = "1.389 Pa·s"', 'viscosity = "0.389 Pa·s"', r"check_oil 1, certified: .*viscosities falling; compare it with the cert"),
    ('temperature = "18 °C"', 'temperature = "20 °C"', r"one temperature stands twice"),
    ("# vogel =", "vogel =", r"check_oil 1: an oil is certified either by 'certified' rows or by a 'vogel' law"),
    ("expires = 2027-06-30", 'expires = "next year"', r"check_oil 1, expires: "),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "message"), REFUSED)
def test_what_does_not_stand_up_is_refused_with_its_line(read, old, new, message):
    assert old in STARTER
    with pytest.raises(SpecificationError, match=r"instrument\.toml") as refused:
        read(STARTER.replace(old, new, 1))
    assert refused.match(message)


def test_two_oils_of_one_id_are_refused(read):
    oil = STARTER[STARTER.index("[[check_oil]]\nid") :]
    with pytest.raises(SpecificationError, match="check_oil 2, id: the id 'oil A, lot 7' is empty or stands twice"):
        read(STARTER + oil)


def test_a_specification_names_it(read, write_specification, specification_text):
    text = specification_text.replace('revision = "A"', 'revision = "A"\ninstrument = "instrument.toml"')
    with pytest.raises(SpecificationError, match=r"'instrument\.toml' is not there; put the instrument file beside the specification"):
        read_specification(write_specification(text))
    instrument = read()
    assert read_specification(write_specification(text)).instrument == instrument
    with pytest.raises(SpecificationError, match="is no file beside the specification"):
        read_specification(write_specification(text.replace('"instrument.toml"', '"../instrument.toml"')))


def test_the_published_schema_is_current():
    published = TOP / "docs" / "instrument.schema.json"
    said = "rheokit instrument --schema > docs/instrument.schema.json"
    assert published.read_text(encoding="utf-8") == instrument_schema_text(), said
    Draft202012Validator.check_schema(instrument_schema())


def complaints(text):
    document = json.loads(json.dumps(tomllib.loads(text), default=lambda moment: moment.isoformat()))
    return list(Draft202012Validator(instrument_schema(), format_checker=FormatChecker()).iter_errors(document))


def test_the_schema_is_of_one_mind_with_what_is_read():
    for good in (STARTER, STARTER.replace(CONE, PLATES), STARTER.replace(CONE, CYLINDERS)):
        assert complaints(good) == []
    for old, new in (
        ('kind = "cone-plate"', 'kind = "parallel plates"'),
        ('kind = "cone-plate"\n', ""),
        ("torque_floor", "torque_flor"),
        ("# vogel =", "vogel ="),
        ("expires = 2027-06-30", 'expires = "next year"'),
    ):
        assert complaints(STARTER.replace(old, new, 1)), old


def test_the_command_prints_starter_schema_and_table(capsys, write_specification):
    assert main(["instrument", "--starter"]) == 0
    starter = capsys.readouterr().out
    assert starter == STARTER
    assert main(["instrument", "--schema"]) == 0
    assert capsys.readouterr().out == instrument_schema_text()
    assert main(["instrument", str(write_specification(starter, "mine.toml"))]) == 0
    assert "0.0050 °" in capsys.readouterr().out


def test_the_sample_instrument_stands_up():
    assert read_instrument(TOP / "sample_rheometer_runs" / "instrument.toml").id == "R-2"
