"""Each check sees its fault and keeps silent without it."""

import numpy as np
import pytest
from screening.made_runs import CONE, run, step, with_preamble

from rheokit.base.errors import RangeError
from rheokit.base.finding import SEVERITIES, Finding
from rheokit.base.run import STEP_KINDS, Step
from rheokit.base.units import parse_unit
from rheokit.geometry import read_geometry
from rheokit.screening import ALL_CHECKS, CHECKS, Known, known_of, screen, screening_table, unseen

RATES = np.linspace(1, 100, 40)
GOOD_DOWN = step(3, "down", RATES[::-1], 38 * RATES[::-1] ** 0.5)


def conditioning(number, level, rate=100.0):
    """Return a thixotropic fall to a level: the first points are high, the last third is level."""
    return step(number, "shear", rate, level * (1 + 0.3 * np.exp(-np.arange(30) / 4)))


def names(findings, severity=None):
    return [finding.check for finding in findings if severity in {None, finding.severity}]


def test_a_good_rested_gel_raises_nothing():
    overshoot = 38 * RATES**0.5 * (1 + 2.0 * np.exp(-RATES / 10))  # the up leg falls at first: structure, no fault
    good = run(conditioning(1, 380), step(2, "up", RATES, overshoot), GOOD_DOWN, conditioning(4, 381))
    assert screen(good) == ()


@pytest.mark.parametrize(("level", "word"), [(300.0, "sample was lost"), (440.0, "the sample dried")])
def test_a_lasting_change_at_the_repeated_point_is_invalid(level, word):
    (finding,) = screen(run(conditioning(1, 380.0), GOOD_DOWN, conditioning(4, level)))
    assert (finding.check, finding.severity, finding.rows) == ("reference_point", "invalid", (40, 49))
    assert finding.value == pytest.approx(level / 380.0 - 1.0, rel=1e-6)
    assert word in finding.reason
    assert "steps 1 and 4 shear at the same 100 1/s" in str(finding)


@pytest.mark.parametrize("level", [380.0 * 0.951, 380.0 * 1.049])
def test_a_change_inside_the_limit_is_not(level):
    assert names(screen(run(conditioning(1, 380.0), conditioning(4, level)))) == []


def test_only_the_settled_last_third_is_compared():
    # The first conditioning begins high, as a rested gel does; its last third is level.
    high = step(1, "shear", 100.0, np.r_[np.full(20, 900.0), np.full(10, 380.0)])
    assert names(screen(run(high, step(2, "shear", 100.0, np.full(30, 380.0))))) == []


def test_rates_two_per_cent_apart_are_the_same_and_five_are_not():
    near, far = (step(2, "shear", rate, np.full(30, 200.0)) for rate in (101.5, 105.0))
    first = step(1, "shear", 100.0, np.full(30, 380.0))
    assert names(screen(run(first, near))) == ["reference_point"]
    assert names(screen(run(first, far))) == []


def test_what_was_seen_in_a_step_is_passed_on_with_its_step():
    odd = Finding(check="step_kind", severity="caution", reason="less than a decade")
    told = Step(number=3, kind="down", controlled="rate", columns=dict(GOOD_DOWN.columns), findings=(odd,))
    assert [finding.source for finding in screen(run(told))] == ["r.csv, step 3"]


def test_steps_at_other_rates_are_not_compared():
    assert names(screen(run(conditioning(1, 380.0), conditioning(2, 10.0, rate=0.5)))) == []


@pytest.mark.parametrize(("lost", "severity"), [(1, "caution"), (8, "caution"), (9, "invalid")])
def test_stress_that_is_not_positive_is_counted(lost, severity):
    stresses = 38 * RATES**0.5
    stresses[:lost] = -0.1
    found = screen(run(step(1, "up", RATES, stresses)))
    assert names(found, severity) == ["stress_sign"]
    assert f"{lost} of 40 sheared points" in str(found[0])


@pytest.mark.parametrize(("missing", "severity"), [(1, "caution"), (9, "invalid")])
def test_missing_values_are_counted(missing, severity):
    stresses = 38 * RATES**0.5
    stresses[-missing:] = np.nan
    assert names(screen(run(step(1, "up", RATES, stresses))), severity) == ["missing_values"]


@pytest.mark.parametrize(("noise", "found"), [(0.01, []), (0.15, ["point_scatter"])])
def test_scatter_beyond_the_limit_is_a_caution(noise, found):
    stresses = 38 * RATES**0.5 * np.exp(noise * np.random.default_rng(1).standard_normal(40))
    assert names(screen(run(step(1, "down", RATES[::-1], stresses[::-1]))), "caution") == found


def test_temperature_that_moves_or_is_not_there():
    warm = step(1, "shear", 100.0, np.full(30, 380.0), temperature=np.linspace(296.0, 297.0, 30))
    (moved,) = screen(run(warm))
    assert (moved.check, moved.value) == ("temperature_known", pytest.approx(1.0))
    bare = Step(number=1, kind="shear", controlled="rate", columns={"shear_rate": np.full(3, 1.0), "shear_stress": np.full(3, 1.0)})
    assert "no temperature was recorded" in str(screen(run(bare))[0])


def test_what_reading_saw_is_passed_on():
    read = Finding(check="unit_mix_up", severity="invalid", reason="columns disagree")
    assert screen(run(GOOD_DOWN, findings=(read,)))[0].source == "r.csv"


