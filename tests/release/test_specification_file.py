"""Reading a specification: what stands, and one clear line for what does not."""

import math

import pytest

from rheokit.base.errors import SpecificationError
from rheokit.release.specification_file import read_specification


def test_everything_is_read_in_si(write_specification):
    spec = read_specification(write_specification())
    (line,) = spec.requirements
    assert (line.lower_value, line.upper_value) == (3.4, 4.2)
    assert line.at == {"shear_rate": 100.0}
    assert line.repeatability.standard_deviation(4.0) == 0.08
    method = spec.methods["loop"]
    assert method.temperature.value == pytest.approx(296.15)
    assert method.temperature.tolerance == pytest.approx(0.2)
    assert (method.ramp.start, method.ramp.end, method.ramp.duration) == (0.0, 100.0, 120.0)
    assert (method.pre_shear.rate, method.pre_shear.duration, method.rest.value, method.loads) == (100.0, 60.0, 300.0, 2)
    assert spec.rule.conforming == 0.95
    assert len(spec.sha256) == 64


def test_one_sided_limits_are_open(write_specification, specification_text):
    spec = read_specification(write_specification(specification_text.replace('upper = "4.2 Pa·s"\n', "")))
    assert spec.requirements[0].upper_value == math.inf
    assert spec.requirements[0].limits == "at least 3.4 Pa·s"


def test_limits_of_the_screening_are_read_and_shown(write_specification, specification_text):
    spec = read_specification(write_specification(specification_text + "\n[screening]\npoint_scatter = 0.03\ntemperature_known = 1\n"))
    assert spec.screening == {"point_scatter": 0.03, "temperature_known": 1.0}
    assert "screening limit of point scatter: 0.03" in str(spec)
    assert read_specification(write_specification()).screening == {}


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("point_scater = 0.05", r"screening, point_scater: no check is called 'point_scater'; did you mean 'point_scatter'\?"),
        (
            "point_scatter = 2.0",
            r"screening, point_scatter: the limit of point_scatter is 2\.0; it lies from .* to 1\.0, 0\.050 where none is set",
        ),
        ("point_scatter = 0.0", r"screening, point_scatter: input should be greater than 0"),
        ('point_scatter = "5 %"', r"screening, point_scatter: input should be a valid number"),
    ],
)
def test_limits_of_the_screening_that_no_check_has_are_refused(write_specification, specification_text, line, message):
    text = specification_text.replace("[method.loop]", f"[screening]\n{line}\n\n[method.loop]")
    with pytest.raises(SpecificationError, match=message) as caught:
        read_specification(write_specification(text))
    assert caught.value.line == 8


REFUSED = [
    # (what is replaced, by what, the message, its line)
    ('upper = "4.2 Pa·s"', 'uper = "4.2 Pa·s"', r"requirement 1, uper: unknown key 'uper'; did you mean 'upper'\?", 22),
    ('lower = "3.4 Pa·s"', 'lower = "4.3 Pa·s"', r"the lower limit 4\.3 Pa·s is not below the upper limit 4\.2 Pa·s", 21),
    ('lower = "3.4 Pa·s"', 'lower = "3.4"', r"no unit is given", 21),
    ('lower = "3.4 Pa·s"', 'lower = "3.4 Pa"', r"'Pa' is not a unit of viscosity", 21),
    ('lower = "3.4 Pa·s"', "lower = 3.4", r"requirement 1, lower: .*string", 21),
    ('characteristic = "viscosity_at_rate"', 'characteristic = "viscosity_at_rat"', r"did you mean 'viscosity_at_rate'\?", 17),
    ('step = "down"', 'step = "downward"', r"there is no kind of step 'downward'; the kinds are up, down", 19),
    ('step = "down"\n', "", r"needs the key 'step'", 15),
    ('test = "loop"\n', "", r"needs the key 'test'", 15),
    ('at = { shear_rate = "100 1/s" }\n', "", r'needs the condition \'shear_rate\'; write at = \{ shear_rate = "100 1/s" \}', 15),
    ('shear_rate = "100 1/s"', 'rate = "100 1/s"', r"has no condition 'rate'", 20),
    ('shear_rate = "100 1/s"', 'shear_rate = "-1 1/s"', r"positive and rising", 20),
    ("relative = 0.02", 'relative = 0.02, absolute = "1 Pa·s"', r"either relative or absolute", 23),
    ("relative = 0.02", "relative = 1.5", r"less than 1", 23),
    ("conforming = 0.95", "conforming = 0.4", r"greater than 0\.5", 5),
    ('kind = "probability", conforming = 0.95', 'kind = "luck"', r"'probability', 'guard' or 'simple'", 5),
    ('kind = "probability", conforming = 0.95', 'kind = "guard"', r"needs 'factor'", 5),
    ("format = 1", "format = 2", r"format: input should be less than or equal to 1, not 2", 1),
    ('"23.0 °C ± 0.2"', '"23.0 °C"', r"gives no tolerance", 9),
    ('"0 to 100 1/s in 120 s"', '"up to 100"', r"is not a ramp", 12),
    ('"100 1/s for 60 s"', '"100 1/s"', r"is not a rate held for a time", 10),
    ("format = 1", "format = true", r"format: .*integer", 1),
    ('lower = "3.4 Pa·s"', 'lower = "3.4 Pa·s ± 0.4"', r"carries a tolerance; write the number and its unit alone", 21),
    ('"0 to 100 1/s in 120 s"', '"0 to 100 1/s in 0 s"', r"a time is positive", 12),
    ('"0 to 100 1/s in 120 s"', '"100 to 0 1/s in 120 s"', r"goes from a lower to a higher rate", 12),
    ('rest = "300 s"', 'rest = "-1 s"', r"a time is positive", 11),
    ("degrees_of_freedom = 24", "degrees_of_freedom = 0.1", r"greater than or equal to 1", 23),
    ("loads = 2", "loads = 0", r"greater than or equal to 1", 13),
    ('upper = "4.2 Pa·s"', 'upper = "4.2 Pa·s', r"is not valid TOML", None),
]


