"""The whole check on batches whose numbers are exact by construction."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rheokit.base.estimate import Source
from rheokit.base.finding import Finding
from rheokit.release.check import check_batch
from rheokit.release.specification_file import read_specification

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
        ({"geometry": "parallel plates"}, "method: the geometry was parallel plates"),
        ({"temperature": 298.15}, "method: the temperature was 25.00 °C"),
        ({"pre_shear": 50.0}, "method: the pre-shear was 50.0 1/s for 60.0 s"),
        ({"rest": 100.0}, "method: the rest was 100 s"),
        ({"duration": 60.0}, "method: the ramp was"),
        ({"top": 50.0}, "method: the ramp was 0.833 to 50.0 1/s"),
        ({"without": (1,)}, "method: the pre-shear was not there"),
        ({"without": (2,)}, "method: the rest was not there"),
        ({"without": (1, 2)}, "method: the pre-shear was not there"),
        ({"reference_ratio": 0.8}, "sample was lost"),
        ({"reference_ratio": 1.2}, "the sample dried"),
    ],
)
def test_what_was_not_measured_by_the_method_is_no_measurement(check, make_batch, changes, words):
    checked = check(make_batch(**changes))
    assert checked.disposition == "hold"
    assert checked.decisions[0].outcome == "no measurement"
    assert words in checked.decisions[0].reason


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
        for apart in (0.0, 0.001):  # equal ones show no scatter at all
            checked = check(make_batch((viscosity, viscosity + apart)), text)
            assert checked.disposition == "hold"
        assert "the repeatability of loads is not known" in checked.decisions[0].reason


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
        (0.980, "2026-09-15T08:10:00+00:00", "reads 0.9800 Pa·s, more than"),
        (1.020, "2026-09-08T08:39:00+00:00", "days before a run; the specification allows 7"),
        (1.020, "2026-09-15T08:41:00+00:00", "no check-oil reading was taken before the run"),
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


@pytest.mark.parametrize(
    ("readings", "disposition"),
    [
        ([(1.061, "2026-09-15T08:00:00+00:00"), (1.020, "2026-09-15T20:00:00+00:00")], "hold"),  # good only afterwards
        ([(1.061, "2026-09-15T07:00:00+00:00"), (1.020, "2026-09-15T08:00:00+00:00")], "release"),  # put right before the run
        ([(1.020, "2026-09-15T08:00:00+00:00"), (1.020, "2026-09-20T08:00:00+00:00")], "release"),  # and read again later
    ],
)
def test_the_last_reading_before_a_run_counts(check, make_batch, make_entered, specification_text, readings, disposition):
    text = specification_text.replace("[method.loop]", CHECK_OIL + "[method.loop]")
    results = tuple(make_entered("check_oil_viscosity", value, "Pa·s", 0.004, time) for value, time in readings)
    assert check(make_batch(results=results), text).disposition == disposition


@pytest.mark.parametrize(
    ("measured", "words"),
    [
        ("", "does not say when it was measured"),
        ("2026-09-15T08:40:00", "with its time zone"),
        ("2027-07-01T08:40:00+00:00", "certificate expired on 2027-06-30"),
    ],
)
def test_every_run_needs_a_check_oil_that_stands(check, make_batch, make_loop_run, make_entered, specification_text, measured, words):
    text = specification_text.replace("[method.loop]", CHECK_OIL + "[method.loop]").replace('"7 d"', '"365 d"')
    results = (make_entered("check_oil_viscosity", 1.02, "Pa·s", 0.004),)
    runs = (make_loop_run(1, 380.0), make_loop_run(2, 380.0, metadata={"Measured": measured}))
    checked = check(make_batch(runs=runs, results=results), text)
    assert checked.disposition == "hold"
    assert words in checked.decisions[0].reason


def test_the_certificate_holds_on_its_last_day(check, make_batch, make_loop_run, make_entered, specification_text):
    text = specification_text.replace("[method.loop]", CHECK_OIL.replace("2027-06-30", "2026-09-15") + "[method.loop]")
    assert check(make_batch(results=(make_entered("check_oil_viscosity", 1.02, "Pa·s", 0.004),)), text).disposition == "release"


def test_another_product_holds(check, make_batch):
    assert check(make_batch(metadata={"product": "paste"})).disposition == "release"
    for viscosity in (3.8, 9.0):
        checked = check(make_batch((viscosity, viscosity), metadata={"product": "another paste"}))
        assert checked.disposition == "hold"
        assert "use the right specification" in checked.decisions[0].reason


def test_one_export_of_another_product_holds(check, make_batch, make_loop_run):
    runs = (make_loop_run(1, 380.0), make_loop_run(2, 380.0, metadata={"Product": "orange marker ink"}))
    assert check(make_batch(runs=runs)).disposition == "hold"


def test_a_product_that_nothing_names_is_a_caution(check, make_batch, make_loop_run):
    checked = check(make_batch(runs=tuple(make_loop_run(load, 380.0, metadata={"Product": ""}) for load in (1, 2))))
    assert checked.disposition == "release"
    assert [finding.severity for finding in checked.findings if finding.check == "product"] == ["caution"]


def test_an_invalid_finding_of_the_batch_holds_a_release_but_not_a_reject(check, make_batch):
    bad = Finding(check="unreadable_export", severity="invalid", reason="x.csv: is empty")
    assert check(make_batch(findings=(bad,))).disposition == "hold"
    assert check(make_batch((9.0, 9.0), findings=(bad,))).disposition == "reject"


@pytest.mark.parametrize("viscosity", [3.8, 9.0])
def test_what_bears_on_a_run_is_neither_a_pass_nor_a_fail(check, make_batch, viscosity):
    mixed = Finding(check="contradiction", severity="invalid", reason="of another batch", source="loop_load2.csv")
    checked = check(make_batch((viscosity, viscosity), findings=(mixed,)))
    assert (checked.disposition, checked.decisions[0].outcome) == ("hold", "no measurement")


def test_one_load_copied_as_two_is_no_measurement(check, make_batch, make_loop_run):
    first = make_loop_run(1, 380.0)
    second = replace(first, name="loop_load2.csv", source=Source(sha256="f" * 64, run="loop_load2.csv"))
    checked = check(make_batch(runs=(first, second)))
    assert checked.disposition == "hold"
    assert "one load counted twice" in checked.decisions[0].reason


def test_a_drift_of_temperature_does_not_average_out(check, make_batch, make_loop_run):
    def drifting(run):
        steps = tuple(replace(step, columns={**step.columns, "temperature": np.linspace(294.15, 298.15, len(step))}) for step in run.steps)
        return replace(run, steps=steps)

    checked = check(make_batch(runs=tuple(drifting(make_loop_run(load, 380.0)) for load in (1, 2))))
    assert checked.decisions[0].outcome == "no measurement"
    assert "method: the temperature was" in checked.decisions[0].reason


def test_a_temperature_that_is_asked_for_and_not_shown_is_no_measurement(check, make_batch, make_loop_run):
    def bare(run):
        steps = tuple(
            replace(step, columns={name: held for name, held in step.columns.items() if name != "temperature"}) for step in run.steps
        )
        return replace(run, steps=steps)

    checked = check(make_batch(runs=tuple(bare(make_loop_run(load, 380.0)) for load in (1, 2))))
    assert checked.disposition == "hold"
    assert "does not show the temperature" in checked.decisions[0].reason


def test_a_set_temperature_that_is_another_is_no_measurement(check, make_batch):
    batch = make_batch()
    places = {name: replace(place, set_temperature=313.15) for name, place in batch.places.items()}
    checked = check(replace(batch, places=places))
    assert "the set temperature was 40.00 °C" in checked.decisions[0].reason


def test_a_reference_load_is_not_judged(check, make_batch, make_loop_run):
    runs = (make_loop_run(1, 380.0), make_loop_run(2, 381.0), make_loop_run(3, 900.0))
    batch = make_batch(runs=runs)
    places = {**batch.places, "loop_load3.csv": replace(batch.places["loop_load3.csv"], role="reference")}
    checked = check(replace(batch, places=places))
    assert checked.disposition == "release"
    assert checked.decisions[0].estimate.value == pytest.approx(3.805)


@pytest.mark.parametrize(
    ("values", "disposition"),
    [([1152.0, 1153.0], "release"), ([1050.0, 1250.0], "hold"), ([1152.0, 1152.0], "hold")],
    ids=["agree", "disagree", "one row twice"],
)
def test_entered_results_must_agree(check, make_batch, make_entered, specification_text, values, disposition):
    results = tuple(make_entered("density", value, "kg/m³", 3.0) for value in values)
    assert check(make_batch(results=results), specification_text + DENSITY).disposition == disposition


def test_more_than_ten_loads_are_not_a_measurement(check, make_batch):
    checked = check(make_batch((3.8,) * 11))
    assert checked.disposition == "hold"
    assert "a critical range is known for at most 10" in checked.decisions[0].reason


def test_a_specification_of_the_hold_is_held_to(check, make_batch, specification_text):
    text = specification_text.replace("loads = 2", 'hold = "100 1/s for 30 s"\nloads = 2')
    assert "the hold was not there" in check(make_batch(), text).decisions[0].reason


def test_the_time_of_a_check_needs_a_zone_and_is_kept_in_utc(check, make_batch):
    with pytest.raises(ValueError, match="needs a time zone"):
        check(make_batch(), time=datetime(2026, 9, 15, 9, 0))
    checked = check(make_batch(), time=datetime(2026, 9, 15, 9, 0, tzinfo=UTC), operator="technician 1")
    assert checked.record.document["time"] == "2026-09-15T09:00:00+00:00"
    assert checked.record.document["operator"] == "technician 1"


OTHERS = {
    "a typed-in result that is missing": DENSITY,
    "a test that is missing": '[[requirement]]\nid = "other"\ncharacteristic = "loop_area"\ntest = "other"\nlower = "1 Pa/s"\n',
    "a step that is missing": (
        '[[requirement]]\nid = "step"\ncharacteristic = "stress_at_rate"\ntest = "loop"\nstep = "creep"\n'
        'at = { shear_rate = "10 1/s" }\nlower = "1 Pa"\n'
    ),
    "a repeatability that is not known": (
        '[[requirement]]\nid = "loose"\ncharacteristic = "stress_at_rate"\ntest = "loop"\nstep = "down"\n'
        'at = { shear_rate = "10 1/s" }\nlower = "1 Pa"\n'
    ),
    "an age that is not known": f'{DENSITY.replace("density", "density-2", 1)}age = "1 d to 7 d"\n',
}


@given(which=st.sets(st.sampled_from(sorted(OTHERS))), first=st.booleans(), fails=st.booleans())
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_measured_fault_rejects_whatever_else_is_missing(check, make_batch, specification_text, which, first, fails):
    head, line = specification_text.split("[[requirement]]")
    lines = [f"[[requirement]]{line}", *(OTHERS[name] for name in sorted(which))]
    checked = check(make_batch((9.0, 9.0) if fails else (3.8, 3.8)), head + "\n".join(lines if first else lines[::-1]))
    assert checked.disposition == ("reject" if fails else "hold" if which else "release")


def test_the_budget_stands_on_the_record(check, make_batch, specification_text):
    known = "repeatability = { relative = 0.02, degrees_of_freedom = 24 }\n"
    text = specification_text.replace(
        known, f'{known}day = {{ relative = 0.01, degrees_of_freedom = 12 }}\ncalibration = {{ absolute = "20 mPa·s" }}\n'
    )
    line = check(make_batch(), text).record.document["requirements"][0]
    assert line["estimate"]["components"] == pytest.approx({"load": 0.076 / 2**0.5, "day": 0.038, "calibration": 0.02}, rel=1e-12)
    assert line["stated_uncertainty"]["day"] == {"relative": 0.01, "absolute": None, "degrees_of_freedom": 12.0, "shown": "1 % (12 d.f.)"}
    known = {"relative": None, "absolute": 0.02, "degrees_of_freedom": "infinite", "shown": "0.02 Pa·s"}
    assert line["stated_uncertainty"]["calibration"] == known
    assert line["shown"]["components"] == {"load": "0.054", "day": "0.038", "calibration": "0.020"}


@pytest.mark.parametrize("rule", ['"probability", conforming = 0.95', '"guard", factor = 1.0', '"simple"'])
@pytest.mark.parametrize("viscosity", [3.5, 3.6, 3.8, 4.0, 4.1, 4.2, 4.3, 5.0])
def test_a_further_part_of_uncertainty_never_makes_a_pass(check, make_batch, specification_text, rule, viscosity):
    known = "repeatability = { relative = 0.02, degrees_of_freedom = 24 }\n"
    ruled = specification_text.replace('"probability", conforming = 0.95', rule)
    plain, wider = (
        check(make_batch((viscosity, viscosity)), ruled.replace(known, known + more)).disposition
        for more in ("", "day = { relative = 0.02, degrees_of_freedom = 5 }\n")
    )
    assert plain == "release" or wider != "release"
