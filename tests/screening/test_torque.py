"""Torque near the instrument's least: exact ratios on either side of each rung."""

import numpy as np
import pytest
from screening.made_runs import CONE, found, step, with_preamble

from rheokit.screening import Known, screen

LEAST = {"Minimum torque": "0.1 µN·m"}
RATES = np.geomspace(1.0, 100.0, 20)


def swept(ratios):
    """Return a run whose points have so many times the least torque of 1e-7 N·m."""
    return with_preamble(LEAST, step(1, "down", RATES, np.full(20, 50.0), torque=1e-7 * np.asarray(ratios)))


@pytest.mark.parametrize(("lowest", "severities"), [(10.01, []), (9.99, ["caution"]), (2.9, ["caution"])])
def test_the_lowest_point_is_held_against_ten_times_the_least(lowest, severities):
    assert [one.severity for one in found(screen(swept([lowest, *[100.0] * 19])), "torque_floor")] == severities


@pytest.mark.parametrize(("fifth", "severity"), [(3.01, "caution"), (2.99, "invalid")])
def test_a_fifth_of_the_points_below_three_times_is_invalid(fifth, severity):
    # Five of twenty: the place at one fifth of the sorted ratios holds the largest of them.
    (finding,) = found(screen(swept([fifth] * 5 + [100.0] * 15)), "torque_floor")
    assert finding.severity == severity
    assert finding.rows == (10, 19)
    assert finding.limit == pytest.approx(3.0 if severity == "invalid" else 10.0)


def test_the_words():
    (one,) = found(screen(swept([4.0, *[100.0] * 19])), "torque_floor")
    assert str(one) == (
        "step 1 (down): at 1.00 1/s the torque is 4.00 times the least of the instrument, 0.000000100 N·m; leave out points below 3 times, "
        "or use a larger measuring body"
    ).replace("0.000000100", "1.00e-07")
    (many,) = found(screen(swept([2.0] * 20)), "torque_floor")
    assert str(many).startswith("step 1 (down): a fifth of the points or more have a torque of at most 2.00 times the least")


def test_without_a_torque_column_the_geometry_gives_it():
    # 3/(2 π R³) at 12.5 mm: 1 Pa is 4.0906e-6 N·m, by hand 2 π (0.0125)³/3.
    per_pascal = 2.0 * np.pi * 0.0125**3 / 3.0
    for ratio, count in ((9.99, 1), (10.01, 0)):
        stresses = np.full(20, ratio * 1e-7 / per_pascal)
        assert len(found(screen(with_preamble({**CONE, **LEAST}, step(1, "down", RATES, stresses))), "torque_floor")) == count


def test_what_is_given_beside_the_run_counts_before_its_preamble():
    run = swept([20.0] * 20)
    assert found(screen(run), "torque_floor") == []
    (finding,) = found(screen(run, known=Known(least_torque=1e-6)), "torque_floor")
    assert (finding.severity, finding.value) == ("invalid", pytest.approx(2.0))