def test_every_check_names_its_limit_and_where_it_comes_from():
    assert len({check.name for check in ALL_CHECKS}) == len(ALL_CHECKS)
    for check in ALL_CHECKS:
        assert check.lowest <= check.limit <= check.highest
        assert check.number
        assert parse_unit(check.unit)
        assert check.kinds
        assert set(check.kinds) <= set(STEP_KINDS)
        assert check.source.startswith(("common practice, no source", "our own setting", "from memory, no source", "ASTM D4287"))


def test_a_ladder_goes_from_mild_to_bad():
    for check in ALL_CHECKS:
        times = [rung.times for rung in check.ladder]
        severities = [SEVERITIES.index(rung.severity) for rung in check.ladder]
        assert times == sorted(times, reverse=check.falling)
        assert severities == sorted(set(severities))


@pytest.mark.parametrize("check", CHECKS, ids=[check.name for check in CHECKS])
def test_an_empty_run_and_one_of_a_single_point_are_looked_at_without_a_word(check):
    for odd in (run(), run(step(1, "up", 1.0, [5.0])), run(step(1, "down", np.nan, [np.nan]))):
        known = Known(geometry=read_geometry(CONE), least_torque=1e-9, inertia=1e-5, density=1e3, largest_particle=1e-6)
        assert [finding.check for finding in check.findings(odd, known) if finding.check != "missing_values"] == []


def test_a_check_speaks_only_of_the_kinds_of_step_that_it_names():
    wild = 100.0 * np.exp(np.random.default_rng(3).normal(0.0, 1.0, 60))
    wild[::7], wild[3::7] = -1.0, np.nan
    for kind in STEP_KINDS:
        for finding in screen(
            with_preamble({**CONE, "Minimum torque": "1 N·m", "Moment of inertia": "1 kg·m²"}, step(1, kind, 50.0, wild))
        ):
            check = next(check for check in CHECKS if check.name == finding.check)
            assert kind in check.kinds


def test_limits_of_ones_own_count():
    scattered = run(step(1, "down", RATES[::-1], (38 * RATES**0.5 * np.exp(0.02 * np.resize([1.0, -1.0], 40)))[::-1]))
    assert screen(scattered) == ()
    (finding,) = screen(scattered, limits={"point_scatter": 0.01})
    assert (finding.check, finding.limit) == ("point_scatter", 0.01)
    row = next(row for row in screening_table(scattered, limits={"point_scatter": 0.01}).rows if row[0] == "point scatter")
    assert row[2:] == ("at most 0.0100", "caution")


@pytest.mark.parametrize(
    ("limits", "message"),
    [
        ({"point_scater": 0.05}, r"no check is called 'point_scater'; did you mean 'point_scatter'\?"),
        ({"nonsense": 0.05}, r"no check is called 'nonsense'; the checks are reference_point, edge_fracture, "),
        ({"point_scatter": 0.0}, r"the limit of point_scatter is 0.0; it lies from 0.0000010 to 1.0, 0.050 where none is set"),
        ({"temperature_known": 20.0}, r"the limit of temperature_known is 20.0; it lies from 0.0000010 to 10 K, 0.50 K where none is set"),
        ({"point_scatter": float("nan")}, "the limit of point_scatter is nan"),
    ],
)
def test_a_limit_that_no_check_has_is_refused(limits, message):
    for function in (screen, screening_table):
        with pytest.raises(RangeError, match=message.replace("0.0000010", "1.0e-06")):
            function(run(GOOD_DOWN), limits=limits)


def level(number, stress):
    return step(number, "shear", 100.0, np.full(30, stress))


def test_every_check_has_a_row_of_the_table():
    rows = screening_table(run(level(1, 380.0), GOOD_DOWN, level(4, 399.1))).rows
    assert [row[0] for row in rows] == [check.name.replace("_", " ") for check in CHECKS]
    by_name = {row[0]: row for row in rows}
    assert by_name["reference point"][1:] == ("0.0503", "at most 0.0500", "invalid")
    assert by_name["point scatter"][3] == "good"
    assert by_name["not steady"][3] == "does not apply: no steady step"
    assert by_name["torque floor"][3] == (
        "could not look: the least torque of the instrument is not known: write 'Minimum torque' into the preamble"
    )


def test_what_cannot_be_seen_is_listed_with_the_remedy():
    listed = unseen(run(GOOD_DOWN))
    assert {finding.severity for finding in listed} == {"info"}
    assert {"slip_at_one_gap", "gap_zero", "radius", "sensor_offset", "torque_scale"} <= {finding.check for finding in listed}
    for name, remedy in (
        ("slip_at_one_gap", "second gap"),
        ("radius", "check oil"),
        ("gap_zero", "check oil"),
        ("sensor_offset", "check oil"),
    ):
        assert remedy in str(next(finding for finding in listed if finding.check == name))
    assert "steps 3 are ramps" not in str(listed)
    assert any(str(finding).startswith("step 3 is a ramp, whose points are not waited for") for finding in listed)


def test_what_the_preamble_says_is_known_and_nonsense_is_not():
    said = {**CONE, "Density": "1.15 g/cm³", "Minimum torque [µN·m]": "0.1", "Inertia": "12 µN·m·s²", "Largest particle": "about 5"}
    known = known_of(with_preamble(said, GOOD_DOWN))
    assert (known.density, known.least_torque, known.inertia) == (pytest.approx(1150.0), pytest.approx(1e-7), pytest.approx(1.2e-5))
    assert known.largest_particle is None
    assert known.gap == pytest.approx(0.0125 * 2.0 * np.pi / 180.0)
    for nothing in ({"Geometry": "spindle 4"}, {"Density": "0 kg/m³"}, {"Inertia": "-1 kg·m²"}):
        assert known_of(with_preamble(nothing, GOOD_DOWN)) == Known()
