"""How a rate was swept, and in what two sweeps differ."""

from dataclasses import replace

import numpy as np
import pytest

from rheokit.thixotropy.ramp import Ramp, ramp_of

RAMP = Ramp(lowest_rate=1.0, highest_rate=100.0, duration=120.0, points=60, course="linear")
TIME = np.linspace(2.0, 120.0, 60)


@pytest.mark.parametrize("falls", [False, True], ids=["up", "down"])
@pytest.mark.parametrize(
    ("rate", "course"),
    [
        (np.linspace(0.0, 100.0, 60), "linear"),
        (np.linspace(1.0, 100.0, 60), "linear"),
        (np.geomspace(0.1, 100.0, 60), "logarithmic"),
        (np.geomspace(1.0, 10.0, 60), "logarithmic"),
        (np.linspace(1.0, 100.0, 60) ** 3, "other"),
        (np.linspace(0.0, 10.0, 60) ** 3, "other"),
    ],
)
def test_the_course_is_seen_from_time_and_rate(rate, course, falls):
    noisy = rate * (1.0 + 0.01 * np.random.default_rng(0).standard_normal(60))
    ramp = ramp_of(TIME, noisy[::-1] if falls else noisy)
    assert ramp.course == course
    assert (ramp.points, ramp.duration) == (60, 118.0)
    assert (ramp.lowest_rate, ramp.highest_rate) == (noisy.min(), noisy.max())


def test_points_spaced_logarithmically_on_a_linear_ramp_do_not_make_it_logarithmic():
    rate = np.geomspace(0.1, 100.0, 60)
    assert ramp_of(rate / 5.0, rate).course == "linear"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({}, ""),
        ({"lowest_rate": 2.9, "highest_rate": 101.9, "duration": 118.0, "points": 55}, ""),
        ({"highest_rate": 103.0}, "the range of rates (1.000 to 100.0 1/s and 1.000 to 103.0 1/s)"),
        ({"lowest_rate": 4.0}, "the range of rates (1.000 to 100.0 1/s and 4.000 to 100.0 1/s)"),
        ({"duration": 30.0}, "the duration (120.0 and 30.00 s)"),
        ({"course": "logarithmic"}, "the course (linear and logarithmic)"),
        ({"points": 30}, "the number of points (60 and 30)"),
    ],
)
def test_what_differs_is_named(change, said):
    other = replace(RAMP, **change)
    assert RAMP.differences(other) == ((said,) if said else ())
    assert len(other.differences(RAMP)) == len(RAMP.differences(other))


def test_courses_that_are_neither_are_not_shown_to_be_alike():
    odd = replace(RAMP, course="other")
    assert odd.differences(odd) == ("the course (neither linear nor logarithmic and neither linear nor logarithmic)",)
    assert str(odd) == "1.000 to 100.0 1/s in 120.0 s, neither linear nor logarithmic"
    assert str(RAMP) == "1.000 to 100.0 1/s in 120.0 s"


def test_everything_that_differs_is_named():
    found = RAMP.differences(Ramp(lowest_rate=0.1, highest_rate=500.0, duration=60.0, points=30, course="logarithmic"))
    assert [one.split(" (")[0] for one in found] == ["the range of rates", "the duration", "the course", "the number of points"]
