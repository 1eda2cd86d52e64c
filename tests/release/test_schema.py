"""The published schema and the starter: current, and of one mind with what is read."""

import json
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator, FormatChecker

from rheokit.characteristics import CHARACTERISTICS
from rheokit.release.instrument_starter import STARTER
from rheokit.release.schema import schema_text, specification_schema
from rheokit.release.specification_file import read_specification
from rheokit.release.starter import starter_text

TOP = Path(__file__).resolve().parents[2]
PUBLISHED = TOP / "docs" / "specification.schema.json"
SAMPLE = (TOP / "sample_rheometer_runs" / "specification.toml").read_text(encoding="utf-8")
PRECISION = """\
format = 1
[[precision]]
characteristic = "density"
repeatability = { relative = 0.018, degrees_of_freedom = 19 }
source = "a study"
date = 2026-08-31
"""


def complaints(text):
    """Return where a TOML text does not follow the schema; a date counts as its text."""
    document = json.loads(json.dumps(tomllib.loads(text), default=lambda date: date.isoformat()))
    validator = Draft202012Validator(specification_schema(), format_checker=FormatChecker())
    return ["/".join(map(str, error.absolute_path)) for error in validator.iter_errors(document)]


def test_the_published_schema_is_current():
    assert PUBLISHED.read_text(encoding="utf-8") == schema_text(), "rheokit specification --schema > docs/specification.schema.json"


def test_it_is_a_schema():
    Draft202012Validator.check_schema(specification_schema())


@pytest.mark.parametrize("text", [SAMPLE, starter_text()], ids=["sample", "starter"])
def test_a_good_specification_follows_it(text):
    assert complaints(text) == []


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ('characteristic = "viscosity_at_rate"', 'characteristic = "viscosity"', "requirement/0/characteristic"),
        ('at = { shear_rate = "100 1/s" }', 'at = { rate = "100 1/s" }', "requirement/0/at"),
        ('at = { shear_rate = "100 1/s" }\n', "", "requirement/0"),
        ('at = { shear_rates = ["10 1/s", "100 1/s"] }', 'at = { shear_rates = ["10 1/s"] }', "requirement/3/at/shear_rates"),
        ('at = { method = "herschel_bulkley" }', 'at = { method = "by eye" }', "requirement/4/at/method"),
        ('step = "down"', 'step = "sideways"', "requirement/0/step"),
        ('characteristic = "density"', 'characteristic = "density"\nstep = "down"', "requirement/6/step"),
        ('lower = "1.10 g/cm³"\nupper = "1.20 g/cm³"\n', "", "requirement/6"),
        ('lower = "3.4 Pa·s"', 'lower = "3.4 Pa·s"\nlowest = "3 Pa·s"', "requirement/0"),
        ("expires = 2027-06-30", 'expires = "next year"', "check_oil/expires"),
        ("loads = 2", "loads = 0", "method/loop/loads"),
    ],
)
def test_a_bad_one_does_not(tmp_path, old, new, where):
    assert old in SAMPLE
    text = SAMPLE.replace(old, new, 1)
    assert where in complaints(text)
    path = tmp_path / "specification.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=r"specification\.toml"):
        read_specification(path)


def test_every_characteristic_and_its_conditions_are_listed():
    requirement = specification_schema()["$defs"]["RequirementText"]
    assert requirement["properties"]["characteristic"]["enum"] == list(CHARACTERISTICS)
    listed = {
        case["if"]["properties"]["characteristic"]["const"]: set(case["then"]["properties"]["at"]["properties"])
        for case in requirement["allOf"]
    }
    assert listed == {name: set(entry.at) for name, entry in CHARACTERISTICS.items()}


def test_the_starter_reads_back_as_it_is_printed(write_specification):
    spec = read_specification(write_specification(starter_text()))
    assert [line.id for line in spec.requirements] == ["viscosity-100"]
    assert [name for name in CHARACTERISTICS if f"#   {name}: " not in starter_text()] == []


def test_what_the_starter_comments_out_stands_up_too(write_specification):
    """Take away the sign of comment before each key; of the rules, roundings and repeatabilities the first stays."""
    lines, seen = [], set()
    for line in starter_text().splitlines():
        bare = line.removeprefix("# ")
        key = bare.split("=")[0].strip()
        is_key = bare != line and "=" in bare and key.isidentifier()
        commented_table = bare != line and bare.split("#")[0].strip() in {"[check_oil]", "[retest]"}
        if commented_table or (is_key and key not in {"decision_rule", "rounding", "repeatability"}):
            lines.append(bare)
            seen.add(key)
        else:
            lines.append(line)
    write_specification(PRECISION, "precision.toml")
    write_specification(STARTER, "instrument.toml")
    assert {
        "precision",
        "instrument",
        "effective",
        "supersedes",
        "age",
        "hold",
        "gap",
        "points",
        "time_since_loading",
        "day",
        "calibration",
        "process",
    } <= seen
    spec = read_specification(write_specification("\n".join(lines)))
    assert spec.check_oil.certified == 1.02
    assert spec.precision.entries[0].repeatability.relative == 0.018
    assert spec.requirements[0].age.text == "1 d to 7 d"
    assert set(spec.requirements[0].parts) == {"day", "calibration"}


def test_every_key_of_a_specification_stands_in_the_starter():
    definitions = specification_schema()["$defs"]
    tables = ("HeadText", "CheckOilText", "MethodText", "RequirementText", "RoundingText")
    keys = {key for table in tables for key in definitions[table]["properties"]} - {"place", "digits"}
    assert sorted(key for key in keys if f"{key} = " not in starter_text() and f"'{key}'" not in starter_text()) == []
