"""Inertia: an exact share of the torque in a ramp, exact swings after a step."""

import numpy as np
import pytest
from screening.made_runs import CONE, found, run, step, with_preamble

from rheokit.screening import screen, unseen

ANGLE, PER_PASCAL = 2.0 * np.pi / 180.0, 2.0 * np.pi * 0.0125**3 / 3.0
RATES = np.arange(1.0, 61.0)


def ramped(share):
    """Return a ramp of 1 1/s in a second at 100 Pa; turning the instrument takes so much of the torque."""
    inertia = share * 100.0 * PER_PASCAL / ANGLE
    return with_preamble({**CONE, "Moment of inertia": f"{inertia!r} kg·m²"}, step(2, "up", RATES, np.full(60, 100.0)))


@pytest.mark.parametrize(("share", "severities"), [(0.0199, []), (0.0201, ["caution"]), (0.0999, ["caution"]), (0.1001, ["invalid"])])
def test_the_share_of_the_torque(share, severities):
    given = found(screen(ramped(share)), "instrument_inertia")
    assert [one.severity for one in given] == severities
    if severities:
        assert given[0].value == pytest.approx(share, rel=1e-9)
        assert f"turning the instrument itself takes {share:.1%} of the torque; ramp more slowly" in str(given[0])


def test_without_the_inertia_it_says_so():
    (said,) = found(unseen(with_preamble(CONE, step(2, "up", RATES, np.full(60, 100.0)))), "instrument_inertia")
    assert str(said).endswith("the moment of inertia is not known: write 'Moment of inertia' into the preamble")


def rung(height, swings=6):
    stress = np.full(40, 100.0)
    stress[:swings] += 0.5 * height * np.resize([1.0, -1.0], swings)
    return run(step(1, "shear", 50.0, stress))


@pytest.mark.parametrize(("height", "count"), [(4.99, 0), (5.01, 1)])
def test_three_swings_in_a_row(height, count):
    given = found(screen(rung(height)), "ringing")
    assert len(given) == count
    if count:
        assert str(given[0]) == (
            "step 1 (shear): after the rate was set the stress swings 3 times by 5.0% or more; leave out the first points: they show the "
            "instrument"
        )


def test_an_overshoot_turns_back_once_and_does_not_ring():
    time = np.arange(40.0)
    overshoot = 100.0 * (1.0 + 3.0 * time / 5.0 * np.exp(1.0 - time / 5.0))
    assert found(screen(run(step(1, "startup", 1.0, overshoot))), "ringing") == []
    assert found(screen(rung(20.0, swings=3)), "ringing") == []
