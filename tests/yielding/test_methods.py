"""Every method side by side: the table, the order they are expected in, what they mean for the pen, and words that name the method."""

import re
from dataclasses import replace
from functools import cache

import matplotlib.pyplot as plt
import numpy as np
import pytest
from studies.yield_coverage import GEL, INK, step_of
from yielding.made import bent, crept, overshoot, run, softened, step

import rheokit as rk
from rheokit.base.estimate import Estimate, Interval
from rheokit.base.run import Batch, RunPlace
from rheokit.virtual import (
    ConePlate,
    Faults,
    Reading,
    creep_steps,
    loop_protocol,
    measure,
    measure_amplitude_sweep,
    measure_under_stress,
    startup_series_protocol,
    steady_protocol,
    stress_ramp,
)  # fmt: skip
from rheokit.yielding import Placed, check_order, first_stroke_bound, holding_bound
from rheokit.yielding.reading_off import not_determined, stated


def made(name, value, half=2.0, rest=300.0, run="one.csv", **more):
    estimate = Estimate(
        name=name, value=value, unit="Pa", standard_error=half / 2.0, degrees_of_freedom=30.0, method="made",
        interval=Interval(lower=value - half, upper=value + half, level=0.95), conditions={**stated("made", rest=rest), **more},
    )  # fmt: skip
    return Placed(estimate=estimate, run=run)


def outcome(*placed, loads=0.0):
    return [check.outcome for check in check_order(placed, loads=loads)]


PEAK, FLOW, LIMIT, DYNAMIC = "static_yield_stress_peak", "flow_point_stress", "linear_limit_stress", "dynamic_yield_stress"


@pytest.mark.parametrize(
    ("flow", "peak", "expected", "severity"),
    [
        (100.0, 110.0, "holds", None),
        (100.0, 103.0, "cannot be told", "info"),
        (103.0, 100.0, "reversed within the intervals", "caution"),
        (110.0, 100.0, "reversed", "invalid"),
    ],
)
def test_the_order_is_checked_on_intervals(flow, peak, expected, severity):
    (check,) = check_order([made(FLOW, flow), made(PEAK, peak)], loads=0.0)
    assert check.outcome == expected
    finding = check.finding()
    assert (None if finding is None else finding.severity) == severity
    assert "after a rest of 300 s" in check.reason


def test_the_whole_order_and_what_is_not_ordered():
    assert outcome(made(LIMIT, 20.0), made(FLOW, 100.0), made(PEAK, 120.0), made(DYNAMIC, 90.0, rest=None)) == ["holds"] * 3
    # Linear limit and dynamic yield stress are not ordered.
    assert outcome(made(LIMIT, 200.0), made(DYNAMIC, 90.0)) == outcome(made(DYNAMIC, 90.0), made(LIMIT, 20.0)) == []


def test_dynamic_is_held_against_the_longest_rest():
    young, old = made(PEAK, 80.0, rest=10.0), made(PEAK, 130.0, rest=1000.0)
    assert outcome(made(DYNAMIC, 100.0, rest=None), young, old) == ["holds"]


def test_unlike_or_unknown_rests_are_said_and_not_compared():
    for rest in (10.0, None):
        (check,) = check_order([made(FLOW, 150.0, rest=rest), made(PEAK, 100.0)])
        assert check.outcome == "cannot be told"
        assert "state the rest of both" in check.reason
    # Both of one sweep rested alike, whatever that was.
    assert outcome(made(LIMIT, 20.0, rest=None), made(FLOW, 100.0, rest=None)) == ["holds"]


def test_loads_widen_the_intervals_of_unlike_runs_only():
    flow, peak = made(FLOW, 106.0), made(PEAK, 100.0)
    assert outcome(flow, peak, loads=0.02) == ["reversed"]
    assert outcome(flow, replace(peak, run="other.csv"), loads=0.02) == ["reversed within the intervals"]


def test_what_is_not_determined_takes_no_part():
    open_ = not_determined(PEAK, 50.0, "Pa", reason="it still rises", method="made", conditions=stated("made", rest=300.0))
    assert outcome(made(FLOW, 100.0), Placed(estimate=open_, run="one.csv")) == []


def test_an_estimate_without_interval_cannot_be_ordered():
    conditions = stated("vane", rest=300.0)
    bare = Estimate(name=PEAK, value=50.0, unit="Pa", standard_error=None, reason="one torque", method="made", conditions=conditions)
    assert outcome(made(FLOW, 100.0), Placed(estimate=bare, run="one.csv")) == ["cannot be told"]


