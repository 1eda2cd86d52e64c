"""The kind of every step of every protocol, with and without noise, from profiles built here."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

import rheokit as rk


def constant(rate, seconds, points):
    return np.full(points, float(rate)), np.linspace(seconds / points, seconds, points)


def linear(first, last, seconds, points):
    time = np.linspace(seconds / points, seconds, points)
    return first + (last - first) * time / seconds, time


def logarithmic(first, last, seconds, points):
    return np.geomspace(first, last, points), np.linspace(seconds / points, seconds, points)


def stepped(first, last, points, rows=1, dwell=None):
    rates = np.repeat(np.geomspace(first, last, points), rows)
    dwells = np.maximum(10.0, 1.0 / rates) / rows if dwell is None else np.full(rates.size, dwell / rows)
    return rates, np.cumsum(dwells)


PROTOCOLS = {
    "loop": (
        [
            constant(100, 60, 20),
            constant(0, 300, 5),
            linear(0, 100, 120, 60),
            constant(100, 30, 10),
            linear(100, 0, 120, 60),
            constant(100, 60, 20),
        ],
        "shear rest up hold down shear",
    ),
    "loop of few points": (
        [constant(100, 60, 3), constant(0, 300, 2), linear(0, 100, 120, 12), constant(100, 30, 2), linear(100, 0, 120, 12)],
        "shear rest up hold down",
    ),
    "dense loop": (
        [constant(500, 60, 60), constant(0, 300, 30), linear(0, 500, 180, 900), constant(500, 60, 60), linear(500, 0, 180, 900)],
        "shear rest up hold down",
    ),
    "logarithmic loop": ([constant(100, 60, 20), logarithmic(0.1, 500, 180, 60), logarithmic(500, 0.1, 180, 60)], "shear up down"),
    "down ramp from the pre-shear": ([constant(100, 60, 20), linear(100, 0, 120, 60)], "shear down"),
    "steady steps": ([constant(100, 60, 10), constant(0, 10, 2), stepped(100, 0.1, 16, dwell=15)], "shear rest steady"),
    "steady steps to a low rate": ([constant(1000, 60, 10), stepped(1000, 0.01, 31)], "shear steady"),
    "steady steps upwards": ([stepped(0.1, 100, 20)], "steady"),
    "steady steps of several rows": ([constant(100, 60, 10), stepped(100, 0.1, 16, rows=5)], "shear steady"),
    "recovery": ([constant(0.5, 120, 40), constant(100, 60, 20), constant(0.5, 300, 100)], "shear shear recovery"),
    "recovery after conditioning": (
        [constant(100, 60, 20), constant(0, 300, 5), constant(0.5, 120, 40), constant(100, 60, 20), constant(0.5, 300, 100)],
        "shear rest shear shear recovery",
    ),
    "two recoveries": ([constant(rate, 60, 20) for rate in (0.5, 100, 0.5, 100, 0.5)], "shear shear recovery shear recovery"),
    "low after high alone": ([constant(100, 60, 20), constant(0.5, 300, 100)], "shear shear"),
    "rates too near for a recovery": ([constant(20, 60, 20), constant(100, 60, 20), constant(20, 60, 20)], "shear shear shear"),
    "high and low after a rest": ([constant(0, 300, 5), constant(100, 60, 20), constant(0.5, 300, 100)], "rest shear shear"),
    "another rate after a ramp": ([linear(0, 100, 120, 60), constant(10, 60, 20)], "up shear"),
    "ramp that starts near zero": ([linear(1e-4, 100, 120, 60)], "up"),
    "ramp recorded at the starts": ([(np.linspace(1e-7, 98, 50), np.arange(50.0))], "up"),
    "start-up": ([constant(100, 60, 20), constant(0, 300, 5), constant(0.1, 120, 120)], "shear rest startup"),
    "conditioning after a rest": ([constant(0, 300, 5), constant(100, 60, 20)], "rest shear"),
}


def export(parts, noise=0.0, seed=1):
    random = np.random.default_rng(seed)
    lines, start = ["Step,Time [s],Shear rate [1/s],Shear stress [Pa]"], 0.0
    for number, (rates, times) in enumerate(parts, 1):
        stresses = (60.0 * (rates > 0.0) + 20.0 * np.sqrt(rates)) * (1.0 + 2.0 * noise * random.standard_normal(rates.size))
        top = max(float(part[0].max()) for part in parts)
        # A drive errs by a part of its rate, and an encoder by a little of its range.
        read = rates * (1.0 + noise * random.standard_normal(rates.size)) + 1e-2 * noise * top * random.standard_normal(rates.size)
        lines += [f"{number},{start + time:.6g},{rate:.6g},{stress:.6g}" for time, rate, stress in zip(times, read, stresses, strict=True)]
        start += float(times[-1])
    return "\n".join(lines)


def kinds(run):
    return " ".join(step.kind for step in run.steps)


@pytest.mark.parametrize("name", PROTOCOLS)
def test_every_protocol_without_noise(write, name):
    parts, expected = PROTOCOLS[name]
    run = rk.read_run(write(export(parts)))
    assert kinds(run) == expected
    assert {step.controlled for step in run.steps} == {"rate"}
    assert [len(step) for step in run.steps] == [len(rates) for rates, _ in parts]


# Encoder noise of 1e-2 · 1 % of the top rate would swamp rates more than three decades below it, which is not noise but no measurement.
@pytest.mark.parametrize("name", [name for name in PROTOCOLS if name not in {"steady steps to a low rate", "logarithmic loop"}])
@pytest.mark.parametrize("seed", range(5))
def test_every_protocol_with_noise(write, name, seed):
    parts, expected = PROTOCOLS[name]
    noise = 0.001 if "several rows" in name or any(0.0 < rates.min() < 0.05 * rates.max() for rates, _ in parts) else 0.01
    if "recover" in name or "low after" in name or "and low" in name or name == "start-up":
        noise = 0.002  # the low rate lies near the encoder's noise
    assert kinds(rk.read_run(write(export(parts, noise, seed)))) == expected


def cautions(run):
    return [str(finding) for step in run.steps for finding in step.findings if finding.severity == "caution"]


def infos(run):
    return [str(finding) for step in run.steps for finding in step.findings if finding.severity == "info"]


def test_steady_steps_say_by_what_they_were_told(write):
    run = rk.read_run(write(export(PROTOCOLS["steady steps"][0])))
    assert cautions(run) == [
        "step 3: one row a rate and 15.0 s a point (limit 9.0 s), each as long: steady steps, or a slow ramp; called steady steps"
    ]
    several = rk.read_run(write(export(PROTOCOLS["steady steps of several rows"][0])))
    assert cautions(several) == ["step 2: 80 rows stand at 16 rates: steady steps, of which only the last row of each rate is settled"]


def test_steady_steps_that_take_longer_at_low_rates_are_sure(write):
    run = rk.read_run(write(export([stepped(100, 0.01, 21)])))
    assert infos(run) == ["step 1: one row a rate and 10.0 s a point (limit 9.0 s), longer the lower the rate: steady steps, not a ramp"]
    assert cautions(run) == []


@pytest.mark.parametrize(("pace", "kind"), [(8.9, "down"), (9.1, "steady")])
def test_the_limit_between_ramp_and_steady_steps_is_the_time_a_point(write, pace, kind):
    run = rk.read_run(write(export([stepped(100, 0.1, 16, dwell=pace)])))
    assert kinds(run) == kind
    assert len(cautions(run)) == 1


def test_a_ramp_well_below_the_limit_is_sure_and_one_near_it_is_not(write):
    assert cautions(rk.read_run(write(export([stepped(100, 0.1, 16, dwell=5.9)])))) == []
    assert cautions(rk.read_run(write(export([stepped(100, 0.1, 16, dwell=6.1)])))) == [
        "step 1: one row a rate and 6.10 s a point (limit 9.0 s): a ramp, not steady steps, but the limit is near"
    ]


def test_a_rate_that_settles_first_is_constant_all_the_same(write):
    rates = np.array([20.0, 80.0, *np.full(18, 100.0)])
    run = rk.read_run(write(export([(rates, np.arange(1.0, 21.0))])))
    assert (kinds(run), cautions(run)) == ("shear", [])
    late = np.array([*np.linspace(10.0, 90.0, 8), *np.full(12, 100.0)])
    assert len(cautions(rk.read_run(write(export([(late, np.arange(1.0, 21.0))]))))) > 0


def test_a_hold_is_known_where_the_ramp_stops_short_of_it(write):
    short = tuple(column[:-2] for column in linear(0, 100, 120, 12))  # ends at 83 1/s, two points short
    assert kinds(rk.read_run(write(export([short, constant(100, 30, 10)])))) == "up hold"
    assert kinds(rk.read_run(write(export([short, constant(300, 30, 10)])))) == "up shear"


def test_a_slow_ramp_that_changes_evenly_with_time_stays_a_ramp(write):
    run = rk.read_run(write(export([linear(0, 100, 600, 30)])))
    assert kinds(run) == "up"
    assert "would do for steady steps, but the rate changes evenly with time: called a ramp" in cautions(run)[0]


def test_a_sweep_of_less_than_a_decade_is_said(write):
    run = rk.read_run(write(export([linear(20, 100, 120, 60)])))
    assert kinds(run) == "up"
    assert cautions(run) == ["step 1: the shear rate runs from 21.3 to 100 1/s only, less than a decade"]


def test_a_rate_that_goes_up_and_down_in_one_step_is_not_told(write):
    rates = np.concatenate([np.linspace(1, 100, 50), np.linspace(100, 1, 50)])
    run = rk.read_run(write(export([(rates, np.arange(1.0, 101.0))])))
    assert kinds(run) == "shear"
    assert "neither holds, rises nor falls from end to end, so the kind of step cannot be told" in cautions(run)[0]


def by_stress(stresses, rates, seconds):
    times = np.linspace(seconds / len(stresses), seconds, len(stresses))
    rows = [f"{time:.6g},{rate:.6g},{stress:.6g}" for time, rate, stress in zip(times, rates, stresses, strict=True)]
    return "\n".join(["t [s],γ̇ [1/s],τ [Pa]", *rows])


def test_a_stress_ramp_is_controlled_by_stress(write):
    stresses = np.linspace(1.0, 200.0, 100)
    rates = np.where(stresses > 100.0, ((np.maximum(stresses, 100.0) - 100.0) / 20.0) ** 2, 1e-4 * np.sin(stresses))
    run = rk.read_run(write(by_stress(stresses, rates, 120)))
    assert (run.steps[0].kind, run.steps[0].controlled) == ("stress_ramp", "stress")
    assert "the stress follows a programme" in infos(run)[0]


def test_a_constant_stress_with_a_falling_rate_is_creep(write):
    time = np.linspace(1.0, 300.0, 60)
    run = rk.read_run(write(by_stress(np.full(60, 50.0), 0.1 * time ** (-2 / 3), 300)))
    assert (run.steps[0].kind, run.steps[0].controlled) == ("creep", "stress")


def test_creep_in_decades_of_time_is_creep_with_a_caution(write):
    # A power law of time, recorded in decades of it, is a straight line from row to row: as a programme of the rate would be.
    time = np.geomspace(0.1, 300.0, 60)
    rows = [f"{seconds:.6g},{0.1 * seconds ** (-2 / 3):.6g},50" for seconds in time]
    run = rk.read_run(write("\n".join(["t [s],γ̇ [1/s],τ [Pa]", *rows])))
    assert (run.steps[0].kind, run.steps[0].controlled) == ("creep", "stress")
    assert "recorded in decades of time: creep, or a rate sweep of an ideally plastic paste; called creep" in cautions(run)[0]


@pytest.mark.parametrize(("first", "kind"), [("ramp", "creep"), ("shear", "shear")])
def test_where_rate_and_stress_both_hold_the_rest_of_the_run_decides_and_it_is_said(write, first, kind):
    random = np.random.default_rng(4)
    stresses = np.linspace(1.0, 120.0, 60)
    ramp = [(stress, max(stress - 60.0, 0.0) ** 2 / 400.0) for stress in stresses]
    flow = [(90.0 * (1.0 + 1e-4 * random.standard_normal()), 2.25 * (1.0 + 0.01 * random.standard_normal())) for _ in range(40)]
    before = ramp if first == "ramp" else [(400.0 * (1.0 + 0.01 * random.standard_normal()), 100.0) for _ in range(60)]
    rows = [f"{1 if index < 60 else 2},{index + 1},{rate:.6g},{stress:.6g}" for index, (stress, rate) in enumerate([*before, *flow])]
    run = rk.read_run(write("\n".join(["Step,t [s],γ̇ [1/s],τ [Pa]", *rows])))
    assert run.steps[1].kind == kind
    assert "step 2: rate and stress both hold, and the stress scatters less" in cautions(run)[0]


def test_a_nearly_flat_stress_over_a_programmed_rate_is_still_controlled_by_rate(write):
    # An ideally plastic paste: the stress stays within 2 % over three decades of rate.
    run = rk.read_run(write(by_stress(np.linspace(100.0, 101.5, 60), np.geomspace(0.001, 1.0, 60), 120)))
    assert (run.steps[0].kind, run.steps[0].controlled) == ("up", "rate")


def oscillation(strains, frequencies):
    rows = [
        f"{index},{strain:.6g},{frequency:.6g},1000,100" for index, (strain, frequency) in enumerate(zip(strains, frequencies, strict=True))
    ]
    return "\n".join(["t [s],γ [%],ω [rad/s],G' [Pa],G'' [Pa]", *rows])


@pytest.mark.parametrize(
    ("strains", "frequencies", "kind"),
    [
        (np.geomspace(0.01, 100.0, 30), np.full(30, 10.0), "amplitude_sweep"),
        (np.full(30, 0.1), np.geomspace(100.0, 0.1, 30), "frequency_sweep"),
        (np.full(30, 0.1), np.full(30, 10.0), "rest"),
    ],
)
def test_oscillations(write, strains, frequencies, kind):
    (step,) = rk.read_run(write(oscillation(strains, frequencies))).steps
    assert (step.kind, step.controlled) == (kind, "strain")


def test_a_temperature_ramp(write):
    rows = [f"{10 * index},1,50,{20 + index}" for index in range(30)]
    (step,) = rk.read_run(write("\n".join(["t [s],γ̇ [1/s],τ [Pa],T [°C]", *rows]))).steps
    assert (step.kind, step.controlled) == ("temperature_ramp", "temperature")


def test_without_a_rate_no_kind_is_told(write):
    run = rk.read_run(write("t [s],τ [Pa],T [°C]\n1,10,20\n2,20,20\n"))
    assert "there is no shear rate, so the kind of step cannot be told" in cautions(run)[0]
    assert "shear_rate" not in run.steps[0].columns


def test_without_a_step_column_a_clock_that_starts_again_divides(write):
    text = "t [s],γ̇ [1/s],τ [Pa]\n1,100,400\n2,100,390\n3,100,380\n1,0,0\n2,0,0\n"
    run = rk.read_run(write(text))
    assert kinds(run) == "shear rest"
    assert [step.rows for step in run.steps] == [(2, 4), (5, 6)]
    assert "there is no step column; the time starts again in line 5, where a step begins" in map(str, run.findings)
    assert "the time starts again with every step; it counts from the start of each step, not of the run" in map(str, run.findings)
    np.testing.assert_array_equal(run.steps[1].columns["step_time"], [1.0, 2.0])
    one = rk.read_run(write("t [s],γ̇ [1/s],τ [Pa]\n1,100,400\n2,100,390\n"))
    assert "there is no step column and the time never starts again: the whole export is one step" in map(str, one.findings)


def test_step_labels_may_be_words_come_back_and_be_left_empty(write):
    run = rk.read_run(write("Segment,t [s],γ̇ [1/s],τ [Pa]\nlow,1,1,60\n,2,1,60\nhigh,3,100,400\nlow,4,1,60\n"))
    assert [len(step) for step in run.steps] == [2, 1, 1]
    assert "1 rows name no step; each counts to the step above it" in map(str, run.findings)
    assert any("comes back to a label it had before" in str(finding) for finding in run.findings)


def test_a_time_within_the_step_alone_serves_as_time(write):
    run = rk.read_run(write("Step,Step time [s],γ̇ [1/s],τ [Pa]\n1,1,1,60\n1,2,1,60\n2,1,1,60\n"))
    np.testing.assert_array_equal(run.steps[0].time, [1.0, 2.0])
    assert any(finding.check == "step_time" for finding in run.findings)


def test_a_clock_that_runs_back_inside_a_step_is_said(write):
    run = rk.read_run(write("Step,t [s],γ̇ [1/s],τ [Pa]\n1,1,1,60\n1,3,1,60\n1,2,1,60\n"))
    (finding,) = run.steps[0].findings
    assert (finding.check, finding.severity, finding.rows) == ("time_order", "invalid", (2, 4))


LAYOUT = "format = 1\n[steps]\n"


def test_a_layout_file_names_kinds_and_they_count(write):
    text = export(PROTOCOLS["low after high alone"][0])
    run = rk.read_run(write(text), layout=write(LAYOUT + '1 = "shear"\n2 = "recovery"\n', "layout.toml"))
    assert kinds(run) == "shear recovery"
    assert infos(run) == ["step 1: the layout file names the kind, and the numbers agree"]
    assert cautions(run) == [
        "step 2: the layout file names it recovery controlled by rate, which counts; the numbers look like shear controlled by rate"
    ]


def test_a_layout_file_settles_what_is_doubtful_without_a_caution(write):
    run = rk.read_run(write(export([linear(0, 100, 600, 30)])), layout=write(LAYOUT + '1 = "steady"\n', "layout.toml"))
    assert (kinds(run), cautions(run)) == ("steady", [])
    assert infos(run) == [
        "step 1: the layout file names it steady controlled by rate, which counts; the numbers look like up controlled by rate"
    ]


@pytest.mark.parametrize(
    ("named", "kind", "controlled"),
    [
        ('"creep"', "creep", "stress"),
        ('{ kind = "up", controlled = "stress" }', "up", "stress"),
        ('"frequency_sweep"', "frequency_sweep", "strain"),
    ],
)
def test_a_layout_file_says_what_was_controlled(write, named, kind, controlled):
    run = rk.read_run(write(export([constant(0.5, 60, 20)])), layout=write(LAYOUT + f"1 = {named}\n", "layout.toml"))
    assert (run.steps[0].kind, run.steps[0].controlled) == (kind, controlled)


def test_a_step_that_a_layout_file_names_and_the_run_lacks_is_said(write):
    run = rk.read_run(write(export([constant(0.5, 60, 20)])), layout=write(LAYOUT + '1 = "shear"\n3 = "up"\n', "layout.toml"))
    (said,) = [finding for finding in run.findings if finding.check == "layout_steps"]
    assert said.severity == "caution"
    assert str(said) == "the layout file names step 3, and the run has 1: steps may be missing, or the layout is another's"


@pytest.mark.parametrize(
    ("times", "line"),
    [([*range(1, 30), 31, 30, 32, 33], 32), ([5, 4, 3, 2], 3), ([1, 3, 2, 4, 5], 4), ([1, 2, 3, 20, 15, 21], 6)],
)
def test_rows_out_of_order_are_one_invalid_step(write, times, line):
    run = rk.read_run(write("t [s],γ̇ [1/s],τ [Pa]\n" + "".join(f"{time},10,{100 + row}\n" for row, time in enumerate(times))))
    (step,) = run.steps
    (finding,) = [one for one in step.findings if one.check == "time_order"]
    assert finding.severity == "invalid"
    assert f"the clock runs backwards in line {line}" in str(finding)


@pytest.mark.parametrize("times", [[3, 6, 9, 60, 120], [0, 1, 2, 0, 1, 2], [100, 101, 102, 100, 101], [3, 6, 9, 3]])
def test_a_clock_that_falls_to_a_first_time_starts_again(write, times):
    run = rk.read_run(write("t [s],γ̇ [1/s],τ [Pa]\n" + "".join(f"{time},10,{100 + row}\n" for row, time in enumerate(times))))
    assert len(run.steps) == 1 + sum(later < earlier for earlier, later in pairwise(times))
    assert not [one for step in run.steps for one in step.findings if one.check == "time_order"]
