"""Repeated loops: what each leaves of the first, and loops that are not alike."""

import pickle
from dataclasses import replace

import matplotlib.pyplot as plt
import numpy as np
import pytest
from reference_data import reference
from scipy import stats
from thixotropy.loop_runs import measured_run, repeated_protocol, run, single_loop, step

import rheokit as rk

EXACT = reference("breakdown_loop")
ETA = 3.0


def breakdown_run(cycles=3, points=2000, noise=0.0, seed=0, eta=ETA):
    """Loops of tau = (eta + D L) g with dL/dt = -b g L that follow each other at once: every leg breaks exp(-X) of what it meets.

    Up, the integral of g dt is g²/(2 beta), and a whole leg's is g_m²/(2 beta); so the areas go down by exp(-2 X) from loop to loop.
    """
    depth, beta, b, highest = (EXACT[name] for name in ("D", "beta", "b", "g_m"))
    generator = np.random.default_rng(seed)
    rate = np.linspace(0.0, highest, points)
    steps = []
    for cycle in range(cycles):
        broken = cycle * highest**2 / beta
        up = (eta + depth * np.exp(-b * (broken + rate**2 / (2.0 * beta)))) * rate
        down = (eta + depth * np.exp(-b * (broken + (2.0 * highest**2 - rate**2) / (2.0 * beta)))) * rate
        up, down = (stress * (1.0 + noise * generator.standard_normal(points)) for stress in (up, down))
        begin = 2.0 * cycle * highest / beta
        steps.append(step(len(steps) + 1, "up", begin + rate / beta, rate, up))
        steps.append(step(len(steps) + 1, "down", begin + (2.0 * highest - rate[::-1]) / beta, rate[::-1], down[::-1]))
    return run(*steps)


def test_areas_by_cycle_are_exact():
    found = rk.repeated_loops(breakdown_run())
    # X is 1 in the reference loop; the pieces between 2000 points miss by parts in a million.
    expected = EXACT["area"] * np.exp([0.0, -2.0, -4.0])
    assert [area.value for area in found.areas] == pytest.approx(expected, rel=1e-5)
    assert [ratio.value for ratio in found.ratios] == pytest.approx(np.exp([-2.0, -4.0]), rel=1e-5)
    assert [ratio.unit for ratio in found.ratios] == ["1", "1"]
    assert found.findings == ()
    assert "cycle" not in found.areas[0].conditions
    assert [area.conditions["cycle"].value for area in found.areas[1:]] == [2.0, 3.0]
    with pytest.raises(rk.ComparisonError, match="the condition cycle differs"):
        found.areas[1].require_comparable(found.areas[2])


@pytest.mark.parametrize("course", ["linear", "logarithmic"])
def test_a_gel_gives_most_in_its_first_loop(course):
    found = rk.repeated_loops(measured_run(*repeated_protocol(3, course=course)))
    assert [loop.ramp.course for loop in found.loops] == [course] * 3
    first, second, third = (area.value for area in found.areas)
    # On a logarithmic ramp most of the time passes at low rates, where the structure rebuilds.
    assert first > (1.5 if course == "linear" else 1.1) * second > 0.0
    assert third == pytest.approx(second, rel=0.2)
    assert found.loops[0].method.history.rest.duration == 300.0
    assert found.loops[1].method.history.rest is None


@pytest.mark.parametrize(
    ("protocol", "said"),
    [
        (
            repeated_protocol(2, durations=(60.0, 15.0)),
            r"they differ in up leg: the duration \(58.50 and 14.62 s\); down leg: the duration",
        ),
        (repeated_protocol(3, durations=(60.0, 60.0, 90.0)), r"loop of steps 9 and 11 is not like that of steps 3 and 5"),
    ],
)
def test_unlike_ramps_are_refused_and_what_differs_is_named(protocol, said):
    with pytest.raises(rk.ComparisonError, match=said):
        rk.repeated_loops(measured_run(*protocol))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda rate: 2.0 * rate, "the range of rates (0 to 100.0 1/s and 0 to 200.0 1/s)"),
        (lambda rate: np.geomspace(0.5, 100.0, rate.size), "the course (linear and logarithmic)"),
    ],
    ids=["range", "course"],
)
def test_another_range_or_course_is_refused(change, said):
    held = breakdown_run(2, points=60)
    rate = change(held.steps[0].shear_rate)
    unlike = [
        replace(held.steps[at], columns={**held.steps[at].columns, "shear_rate": rates, "shear_stress": 10.0 + rates})
        for at, rates in ((2, rate), (3, rate[::-1]))
    ]
    with pytest.raises(rk.ComparisonError) as caught:
        rk.repeated_loops(run(*held.steps[:2], *unlike))
    assert said in str(caught.value)
    assert "up leg" in str(caught.value)
    assert "down leg" in str(caught.value)