def test_holding_counts_on_the_lower_bound_of_the_smaller():
    bracket = made("creep_bracket_stress", 129.0, half=9.0)
    assert holding_bound([made(DYNAMIC, 100.0), bracket]).value == 98.0
    assert holding_bound([made(DYNAMIC, 140.0), bracket]).value == 120.0
    none = holding_bound([made(PEAK, 140.0)])
    assert (none.value, str(none)) == (None, "holding at rest: no bound, neither a dynamic yield stress nor a creep bracket is known")
    assert "reaches down to nothing" in holding_bound([made(DYNAMIC, 1.0, half=2.0)]).reason


def test_the_first_stroke_meets_the_upper_bound_at_the_longest_rest():
    found = first_stroke_bound([made(PEAK, 150.0, rest=10.0), made(PEAK, 120.0, rest=1000.0), made(DYNAMIC, 200.0)])
    assert found.value == 122.0
    assert "after a rest of 1000 s" in found.taken_from
    assert first_stroke_bound([made(PEAK, 120.0, rest=None)]).value is None


# --- one ink by everything ---------------------------------------------------------------------------------------------------------


@cache
def whole():
    """Return runs of a rested gel by every test, with the usual noise."""
    ink, faults = replace(INK, breakdown_rate=0.02), Faults(point_noise_sd=0.005)
    turned = {
        "startup.csv": (startup_series_protocol(rests=(100.0, 300.0, 1000.0), duration=120.0), {1: "shear", 2: "rest", 3: "startup"}),
        "loop.csv": (loop_protocol(), {3: "up", 5: "down"}),
        "steady.csv": (steady_protocol(), {3: "steady"}),
    }
    runs = []
    for name, (protocol, kinds) in turned.items():
        measured = measure(ink, protocol, ConePlate(), faults, 1)
        chosen = {3 * place + number: kind for place in range(3 if name == "startup.csv" else 1) for number, kind in kinds.items()}
        runs.append(run(*(replace(step_of(measured, kind, "rate", number), number=number) for number, kind in chosen.items()), name=name))
    reading = Reading(noise_sd=0.01)
    ramped = measure_under_stress(ink, (stress_ramp((1.0, 250.0), 240.0, 160),), reading, 1)
    held = creep_steps((80.0, 100.0, 120.0, 140.0, 160.0), 600.0, 80)
    crept_ = measure_under_stress(ink, held, Reading(noise_sd=0.002), 1)
    runs.append(run(step_of(ramped, "stress_ramp", "stress"), name="ramp.csv"))
    runs.append(run(*(replace(step_of(crept_, "creep", "stress", number), number=number) for number in range(1, 6)), name="creep.csv"))
    runs.append(run(step_of(measure_amplitude_sweep(GEL, reading, 1), "amplitude_sweep", "strain"), name="sweep.csv"))
    return tuple(runs)


@cache
def found():
    return rk.yield_methods(whole(), laws=("herschel_bulkley", "casson"), low_rate=0.1, rest=300.0)


def test_every_method_has_its_row():
    names = [one.estimate.name for one in found().placed]
    assert set(names) == {
        LIMIT, FLOW, PEAK, DYNAMIC, "static_yield_stress_tangents", "static_yield_stress_viscosity_maximum", "creep_bracket_stress",
        "stress_at_low_rate",
    }  # fmt: skip
    assert names.count(PEAK) == 3
    assert names.count(DYNAMIC) == 4
    assert [one.rest for one in found().placed if one.estimate.name == PEAK] == [100.0, 300.0, 1000.0]
    assert "static_yield_stress_growth" in [reading.stress.name for reading in found().readings]
    rows = found().table().rows
    assert len(rows) == len(names)
    assert all(row[5] for row in rows)


def test_a_good_rested_gel_raises_no_invalid_finding():
    assert "invalid" not in {finding.severity for finding in found().findings}
    assert {check.outcome for check in found().order} <= {"holds", "cannot be told"}
    assert found().holding.value < found().first_stroke.value


def test_a_step_that_gives_nothing_is_said():
    said = next(finding for finding in found().findings if finding.check == "yield_method_failed")
    assert str(said) == "no stress at low rate: the down step: 0.1000 1/s lies outside the measured 1.67 to 100 1/s"
    assert said.source == "loop.csv, step 5"


