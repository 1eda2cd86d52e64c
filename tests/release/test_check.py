"""The whole check on batches whose numbers are exact by construction."""

from datetime import UTC, datetime

import pytest

from rheokit.base.finding import Finding
from rheokit.release.check import check_batch
from rheokit.release.specification import read_specification

CHECK_OIL = '[check_oil]\ncertified = "1.020 Pa·s"\ntolerance = "2 %"\nvalid_for = "7 d"\nexpires = 2027-06-30\n'
DENSITY = '[[requirement]]\nid = "density"\ncharacteristic = "density"\nlower = "1.10 g/cm³"\nupper = "1.20 g/cm³"\n'


@pytest.fixture
def check(write_specification, specification_text):
    def run(batch, text=specification_text, **options):
        return check_batch(batch, read_specification(write_specification(text)), **options)

    return run


def test_a_good_batch_is_released_on_the_mean_of_its_loads(check, make_batch):
    checked = check(make_batch((3.75, 3.85)))
    assert checked.disposition == "release"
    estimate = checked.decisions[0].estimate
    assert estimate.value == pytest.approx(3.8, rel=1e-12)  # exact: both legs are power laws
    assert estimate.standard_error == pytest.approx(0.02 * 3.8 / 2**0.5, rel=1e-12)
    assert estimate.degrees_of_freedom == 24
    assert [source.run for source in estimate.sources] == ["loop_load1.csv", "loop_load2.csv"]


def test_stress_times_1_3_is_rejected(check, make_batch):
    checked = check(make_batch((3.75 * 1.3, 3.85 * 1.3)))
    assert (checked.disposition, checked.reason) == ("reject", "not conforming: viscosity-100")


def test_near_a_limit_holds(check, make_batch):
    assert check(make_batch((4.17, 4.17))).disposition == "hold"


def test_a_missing_load_holds(check, make_batch):
    checked = check(make_batch((3.8,)))
    assert checked.disposition == "hold"
    assert checked.decisions[0].reason == "1 of 2 loads of the test 'loop' are there; measure the missing one"


def test_loads_beyond_the_critical_range_hold(check, make_batch):
    # s_r = 2 % of 3.8; 2.8 s_r = 0.2128. Exact by construction: a range of 0.22 is beyond, one of 0.20 is not.
    apart = check(make_batch((3.69, 3.91)))
    assert apart.disposition == "hold"
    assert any(finding.check == "critical_range" for finding in apart.findings)
    assert "2.8 times the repeatability" in apart.decisions[0].reason
    assert check(make_batch((3.70, 3.90))).disposition == "release"


def test_more_loads_narrow_the_error(check, make_batch):
    assert check(make_batch((3.8,) * 4)).decisions[0].estimate.standard_error == pytest.approx(0.02 * 3.8 / 2)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"geometry": "parallel plates"}, "method: geometry was parallel plates"),
        ({"temperature": 298.15}, "method: temperature was 25.00 °C"),
        ({"pre_shear": 50.0}, "method: pre-shear was 50"),
        ({"rest": 100.0}, "method: rest was 100"),
        ({"duration": 60.0}, "method: ramp was"),
        ({"top": 50.0}, "outside the measured|method: ramp was"),
        ({"reference_ratio": 0.8}, "sample was lost"),
        ({"reference_ratio": 1.2}, "the sample dried"),
    ],
)
def test_what_was_not_measured_by_the_method_is_no_measurement(check, make_batch, changes, words):
    checked = check(make_batch(**changes))
    assert checked.disposition == "hold"
    assert checked.decisions[0].outcome == "no measurement"
    assert any(part in checked.decisions[0].reason for part in words.split("|"))


def test_a_geometry_that_is_not_said_is_a_caution(check, make_batch):
    checked = check(make_batch(geometry=None))
    assert checked.disposition == "release"
    assert {finding.severity for finding in checked.findings if finding.check == "method_geometry"} == {"caution"}


