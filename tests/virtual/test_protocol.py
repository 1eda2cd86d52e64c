from math import log

import numpy as np
import pytest

from rheokit.virtual import Segment, constant, evenly, loop_protocol, ramp, recovery_protocol, startup_protocol, steady_protocol, stepped


def test_the_legs_of_the_loop_reach_the_top_rate_exactly() -> None:
    up, down = (segment for segment in loop_protocol().segments if segment.step in (3, 5))
    up_rates = [up.rate_at(time) for time in up.recorded]
    down_rates = [down.rate_at(time) for time in down.recorded]
    assert len(up_rates) == len(down_rates) == 60
    assert up_rates[-1] == down_rates[0] == 100.0
    # Even in time on a linear ramp is even in rate, from 100/60 1/s on: never zero.
    assert up_rates == pytest.approx(list(np.arange(1, 61) * 100.0 / 60.0), rel=1e-12)
    assert down_rates[::-1] == pytest.approx(up_rates, rel=1e-12)


def test_the_loop_is_conditioned_rested_and_checked_again() -> None:
    segments = loop_protocol().segments
    assert [(segment.step, segment.duration, segment.is_rest) for segment in segments] == [
        (1, 60.0, False),
        (2, 300.0, True),
        (3, 120.0, False),
        (4, 30.0, False),
        (5, 120.0, False),
        (6, 60.0, False),
    ]
    assert segments[0].start_rate == segments[5].start_rate == 100.0


def test_steady_steps_fall_evenly_on_a_logarithmic_axis() -> None:
    steps = [segment for segment in steady_protocol().segments if segment.step == 3]
    rates = np.array([segment.start_rate for segment in steps])
    assert rates == pytest.approx(10.0 ** np.arange(2.0, -1.1, -0.2), rel=1e-12)
    assert all(segment.recorded == (segment.duration,) for segment in steps)
    assert min(segment.duration for segment in steps) == 15.0
    assert max(segment.duration for segment in steps) == 30.0


def test_a_logarithmic_ramp_gains_the_same_factor_in_the_same_time() -> None:
    segment = ramp(1, (0.1, 1000.0), 40.0, evenly(40.0, 4), course="logarithmic")
    assert [segment.rate_at(time) for time in segment.recorded] == pytest.approx([1.0, 10.0, 100.0, 1000.0], rel=1e-12)
    # d rate / dt = rate * ln(10^4) / 40 s
    assert segment.rate_change_at(20.0) == pytest.approx(10.0 * log(1e4) / 40.0, rel=1e-12)


def test_the_recovery_test_returns_to_the_rate_it_came_from() -> None:
    assert [(s.step, s.start_rate, s.duration) for s in recovery_protocol().segments] == [
        (1, 0.5, 120.0),
        (2, 100.0, 60.0),
        (3, 0.5, 300.0),
    ]


def test_the_start_up_follows_a_rest() -> None:
    assert [segment.is_rest for segment in startup_protocol().segments] == [False, True, False]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"duration": 0.0}, "duration is 0.0 s"),
        ({"start_rate": -1.0, "end_rate": -1.0}, "must be zero or more"),
        ({"end_rate": 2.0}, "two different rates"),
        ({"course": "logarithmic", "start_rate": 0.0}, "cannot start or end at a rate of zero"),
        ({"recorded": (2.0, 1.0)}, "do not rise"),
        ({"recorded": (11.0,)}, "outside the segment"),
    ],
)
def test_an_impossible_segment_is_refused(arguments: dict[str, object], message: str) -> None:
    good = {"step": 1, "duration": 10.0, "start_rate": 1.0, "end_rate": 1.0, "course": "constant", "recorded": ()}
    with pytest.raises(ValueError, match=message):
        Segment(**(good | arguments))


def test_stepped_rates_need_a_dwell_each() -> None:
    with pytest.raises(ValueError, match="shorter"):
        stepped(1, (1.0, 2.0), (10.0,))
    assert stepped(1, (1.0,), (10.0,)) == (constant(1, 1.0, 10.0, (10.0,)),)
