"""A rise in proportion to the time is drying; one that slows down as a logarithm or faster is not."""

import numpy as np
import pytest
from screening.made_runs import found, step
from screening.made_runs import run as made

from rheokit.screening import screen

TIME = np.arange(1.0, 91.0)


def held(course, kind="hold"):
    return made(step(1, kind, 100.0, 300.0 * course, step_time=TIME))


@pytest.mark.parametrize(("rise", "count"), [(0.0505, 0), (0.0520, 1)])
def test_a_straight_rise(rise, count):
    # Relative to the level in the middle of the step, 1 + 0.4556 · rise by its points there: 0.0505 is 0.0494 and 0.0520 is 0.0508.
    assert len(found(screen(held(1.0 + rise * TIME / 90.0)), "drying")) == count


@pytest.mark.parametrize("kind", ["hold", "shear", "recovery"])
def test_the_words(kind):
    (finding,) = found(screen(held(1.0 + 0.2 * TIME / 90.0, kind)), "drying")
    assert finding.severity == "caution"
    assert str(finding).startswith(f"step 1 ({kind}): at a held rate the stress rises by 18.3% in 89.0 s and does not slow down")


@pytest.mark.parametrize(
    "course",
    [
        1.0 + 0.3 * np.log(TIME),
        1.0 + 2.0 * (1.0 - np.exp(-TIME / 20.0)),  # structure that rebuilds
        1.0 + 2.0 * np.exp(-TIME / 20.0),  # structure that breaks
        np.ones(90),
    ],
    ids=["logarithm", "rebuilds", "breaks", "level"],
)
def test_what_slows_down_is_no_drying(course):
    assert screen(held(course)) == ()


def test_the_time_of_the_run_serves_where_that_of_the_step_is_absent():
    late = made(step(1, "hold", 100.0, 300.0 * (1.0 + 0.3 * np.log(TIME)), time=TIME + 600.0))
    assert screen(late) == ()
