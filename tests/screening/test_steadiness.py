"""The drift inside a steady point, and the strain it was given: exact numbers on either side of the limits."""

import numpy as np
import pytest
from screening.made_runs import found, run, step

from rheokit.screening import screen, unseen

POINTS = 16


def steady(drift):
    """Return a step of two rates; in the last third of the second the stress changes by a line through 100 Pa.

    Sixteen points one second apart: the last third of the fifteen seconds holds six points, five seconds.
    """
    second = np.full(POINTS, 100.0)
    second[-6:] = 100.0 * (1.0 + drift * (np.arange(6) / 5.0 - 0.5))
    rates = np.r_[np.full(POINTS, 10.0), np.full(POINTS, 1.0)]
    return run(step(3, "steady", rates, np.r_[np.full(POINTS, 200.0), second]))


@pytest.mark.parametrize(
    ("drift", "severities"),
    [(0.0199, []), (0.0201, ["caution"]), (-0.0201, ["caution"]), (0.0499, ["caution"]), (0.0501, ["invalid"])],
)
def test_a_drift_in_the_last_third(drift, severities):
    assert [one.severity for one in found(screen(steady(drift)), "not_steady")] == severities


def test_the_words_and_the_number():
    (finding,) = found(screen(steady(-0.04)), "not_steady")
    assert finding.value == pytest.approx(-0.04, rel=1e-9)
    assert (
        str(finding)
        == "step 3 (steady): at 1.00 1/s the stress still changes by -4.0% in the last third of the point; wait longer at each rate"
    )


def test_points_alone_cannot_show_it():
    alone = run(step(3, "steady", np.geomspace(100.0, 0.1, 16), np.geomspace(400.0, 100.0, 16), step_time=np.arange(1.0, 17.0) * 100.0))
    assert found(screen(alone), "not_steady") == []
    (said,) = found(unseen(alone), "not_steady")
    assert str(said).endswith("the course of the stress inside a steady point was not exported: export 15 points or more for each rate")


@pytest.mark.parametrize(("wait", "count"), [(9.9, 1), (10.1, 0)])
def test_strain_units_at_the_lowest_rate(wait, count):
    rates = np.array([10.0, 1.0, 0.1])
    given = found(
        screen(run(step(3, "steady", rates, [300.0, 200.0, 150.0], step_time=np.array([10.0, 30.0, 30.0 + wait])))), "strain_reached"
    )
    assert len(given) == count
    if count:
        assert str(given[0]).startswith("step 3 (steady): the point at 0.100 1/s was given 0.990 strain units before it was recorded")