def test_a_bare_yield_stress_appears_nowhere():
    # "yield stress" always has "static" or "dynamic" before it, and in the table a method behind that.
    text = f"{found()} {' '.join(str(check.reason) for check in found().order)}"
    bare = re.findall(r"(?<!static )(?<!dynamic )\byield stress", text)
    assert bare == []
    assert all(one.estimate.conditions["method"].value for one in found().placed)
    for row in found().table().rows:
        assert not re.fullmatch(r"(static |dynamic )?yield stress", row[0])


def test_the_figure_has_one_bar_a_method_and_its_words():
    figure, axes = plt.subplots(figsize=(11, 9))
    assert found().plot(axes) is axes
    words = [text.get_text() for text in axes.texts]
    for one in found().placed:
        assert any(word.startswith(one.name) for word in words)
    assert any(word.startswith("holding at rest\n") for word in words)
    assert "Pa" in axes.get_xlabel()
    plt.close(figure)
    axes = found().plot()
    assert axes.figure.get_size_inches()[1] > 5.0
    plt.close(axes.figure)


def test_a_batch_leaves_out_the_retained_standard_and_pools_lone_creep():
    runs = tuple(run(crept(stress, power, relative=1e-3), name=f"creep_{stress:.0f}.csv") for stress, power in ((40.0, 0.1), (80.0, 1.0)))
    standard = run(overshoot(), name="standard.csv")
    batch = Batch(
        name="B26", runs={"creep": runs, "startup": (standard,)}, metadata={},
        places={"standard.csv": RunPlace(test="startup", load=1, role="reference")},
    )  # fmt: skip
    made_ = rk.yield_methods(batch)
    assert [one.estimate.name for one in made_.placed] == ["creep_bracket_stress"]
    assert made_.placed[0].run == "creep_40.csv, creep_80.csv"
    assert made_.holding.value == 40.0


def test_the_rest_in_the_run_goes_before_the_one_stated():
    time = np.linspace(1.0, 60.0, 10)
    steps = (
        step("shear", "rate", 1, time=time),
        step("rest", "rate", 2, time=60.0 + np.linspace(10.0, 100.0, 10)),
        replace(overshoot(), number=3),
    )
    made_ = rk.yield_methods(run(*steps), rest=5.0)
    assert made_.placed[0].rest == 100.0
    assert rk.yield_methods(run(overshoot()), rest=5.0).placed[0].rest == 5.0


def test_a_hostile_name_of_a_run_is_drawn_as_it_stands():
    made_ = rk.yield_methods(run(softened(relative=0.01), name="$\\frac{$\x1b[2J.csv"))
    figure, axes = plt.subplots()
    made_.plot(axes)
    figure.canvas.draw()  # a formula that is none is only refused here
    assert "\x1b" not in str(made_)
    assert any(r"\$" in text.get_text() for text in axes.texts)
    plt.close(figure)


def test_a_vane_joins_the_table():
    vane = rk.static_yield_stress_vane(0.001725, rk.Vane(diameter=0.025, height=0.05), rest=300.0)
    made_ = rk.yield_methods([run(softened(relative=0.01)), run(bent(relative=0.02))], more=[vane], rest=300.0)
    assert "static yield stress, vane" in [row[0] for row in made_.table().rows]
    assert any("has no interval" in check.reason for check in made_.order)


def test_no_first_stroke_says_which_peak_is_missing():
    missing = replace(made(PEAK, 150.0, rest=1000.0).estimate, determined=False, reason="the stress has no single peak")
    found = first_stroke_bound([Placed(estimate=missing, run="startup.csv")])
    assert found.value is None
    assert found.reason.endswith("after a rest of 1000 s is not determined: the stress has no single peak")
    assert "start up after a rest in the same run, or give rest" in first_stroke_bound([made(PEAK, 120.0, rest=None)]).reason


def test_no_note_of_the_table_speaks_of_a_bare_yield_stress():
    # Ever less steep in log-log axes: the law's yield stress ends at zero, and the fit says so in its own words.
    rate = np.geomspace(100.0, 0.1, 20)
    steady = step("steady", "rate", time=np.arange(20.0), shear_rate=rate, shear_stress=2.0 * rate / (1.0 + rate / 20.0))
    lines = str(rk.yield_methods(run(steady))).splitlines()
    said = [line for line in lines if "yield stress is not determined" in line]
    assert said
    assert all("dynamic yield stress: " in line for line in said)


def test_no_runs_are_no_table():
    with pytest.raises(rk.FitError, match="no runs to take yield values from; give a batch, a run or several"):
        rk.yield_methods([])
