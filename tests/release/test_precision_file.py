"""A laboratory's precision file: from a study into it, from it into a specification, and one clear line for what does not stand."""

import datetime
import json

import pytest

from rheokit.base.errors import ComparisonError, FitError, OutputError, SpecificationError
from rheokit.release.check import check_batch
from rheokit.release.precision_file import PrecisionEntry, PrecisionFile, read_precision_file
from rheokit.release.precision_writing import precision_entry, precision_text, write_precision_file
from rheokit.release.specification_file import read_specification
from rheokit.statistics.interlaboratory import repeatability_and_reproducibility
from rheokit.statistics.precision import StatedUncertainty

DAY = datetime.date(2026, 8, 31)
PRECISION = """\
format = 1

[[precision]]
characteristic = "viscosity_at_rate"
test = "loop"
step = "down"
at = { shear_rate = "6000 1/min" }
repeatability = { relative = 0.03, degrees_of_freedom = 19 }
reproducibility = { absolute = "120 mPa·s", degrees_of_freedom = 6.5 }
source = "repeat study of eight loads on four days"
date = 2026-08-31

[[precision]]
characteristic = "density"
repeatability = { absolute = "0.004 g/cm³", degrees_of_freedom = 9 }
source = "ten fillings of one pycnometer"
date = 2026-07-02
"""
STATED = "repeatability = { relative = 0.02, degrees_of_freedom = 24 }"


@pytest.fixture
def taken(write_specification, specification_text):
    """Write a specification that takes its repeatability from a precision file, and return its path."""

    def write(precision=PRECISION, named='precision = "precision.toml"\n', says='"from precision file"', **changes):
        if precision is not None:
            write_specification(precision, "precision.toml")
        text = specification_text.replace(STATED, f"repeatability = {says}").replace('revision = "A"\n', f'revision = "A"\n{named}')
        for old, new in changes.get("replaced", {}).items():
            assert old in text
            text = text.replace(old, new)
        return write_specification(text)

    return write


def test_everything_is_read_in_si(write_specification):
    held = read_precision_file(write_specification(PRECISION, "precision.toml"))
    first, second = held.entries
    # 6000 1/min is 100 1/s.
    assert first.at == {"shear_rate": pytest.approx(100.0)}
    assert (first.repeatability.relative, first.repeatability.degrees_of_freedom) == (0.03, 19.0)
    assert first.reproducibility.absolute == pytest.approx(0.12)
    assert second.repeatability.absolute == pytest.approx(4.0)
    assert (second.test, second.step, second.reproducibility, second.date) == ("", None, None, datetime.date(2026, 7, 2))
    shown = str(held)
    assert "viscosity_at_rate (loop, down, shear_rate 100.0 1/s)" in shown
    assert "3 % (19 d.f.)" in shown
    assert "not known" in shown


def test_a_specification_takes_its_repeatability_from_it(taken, make_batch):
    spec = read_specification(taken())
    (line,) = spec.requirements
    assert (line.repeatability.relative, line.repeatability.degrees_of_freedom) == (0.03, 19.0)
    assert line.stated_text("load") == "3 % (19 d.f.; precision.toml, 2026-08-31)"
    assert spec.precision.name == "precision.toml"
    assert "precision: precision.toml, sha256" in str(spec)
    checked = check_batch(make_batch(), spec)
    (decided,) = checked.decisions
    # Exact: 3 % of 3.8 for the mean of two loads.
    assert decided.estimate.components == {"load": pytest.approx(0.03 * 3.8 / 2**0.5)}
    held = checked.record.document["specification"]["precision"]
    assert held == {"file": "precision.toml", "sha256": spec.precision.sha256}
    assert "precision.toml, 2026-08-31" in json.dumps(checked.record.document["requirements"][0]["stated_uncertainty"])


def test_more_scatter_in_the_file_never_makes_a_pass(taken, make_batch):
    outcomes = []
    for size in ("0.01", "0.03", "0.09"):
        spec = read_specification(taken(PRECISION.replace("relative = 0.03", f"relative = {size}"), replaced={"loads = 2": "loads = 9"}))
        outcomes.append(check_batch(make_batch((3.8,) * 9), spec).disposition)
    assert outcomes[0] == "release"
    assert outcomes == sorted(outcomes, key=["release", "hold"].index)


def test_a_specification_without_one_is_as_before(write_specification, make_batch):
    spec = read_specification(write_specification())
    assert spec.precision is None
    assert check_batch(make_batch(), spec).record.document["specification"]["precision"] is None


@pytest.mark.parametrize(
    ("options", "message", "line"),
    [
        ({"named": ""}, r"the specification names no precision file; write for example precision = \"precision\.toml\"", 23),
        ({"precision": None}, r"specification, precision: 'precision\.toml' is not there; put the precision file beside", 5),
        ({"named": 'precision = "../precision.toml"\n'}, r"is no file beside the specification", 5),
        ({"named": 'precision = "/precision.toml"\n'}, r"is no file beside the specification", 5),
        (
            {"replaced": {'"100 1/s" }': '"10 1/s" }'}},
            r"precision\.toml states nothing for viscosity_at_rate \(loop, down, shear_rate 10\.00 1/s\); add a \[\[precision\]\]",
            24,
        ),
        ({"replaced": {'step = "down"': 'step = "up"'}}, r"states nothing for viscosity_at_rate \(loop, up", 24),
        ({"says": '"from my head"'}, r"repeatability: input should be 'from precision file', not 'from my head'", 24),
        ({"says": "{ relativ = 0.1 }"}, r"requirement 1, repeatability, relativ: unknown key 'relativ'; did you mean 'relative'\?", 24),
    ],
)
def test_what_a_specification_may_not_ask_of_it(taken, options, message, line):
    with pytest.raises(SpecificationError, match=message) as refused:
        read_specification(taken(**options))
    assert refused.value.line == line


