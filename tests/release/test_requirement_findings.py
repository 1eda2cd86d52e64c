"""Age at test, loop areas that cannot be compared, and revisions not yet in force."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from rheokit.base.errors import SpecificationError
from rheokit.release.check import check_batch
from rheokit.release.measured import age_on
from rheokit.release.specification_file import read_specification

KNOWN = "repeatability = { relative = 0.02, degrees_of_freedom = 24 }\n"
LOOP = """
[[requirement]]
id = "loop-area"
characteristic = "loop_area"
test = "loop"
lower = "1 Pa/s"
upper = "1e6 Pa/s"
repeatability = { relative = 0.02, degrees_of_freedom = 24 }
"""
REVISION = 'revision = "A"\n'


@pytest.fixture
def check(write_specification, specification_text):
    def run(batch, text=specification_text, **options):
        return check_batch(batch, read_specification(write_specification(text)), **options)

    return run


# The runs of the batch were measured on 2026-09-15 at 08:40 UTC.
@pytest.mark.parametrize(
    ("made", "age", "words"),
    [
        ("2026-09-14", "1 d to 7 d", ""),
        ("2026-09-08", "1 d to 7 d", ""),
        ("2026-09-07", "1 d to 7 d", "loop_load1.csv was measured at 8 d: measure at the right age"),
        ("2026-09-15", "1 d to 7 d", "was measured at 0 s"),
        ("2026-09-16", "at most 7 d", "was measured before the batch was made"),
        ("2026-09-15T04:40:00+00:00", "4 h to 2 d", ""),
        ("2026-09-15T05:40:00+00:00", "4 h to 2 d", "was measured at 3 h"),
        ("2026-09-14", "4 h to 2 d", "batch.toml gives only the day on which the batch was made"),
        ("last week", "1 d to 7 d", "'last week' in batch.toml is no day on which the batch was made"),
        (None, "1 d to 7 d", "batch.toml does not say when the batch was made: add 'made'"),
    ],
)
def test_limits_that_apply_at_an_age_say_nothing_at_another(check, make_batch, specification_text, made, age, words):
    own = specification_text.replace(KNOWN, f'{KNOWN}age = "{age}"\n')
    general = specification_text.replace(REVISION, f'{REVISION}age = "{age}"\n')
    for text in (own, general):
        for viscosity in (3.8, 9.0):  # neither a pass nor a fail
            checked = check(make_batch((viscosity, viscosity), metadata={"made": made} if made else {}), text)
            (decision,) = checked.decisions
            assert (decision.outcome == "no measurement") is bool(words)
            assert words in decision.reason
            assert checked.record.document["requirements"][0]["limits"] == f"3.4 Pa·s to 4.2 Pa·s, at an age of {age}"


def test_a_run_that_does_not_say_when_it_was_measured_has_no_age(check, make_batch, make_loop_run, specification_text):
    text = specification_text.replace(KNOWN, f'{KNOWN}age = "1 d to 7 d"\n')
    runs = (make_loop_run(1, 380.0), make_loop_run(2, 380.0, metadata={"Measured": ""}))
    checked = check(make_batch(runs=runs, metadata={"made": "2026-09-14"}), text)
    assert "loop_load2.csv does not say when it was measured" in checked.decisions[0].reason


def test_an_entered_result_has_the_age_of_its_own_time(check, make_batch, make_entered, specification_text):
    text = specification_text + (
        '[[requirement]]\nid = "density"\ncharacteristic = "density"\nlower = "1.10 g/cm³"\nupper = "1.20 g/cm³"\nage = "1 d to 7 d"\n'
    )
    for day, outcome in (("15", "conforming"), ("25", "no measurement")):
        result = make_entered("density", 1152.0, "kg/m³", 3.0, time=f"2026-09-{day}T08:10:00+00:00")
        checked = check(make_batch(results=(result,), metadata={"made": "2026-09-14"}), text)
        assert [decision.outcome for decision in checked.decisions] == ["conforming", outcome]


def test_an_age_finding_names_its_requirement_and_bears_on_no_other(check, make_batch, specification_text):
    text = specification_text.replace(KNOWN, f'{KNOWN}age = "1 d to 7 d"\n') + LOOP
    checked = check(make_batch(metadata={"made": "2026-01-01"}), text)
    assert {finding.source for finding in checked.findings if finding.check == "age"} == {"viscosity-100"}
    assert [decision.outcome for decision in checked.decisions] == ["no measurement", "conforming"]


@pytest.mark.parametrize(("age", "message"), [("a week", "is no span of time"), ("7 d to 1 d", "from a shorter to a longer one")])
def test_an_age_that_is_none_is_refused(write_specification, specification_text, age, message):
    with pytest.raises(SpecificationError, match=f"line 24, requirement 1, age: .*{message}"):
        read_specification(write_specification(specification_text.replace(KNOWN, f'{KNOWN}age = "{age}"\n')))


def test_a_day_is_counted_where_the_run_was_measured():
    late = datetime(2026, 9, 15, 23, 30, tzinfo=timezone(timedelta(hours=2)))
    assert str(age_on("2026-09-14", late)) == "1 d"
    assert str(age_on("2026-09-14T21:30:00+00:00", late.astimezone(UTC))) == "1 d"
    assert age_on("2026-09-14T21:30:00", late).in_whole_days  # a time without its zone is only a day
    assert age_on("soon", late) is None


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("", "", ""),
        ('rest = "300 s"\n', "", "the method block states no rest"),
        ('ramp = "0 to 100 1/s in 120 s"\n', "", "the method block states no ramp"),
        ('[method.loop]\ngeometry = "cone-plate"', '[method.other]\ngeometry = "cone-plate"', "states no ramp and no rest"),
    ],
)
def test_a_loop_area_needs_ramp_and_rest_stated(check, make_batch, specification_text, old, new, words):
    checked = check(make_batch(), specification_text.replace(old, new) + LOOP)
    found = [finding for finding in checked.findings if finding.check == "loop_area_comparable"]
    assert [finding.source for finding in found] == (["loop-area"] if words else [])
    assert all(words in finding.reason and finding.severity == "caution" for finding in found)
    assert checked.disposition == "release"


def test_a_loop_area_needs_all_of_its_method_shown(check, make_batch, specification_text):
    (finding,) = (seen for seen in check(make_batch(geometry=None), specification_text + LOOP).findings if seen.source == "loop-area")
    assert "do not show that the method was followed (geometry)" in finding.reason


@pytest.mark.parametrize(
    ("effective", "words"),
    [
        ("2026-09-15", ""),
        ("2026-09-16", "the batch was measured on 2026-09-15, when revision 0 was in force"),
        ("2026-09-01", ""),
    ],
)
def test_a_batch_from_before_the_revision_is_a_caution(check, make_batch, specification_text, effective, words):
    text = specification_text.replace(REVISION, f'{REVISION}effective = {effective}\nsupersedes = "0"\n')
    checked = check(make_batch(), text)
    found = [finding for finding in checked.findings if finding.check == "revision"]
    assert [finding.severity for finding in found] == (["caution"] if words else [])
    assert all(words in finding.reason for finding in found)
    assert checked.disposition == "release"
    head = checked.record.document["specification"]
    assert (head["revision"], head["effective"], head["supersedes"]) == ("A", effective, "0")


def test_when_nothing_says_when_it_was_measured_the_revision_is_confirmed_by_hand(check, make_batch, make_loop_run, specification_text):
    runs = tuple(make_loop_run(load, 380.0, metadata={"Measured": ""}) for load in (1, 2))
    checked = check(make_batch(runs=runs), specification_text.replace(REVISION, f"{REVISION}effective = 2026-09-01\n"))
    (finding,) = (seen for seen in checked.findings if seen.check == "revision")
    assert "confirm by hand" in finding.reason


def test_the_passport_and_the_age_stand_on_the_record(check, make_batch):
    passport = {"sample": "S-1", "retained_sample": "R-1", "made": "2026-09-14", "operator": "technician 2"}
    batch = make_batch(metadata=passport)
    held = check(batch).record.document["batch"]
    assert held["passport"] == passport
    assert (held["age_at_test"]["shown"], held["age_at_test"]["youngest"]) == ("1 d", 86_400.0)
    assert check(replace(batch, metadata={})).record.document["batch"]["age_at_test"] is None