def test_a_step_that_is_not_there_is_no_measurement(check, make_batch, specification_text):
    checked = check(make_batch(), specification_text.replace('step = "down"', 'step = "steady"'))
    assert checked.disposition == "hold"
    assert "has no step 'steady'; its steps are 1 shear, 2 rest" in checked.decisions[0].reason


def test_no_repeatability_is_at_most_a_hold(check, make_batch, specification_text):
    text = specification_text.replace("repeatability = { relative = 0.02, degrees_of_freedom = 24 }\n", "")
    for viscosity in (3.8, 9.0):
        assert check(make_batch((viscosity, viscosity)), text).disposition == "hold"


def test_entered_results_are_judged_like_measured_ones(check, make_batch, make_entered, specification_text):
    text = specification_text + DENSITY
    for value, disposition in ((1152.0, "release"), (1215.0, "reject"), (1201.0, "hold")):
        assert check(make_batch(results=(make_entered("density", value, "kg/m³", 3.0),)), text).disposition == disposition
    assert check(make_batch(), text).disposition == "hold"
    assert check(make_batch(results=(make_entered("density", 1152.0, "kg/m³"),)), text).disposition == "hold"


@pytest.mark.parametrize(
    ("reading", "time", "words"),
    [
        (1.061, "2026-09-15T08:10:00+00:00", "reads 1.061 Pa·s, more than"),
        (1.020, "2026-09-01T08:10:00+00:00", "days before the runs; the specification allows 7"),
        (1.020, "2026-09-17T08:10:00+00:00", "more than a day after the runs"),
        (1.020, "2027-07-01T08:10:00+00:00", "certificate expired on 2027-06-30"),
        (None, "", "no check-oil reading is entered"),
    ],
)
def test_a_check_oil_that_does_not_stand_undoes_every_measurement(
    check, make_batch, make_entered, specification_text, reading, time, words
):
    text = specification_text.replace("[method.loop]", CHECK_OIL + "[method.loop]")
    results = () if reading is None else (make_entered("check_oil_viscosity", reading, "Pa·s", 0.004, time),)
    for viscosity in (3.8, 9.0):  # neither a pass nor a fail
        checked = check(make_batch((viscosity, viscosity), results=results), text)
        assert checked.disposition == "hold"
        assert {decision.outcome for decision in checked.decisions} == {"no measurement"}
        assert words in checked.decisions[0].reason


def test_a_good_check_oil_lets_a_batch_pass(check, make_batch, make_entered, specification_text):
    text = specification_text.replace("[method.loop]", CHECK_OIL + "[method.loop]")
    for reading in (1.0, 1.0404, 1.023):  # the tolerance is 0.0204
        results = (make_entered("check_oil_viscosity", reading, "Pa·s", 0.004),)
        assert check(make_batch(results=results), text).disposition == "release"


def test_another_product_holds(check, make_batch):
    assert check(make_batch(metadata={"product": "paste"})).disposition == "release"
    checked = check(make_batch(metadata={"product": "another paste"}))
    assert checked.disposition == "hold"
    assert "use the right specification" in checked.reason


def test_an_invalid_finding_of_the_batch_holds_a_release_but_not_a_reject(check, make_batch):
    bad = Finding(check="unreadable_export", severity="invalid", reason="x.csv: is empty")
    assert check(make_batch(findings=(bad,))).disposition == "hold"
    assert check(make_batch((9.0, 9.0), findings=(bad,))).disposition == "reject"


def test_the_time_of_a_check_needs_a_zone_and_is_kept_in_utc(check, make_batch):
    with pytest.raises(ValueError, match="needs a time zone"):
        check(make_batch(), time=datetime(2026, 9, 15, 9, 0))
    checked = check(make_batch(), time=datetime(2026, 9, 15, 9, 0, tzinfo=UTC), operator="technician 1")
    assert checked.record.document["time"] == "2026-09-15T09:00:00+00:00"
    assert checked.record.document["operator"] == "technician 1"
