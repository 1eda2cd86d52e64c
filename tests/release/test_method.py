"""The method block: how far a run may be off before it is another method."""

from dataclasses import replace

import numpy as np
import pytest

from rheokit.base.errors import SpecificationError
from rheokit.base.run import Step
from rheokit.release.deviations import deviations
from rheokit.release.specification_file import read_specification


@pytest.fixture
def method(write_specification):
    return read_specification(write_specification()).methods["loop"]


@pytest.fixture
def seen(method, make_loop_run):
    def look(**changes):
        return [finding.check for finding in deviations(make_loop_run(1, 380.0, **changes), method)]

    return look


@pytest.mark.parametrize(
    ("changes", "checks"),
    [
        ({}, []),
        ({"pre_shear": 101.9}, []),  # 2 % of the rate
        ({"pre_shear": 102.1}, ["method_pre_shear"]),
        ({"rest": 314.0}, []),  # 5 % of the time
        ({"rest": 285.1}, []),
        ({"rest": 331.0}, ["method_rest"]),  # 10 %, though its 20 points are 16 s apart
        ({"duration": 125.9}, []),
        ({"duration": 126.1}, ["method_ramp", "method_ramp"]),  # both legs
        ({"temperature": 296.34}, []),
        ({"temperature": 296.36}, ["method_temperature"]),
        ({"geometry": "Cone and Plate"}, []),
        ({"geometry": "plate-plate"}, ["method_geometry"]),
    ],
)
def test_the_tolerances_are_what_they_say(seen, changes, checks):
    assert seen(**changes) == checks


def leg(number, kind, low, high):
    times = np.linspace(2.0, 120.0, 60)
    rates = np.linspace(low, high, 60)
    columns = {"step_time": times, "shear_rate": rates if kind == "up" else rates[::-1], "shear_stress": np.full(60, 1.0)}
    return Step(number=number, kind=kind, controlled="rate", columns={**columns, "temperature": np.full(60, 296.15)})


@pytest.mark.parametrize(("kind", "low", "high"), [("up", 20.0, 100.0), ("down", 20.0, 100.0), ("down", 1.67, 90.0), ("up", 1.67, 110.0)])
def test_each_end_of_each_leg_is_looked_at(method, make_loop_run, kind, low, high):
    run = make_loop_run(1, 380.0)
    number = 3 if kind == "up" else 4
    steps = tuple(leg(number, kind, low, high) if step.number == number else step for step in run.steps)
    (finding,) = deviations(replace(run, steps=steps), method)
    assert f"({kind} leg)" in finding.reason


def test_an_absent_leg_is_not_the_methods_matter(seen):
    assert seen(without=(4,)) == []


def test_a_single_stray_reading_of_the_sensor_is_no_drift(method, make_loop_run):
    run = make_loop_run(1, 380.0)

    def stray(count):
        temperatures = np.full(60, 296.15)
        temperatures[:count] = 297.0
        steps = tuple(
            replace(step, columns={**step.columns, "temperature": temperatures}) if step.number == 3 else step for step in run.steps
        )
        return deviations(replace(run, steps=steps), method)

    assert stray(3) == ()  # 5 % of 60
    assert [finding.check for finding in stray(4)] == ["method_temperature"]
    assert "23.85 °C in step 3 (up)" in stray(4)[0].reason


def test_without_times_the_durations_are_not_shown(method, make_loop_run):
    run = make_loop_run(1, 380.0)
    bare = tuple(replace(step, columns={name: held for name, held in step.columns.items() if "time" not in name}) for step in run.steps)
    found = deviations(replace(run, steps=bare), method)
    assert [finding.check for finding in found] == ["method_pre_shear_time", "method_rest_time", "method_ramp_time", "method_ramp_time"]
    assert {finding.severity for finding in found} == {"invalid"}


def test_a_global_clock_serves_as_well(method, make_loop_run):
    run = make_loop_run(1, 380.0)
    clocked = tuple(
        replace(
            step,
            columns={**{key: held for key, held in step.columns.items() if key != "step_time"}, "time": 1000.0 + step.columns["step_time"]},
        )
        for step in run.steps
    )
    assert deviations(replace(run, steps=clocked), method) == ()


