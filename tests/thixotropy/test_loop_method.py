"""How a loop was measured, and that areas of unlike methods are not compared."""

import numpy as np
import pytest
from thixotropy.loop_runs import held, run, single_loop, step

import rheokit as rk
from rheokit.thixotropy.loop_method import Held, History, LoopMethod, loop_method


def by_hand(*, hold=30.0, rest=300.0, pre_shear=(100.0, 60.0), duration=120.0, top=100.0, points=40, shift=0.0):
    """Return a run made by hand; a length of None leaves a step out."""
    steps, begin = [], 0.0
    for kind, length, rate in (("shear", pre_shear and pre_shear[1], pre_shear and pre_shear[0]), ("rest", rest, 0.0)):
        if length is not None:
            steps.append(held(len(steps) + 1, kind, begin, length, rate))
            begin += length
    rates = np.linspace(1.0, top, points)
    times = np.linspace(0.0, duration, points)
    steps.append(step(len(steps) + 1, "up", begin + times, rates, 70.0 + rates))
    begin += duration
    if hold is not None:
        steps.append(held(len(steps) + 1, "hold", begin, hold, top))
        begin += hold
    steps.append(step(len(steps) + 1, "down", begin + times, rates[::-1], 60.0 + rates[::-1] + shift))
    return run(*steps)


def test_the_method_is_read_off_the_run():
    method = loop_method(single_loop())
    assert (method.up.course, method.down.course, method.up.points) == ("linear", "linear", 60)
    assert method.history.hold == Held(rate=100.0, duration=27.0)  # the last point of the hold opens the down leg
    assert method.history.rest == Held(rate=0.0, duration=300.0)
    assert method.history.pre_shear == Held(rate=100.0, duration=60.0)
    assert str(method).startswith("ramp 1.667 to 100.0 1/s in 118.0 s; hold 100 1/s for 27.0 s; rest 300 s; pre-shear 100 1/s for 60.0 s")


def test_without_step_times_a_step_lasts_one_interval_more_than_its_points():
    history = loop_method(by_hand()).history
    assert history.hold == Held(rate=100.0, duration=pytest.approx(30.0, rel=1e-12))
    assert history.rest.duration == pytest.approx(300.0, rel=1e-12)


def test_what_was_measured_before_is_no_pre_shear():
    first = by_hand()
    begin = float(first.steps[-1].time[-1])
    again = [step(6, "up", begin + np.linspace(0.0, 120.0, 40), np.linspace(1.0, 100.0, 40), np.full(40, 80.0))]
    again.append(step(7, "down", begin + np.linspace(120.0, 240.0, 40), np.linspace(100.0, 1.0, 40), np.full(40, 70.0)))
    history = loop_method(run(*first.steps, *again), up=6, down=7).history
    assert history == History(hold=None, rest=None, pre_shear=None)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"hold": 60.0}, r"differ in the hold at the top \(100 1/s for 30.0 s and 100 1/s for 60.0 s\)$"),
        ({"hold": None}, r"the hold at the top \(100 1/s for 30.0 s and none\)$"),
        ({"rest": 60.0}, r"the rest before \(300 s and 60.0 s\)$"),
        ({"rest": None}, r"the rest before \(300 s and none\)$"),
        ({"pre_shear": (50.0, 60.0)}, r"the pre-shear \(100 1/s for 60.0 s and 50.0 1/s for 60.0 s\)$"),
        ({"pre_shear": None}, r"the pre-shear \(100 1/s for 60.0 s and none\)$"),
        ({"duration": 30.0}, r"up leg: the duration \(120.0 and 30.00 s\); down leg: the duration \(120.0 and 30.00 s\)$"),
        ({"top": 200.0, "hold": None}, r"up leg: the range of rates .*; down leg: .*; the hold at the top"),
        ({"points": 20}, r"up leg: the number of points \(40 and 20\)"),
    ],
)
def test_unlike_methods_are_refused_with_all_that_differs(change, said):
    one, other = by_hand(), by_hand(**change)
    with pytest.raises(rk.ComparisonError, match=said):
        loop_method(one).require_same(loop_method(other))
    # The areas themselves carry the method: comparing the estimates is refused as well.
    with pytest.raises(rk.ComparisonError, match="loop_area: the condition "):
        rk.loop_of_run(one).area.require_comparable(rk.loop_of_run(other).area)


def test_what_a_motor_and_a_clock_make_of_one_method_is_one_method():
    one, other = by_hand(), by_hand(hold=29.0, rest=310.0, pre_shear=(101.0, 58.0), duration=119.0, top=101.0, points=39, shift=3.0)
    loop_method(one).require_same(loop_method(other))
    rk.loop_of_run(one).area.require_comparable(rk.loop_of_run(other).area)


def test_legs_alone_do_not_pass_for_a_whole_run():
    whole = by_hand()
    alone = rk.hysteresis_loop(whole.step("up"), whole.step("down"))
    assert alone.area.value == rk.loop_of_run(whole).area.value
    alone.area.require_comparable(alone.area)
    with pytest.raises(rk.ComparisonError, match="known of one of them only: take both from whole runs"):
        rk.loop_of_run(whole).method.require_same(alone.method)
    with pytest.raises(rk.ComparisonError, match="the condition hold_time differs"):
        rk.loop_of_run(whole).area.require_comparable(alone.area)


def test_a_time_that_is_not_shown_is_no_match():
    shown, not_shown = Held(rate=0.0, duration=300.0), Held(rate=0.0, duration=None)
    assert not not_shown.matches(not_shown)
    assert not shown.matches(not_shown)
    assert str(not_shown) == "a time not shown"
    history = History(hold=None, rest=not_shown, pre_shear=None)
    assert "rest_time" not in history.conditions()
    assert history.conditions()["hold_time"].value == 0.0
    ramp = loop_method(by_hand()).up
    with pytest.raises(rk.ComparisonError, match=r"the rest before \(a time not shown and a time not shown\)"):
        LoopMethod(up=ramp, down=ramp, history=history).require_same(LoopMethod(up=ramp, down=ramp, history=history))


def test_a_loop_of_a_run_names_its_sources():
    loop = rk.loop_of_run(by_hand())
    assert [source.step for source in loop.area.sources] == ["3 up", "5 down"]
    assert loop.relative_area.sources == loop.area.sources
    with pytest.raises(rk.StepError, match="has no step 'sideways'"):
        rk.loop_of_run(by_hand(), up="sideways")