def test_another_hold_is_refused():
    first, kinds = repeated_protocol(1, hold=20.0)
    second, _ = repeated_protocol(1, hold=60.0)
    steps = [*measured_run(first, kinds).steps]
    later = [replace(held, number=held.number + 3) for held in measured_run(second, kinds).steps[2:]]
    with pytest.raises(rk.ComparisonError, match=r"differ in the hold at the top \(100 1/s for 18.0 s and 100 1/s for 54.0 s\)$"):
        rk.repeated_loops(run(*steps, *later))


def test_pauses_that_differ_are_said():
    alike = rk.repeated_loops(measured_run(*repeated_protocol(3, pause=30.0)))
    assert alike.findings == ()
    protocol, kinds = repeated_protocol(3, pause=30.0)
    held = measured_run(protocol, kinds)
    without = run(*(one for one in held.steps if one.number != 10))
    (finding,) = rk.repeated_loops(without).findings
    assert (finding.check, finding.severity) == ("pauses_unlike", "caution")
    assert "they differ in the rest before (30.0 s and none)" in str(finding)


def test_legs_left_over_are_said():
    held = breakdown_run(3, points=60)
    steps = (held.steps[1], *held.steps[:4], held.steps[4])
    found = rk.repeated_loops(run(*(replace(one, number=number) for number, one in enumerate(steps, 1))))
    assert [str(seen) for seen in found.findings] == [
        "step 1 (down) has no up leg before it: no loop",
        "step 6 (up) has no down leg after it: no loop",
    ]
    assert len(found.loops) == 2


def test_one_loop_is_none_repeated():
    with pytest.raises(
        rk.StepError, match=r"loop.csv has 1 loops of an up and a down leg; two or more are compared \(steps: 1 shear, 2 re"
    ):
        rk.repeated_loops(single_loop())


@pytest.mark.parametrize(("factor", "covers"), [(1.0, True), (1.3, False)], ids=["as it is", "errors divided by 1.3"])
def test_the_interval_of_the_ratio_covers(factor, covers):
    # 400 runs with 1 % of noise: 95 % intervals stay within the 99.9 % binomial limits; the negative control falls to about 87 %.
    truth, repeats, inside = rk.repeated_loops(breakdown_run(2, points=60)).ratios[0].value, 400, 0
    for seed in range(repeats):
        ratio = rk.repeated_loops(breakdown_run(2, points=60, noise=0.01, seed=seed)).ratios[0]
        lower, upper = (ratio.value + (end - ratio.value) / factor for end in (ratio.interval.lower, ratio.interval.upper))
        inside += lower <= truth <= upper
    lowest, highest = stats.binom.ppf([0.0005, 0.9995], repeats, 0.95)
    assert bool(lowest <= inside <= highest) is covers


def test_a_first_area_lost_in_noise_gives_no_ratio():
    # With eta a thousand times D the loop is a ten-thousandth of what lies under its legs.
    found = rk.repeated_loops(breakdown_run(2, points=60, noise=0.02, eta=1000.0 * ETA))
    (ratio,) = found.ratios
    assert not ratio.determined
    assert ratio.interval is None
    assert "is not told from zero" in ratio.reason
    assert "not determined" in str(found)


def test_a_first_loop_that_encloses_nothing_gives_no_ratio():
    rate = np.linspace(1.0, 10.0, 10)
    legs = [
        step(number, kind, 10.0 * number + np.arange(10.0), rates, rise * rates)
        for number, kind, rates, rise in (
            (1, "up", rate, 3.0),
            (2, "down", rate[::-1], 3.0),
            (3, "up", rate, 3.0),
            (4, "down", rate[::-1], 2.0),
        )
    ]
    found = rk.repeated_loops(run(*legs))
    assert found.ratios == ()
    assert [seen.check for seen in found.findings] == ["first_area"]


def test_table_plot_and_travel():
    found = rk.repeated_loops(measured_run(*repeated_protocol(3)))
    for part in ("over the first", "ramp 2.500 to 100.0 1/s in 58.50 s", "300 s", "interval by Fieller"):
        assert part in str(found)
    assert found.table()._repr_html_() == found._repr_html_()
    figure, axes = plt.subplots()
    assert found.plot(axes) is axes
    assert len(axes.collections) == 3
    words = [text.get_text() for text in axes.texts]
    assert words[:3] == ["1", "2", "3"]
    assert "loop 3:" in words[3]
    plt.close(figure)
    back = pickle.loads(pickle.dumps(found))
    assert [ratio.value for ratio in back.ratios] == [ratio.value for ratio in found.ratios]