@pytest.fixture
def look(write_specification, specification_text, make_loop_run):
    """Return what deviates when the method block says one thing more."""

    def run(line, steps=None, **metadata):
        text = specification_text.replace("loads = 2", f"{line}\nloads = 2")
        held = make_loop_run(1, 380.0, metadata=metadata)
        method = read_specification(write_specification(text)).methods["loop"]
        return deviations(held if steps is None else replace(held, steps=steps(held)), method)

    return run


GAP = 'gap = "500 µm ± 5"'


@pytest.mark.parametrize(
    ("said", "severity", "words"),
    [
        ({"Gap": "0.500 mm"}, None, ""),
        ({"Gap": "505 µm"}, None, ""),
        ({"Gap": "0.506 mm"}, "invalid", "the gap was 506.0 µm, the specification asks for 500 µm ± 5"),
        ({"Gap": "half a millimetre"}, "invalid", "which is no length"),
        ({}, "caution", "the export does not show the gap"),
    ],
)
def test_the_gap_is_that_of_the_preamble(look, said, severity, words):
    found = look(GAP, **said)
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    assert all(words in finding.reason.replace("\N{GREEK SMALL LETTER MU}", "\N{MICRO SIGN}") for finding in found)


def test_every_reading_of_a_gap_that_is_recorded_counts(look):
    def closing(run):
        return tuple(replace(step, columns={**step.columns, "gap": np.linspace(500e-6, 490e-6, len(step))}) for step in run.steps)

    (finding,) = look(GAP, closing, Gap="500 µm")
    assert (finding.check, finding.severity) == ("method_gap", "invalid")
    assert "490.0" in finding.reason


@pytest.mark.parametrize(("least", "count"), [(60, 0), (61, 2)])
def test_each_leg_has_its_least_points(look, least, count):
    # 60 rows a leg; both legs of the loop are counted, steps that are held are not.
    found = look(f"points = {least}")
    assert [finding.check for finding in found] == ["method_number_of_points"] * count
    assert all("60 in step" in finding.reason and finding.severity == "invalid" for finding in found)


def test_points_that_hold_no_number_are_none(look):
    def torn(run):
        stress = np.where(np.arange(60) < 5, np.nan, 1.0)
        return tuple(
            replace(step, columns={**step.columns, "shear_stress": stress}) if step.kind in {"up", "down"} else step for step in run.steps
        )

    assert [finding.reason.count("55 in step") for finding in look("points = 56", torn)] == [1, 1]
    assert look("points = 55", torn) == ()


@pytest.mark.parametrize(
    ("said", "severity", "words"),
    [
        ({"Time since loading": "10 min"}, None, ""),
        ({"Time since loading": "4 min"}, "invalid", "the time since loading was 4 min, the specification asks for 5 min to 30 min"),
        ({"Time since loading": "a while"}, "invalid", "which is no time"),
        ({"Loaded": "2026-09-15T10:10:00+02:00"}, None, ""),  # measured at 08:40 UTC
        ({"Loaded": "2026-09-15T08:00:00Z"}, "invalid", "was 40 min"),
        ({"Loaded": "2026-09-15T08:00:00"}, "caution", "does not show the time since loading"),  # no zone
        ({}, "caution", "does not show the time since loading"),
    ],
)
def test_the_time_since_loading_is_said_or_told_by_two_times(look, said, severity, words):
    found = look('time_since_loading = "5 min to 30 min"', **said)
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    assert all(words in finding.reason for finding in found)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ('gap = "500 µm"', "is no gap with a tolerance"),
        ('gap = "500 Pa ± 5"', "is not a unit of gap"),
        ("points = 1", "greater than or equal to 2"),
        ('time_since_loading = "soon"', "is no span of time"),
    ],
)
def test_a_method_that_makes_no_sense_is_refused(look, line, message):
    with pytest.raises(SpecificationError, match=f"line 13, method, loop, [a-z_]+: .*{message}"):
        look(line)