@pytest.mark.parametrize(("old", "new", "message", "line"), REFUSED)
def test_what_does_not_stand_is_refused_with_its_place(write_specification, specification_text, old, new, message, line):
    assert old in specification_text
    path = write_specification(specification_text.replace(old, new))
    with pytest.raises(SpecificationError, match=message) as refused:
        read_specification(path)
    assert refused.value.line == line
    assert "specification.toml" in str(refused.value)
    assert "\n" not in str(refused.value)


OIL = '[check_oil]\ncertified = "1.02 Pa·s"\ntolerance = "2 %"\nvalid_for = "7 d"\n'


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('"2 %"', '"-2 %"', "not between 0 and 20 %"),
        ('"2 %"', '"2"', "is not a percentage"),
        ('"7 d"', '"0 d"', "no time between zero and a year"),
        ('"7 d"', '"1e300 d"', "no time between zero and a year"),
        ('"1.02 Pa·s"', '"0 Pa·s"', "no viscosity of an oil"),
    ],
)
def test_a_check_oil_that_makes_no_sense_is_refused(write_specification, specification_text, old, new, message):
    assert read_specification(write_specification(specification_text + OIL)).check_oil.tolerance == pytest.approx(0.0204)
    with pytest.raises(SpecificationError, match=message):
        read_specification(write_specification(specification_text + OIL.replace(old, new)))


def test_limits_in_different_units_are_compared_in_si(write_specification, specification_text):
    spec = read_specification(write_specification(specification_text.replace('"4.2 Pa·s"', '"4200 mPa·s"')))
    assert spec.requirements[0].upper_value == pytest.approx(4.2)
    with pytest.raises(SpecificationError, match="is not below"):
        read_specification(write_specification(specification_text.replace('"4.2 Pa·s"', '"42 mPa·s"')))


def test_an_absolute_repeatability_is_read_in_its_unit(write_specification, specification_text):
    spec = read_specification(write_specification(specification_text.replace("relative = 0.02", 'absolute = "80 mPa·s"')))
    assert spec.requirements[0].repeatability.standard_deviation(9.0) == pytest.approx(0.08)


def test_no_requirements_is_refused(write_specification, specification_text):
    text = specification_text[: specification_text.index("[[requirement]]")]
    for bare in (text, "requirement = []\n" + text):
        with pytest.raises(SpecificationError, match="a specification without requirements decides nothing"):
            read_specification(write_specification(bare))


def test_an_id_that_stands_twice_is_refused(write_specification, specification_text):
    again = specification_text[specification_text.index("[[requirement]]") :]
    with pytest.raises(SpecificationError, match=r"line 25, requirement 2, id: the id 'viscosity-100' stands twice"):
        read_specification(write_specification(specification_text + again))


@pytest.mark.parametrize(
    ("content", "message"),
    [(b"", "format"), (b"\xff\xfe\x00", "not UTF-8"), (b"\x00\x01", "not valid TOML"), (b"x" * 1_000_001, "larger than")],
    ids=["empty", "not text", "binary", "too large"],
)
def test_a_file_that_is_no_specification(tmp_path, content, message):
    path = tmp_path / "spec.toml"
    path.write_bytes(content)
    with pytest.raises(SpecificationError, match=message):
        read_specification(path)


def test_a_missing_file_and_a_folder(tmp_path):
    with pytest.raises(SpecificationError, match=r"cannot be read \(No such file"):
        read_specification(tmp_path / "none.toml")
    with pytest.raises(SpecificationError, match="is a folder"):
        read_specification(tmp_path)


def test_hostile_text_in_a_key_stays_text(write_specification, specification_text):
    path = write_specification(specification_text.replace("revision =", '"\\u001b[2Jrevision" ='))
    with pytest.raises(SpecificationError) as refused:
        read_specification(path)
    assert "\x1b" not in str(refused.value)