@pytest.mark.parametrize(
    ("old", "new", "message", "line"),
    [
        ("degrees_of_freedom = 19", "degree_of_freedom = 19", r"unknown key 'degree_of_freedom'; did you mean 'degrees_of_freedom'\?", 8),
        (", degrees_of_freedom = 19", "", r"repeatability, degrees_of_freedom: the key 'degrees_of_freedom' is missing", 8),
        ('source = "ten', 'sorce = "ten', r"unknown key 'sorce'; did you mean 'source'\?", 16),
        ('"ten fillings of one pycnometer"', '" "', r"precision 2, source: the source is empty", 16),
        ("date = 2026-07-02", 'date = "July"', r"precision 2, date: .*date", 17),
        ('step = "down"\n', "", r"precision 1 \(viscosity_at_rate\) needs the key 'step'", 3),
        ('"6000 1/min"', '"6000 Pa"', r"'Pa' is not a unit of shear rate", 7),
        ('"0.004 g/cm³"', '"0.004"', r"no unit is given", 15),
        ('absolute = "0.004 g/cm³", ', "", r"a repeatability is either relative or absolute", 15),
        ('characteristic = "density"', 'characteristic = "densty"', r"did you mean 'density'\?", 14),
        ("format = 1", "format = 2", r"less than or equal to 1, not 2", 1),
    ],
)
def test_a_precision_file_that_does_not_stand_is_refused_with_its_place(write_specification, old, new, message, line):
    assert old in PRECISION
    with pytest.raises(SpecificationError, match=message) as refused:
        read_precision_file(write_specification(PRECISION.replace(old, new), "precision.toml"))
    assert refused.value.line == line
    assert "precision.toml" in str(refused.value)


def test_what_stands_twice_or_not_at_all_is_refused(write_specification):
    twice = PRECISION + PRECISION[PRECISION.index("[[precision]]") :].split("\n\n", maxsplit=1)[0]
    with pytest.raises(SpecificationError, match=r"viscosity_at_rate \(loop, down, shear_rate 100\.0 1/s\) stands twice; keep the study"):
        read_precision_file(write_specification(twice, "precision.toml"))
    with pytest.raises(SpecificationError, match=r"there is no \[\[precision\]\]; a precision file without one says nothing"):
        read_precision_file(write_specification("format = 1\n", "precision.toml"))


def study(**changes):
    settings = {"name": "viscosity_at_rate", "unit": "Pa·s"} | changes
    return repeatability_and_reproducibility({"day 1": [3.7, 3.8, 3.75], "day 2": [3.9, 3.85], "day 3": [3.6, 3.7]}, **settings)


def test_what_a_study_writes_is_read_back_to_the_last_digit(tmp_path):
    entry = precision_entry(study(), source='days "1 to 3"', date=DAY, test="loop", step="down", at={"shear_rate": 100.0})
    absolute = precision_entry(study(), source="the same", date=DAY, test="loop", step=4, at={"shear_rate": 0.1}, relative=False)
    index = PrecisionEntry(
        characteristic="shear_thinning_index", test="loop", step="down", at={"shear_rates": (10.0, 100.0)},
        repeatability=StatedUncertainty(relative=0.01, degrees_of_freedom=3.0), source="x", date=DAY,
    )  # fmt: skip
    path = write_precision_file(tmp_path / "ours.toml", (entry, absolute, index))
    assert read_precision_file(path).entries == (entry, absolute, index)
    # Exact: 4 degrees of freedom inside three days of seven loads.
    assert entry.repeatability.degrees_of_freedom == 4.0
    assert 'precision = "ours.toml"' in path.read_text(encoding="utf-8")


def test_a_study_feeds_a_specification(taken, tmp_path):
    path = taken(precision=None)
    entry = precision_entry(study(), source="three days", date=DAY, test="loop", step="down", at={"shear_rate": 100.0})
    write_precision_file(tmp_path / "precision.toml", (entry,))
    assert read_specification(path).requirements[0].repeatability == entry.repeatability


def test_a_file_that_is_there_is_not_replaced(tmp_path):
    entry = precision_entry(study(), source="x", date=DAY, test="loop", step="down", at={"shear_rate": 100.0})
    path = write_precision_file(tmp_path / "precision.toml", (entry,))
    with pytest.raises(OutputError, match="is there already and is not replaced"):
        write_precision_file(path, (entry,))
    with pytest.raises(OutputError, match="cannot be written"):
        write_precision_file(tmp_path / "none" / "precision.toml", (entry,))


def test_what_could_not_be_read_back_is_not_written(tmp_path):
    bare = precision_entry(study(), source="x", date=DAY, test="loop", step="down")
    with pytest.raises(SpecificationError, match="needs the condition 'shear_rate'"):
        write_precision_file(tmp_path / "precision.toml", (bare,))
    endless = PrecisionEntry(characteristic="density", repeatability=StatedUncertainty(relative=0.1), source="x", date=DAY)
    with pytest.raises(FitError, match="has its degrees of freedom"):
        precision_text((endless,))
    assert list(tmp_path.iterdir()) == []


def test_a_study_of_something_else_makes_no_entry():
    with pytest.raises(ComparisonError, match=r"'colour' is no characteristic; they are viscosity_at_rate"):
        precision_entry(study(name="colour"), source="x", date=DAY)
    with pytest.raises(ComparisonError, match=r"is in mPa·s, not in Pa·s; convert"):
        precision_entry(study(unit="mPa·s"), source="x", date=DAY)


def test_an_empty_search_finds_nothing():
    held = PrecisionFile(name="p.toml", sha256="0" * 64, entries=())
    assert held.find("density", "", None, {}) is None
