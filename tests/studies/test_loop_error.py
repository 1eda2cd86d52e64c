"""The error of a loop area covers, and would not if it were smaller."""

import pytest

from studies.loop_error import CASES, limits, study, table

REPEATS = 1500
FOUND = study(REPEATS, seed=11)


@pytest.mark.parametrize("found", FOUND, ids=[case.name for case in CASES])
def test_intervals_cover_and_the_negative_control_does_not(found):
    # 99.9 % binomial limits; errors divided by 1.3 cover about 87 % and must fall below them.
    low, high = limits(REPEATS)
    assert found.control < low
    if found.case.covers:
        assert low <= found.inside <= high
    else:
        assert found.inside < low


def test_the_limits_are_those_of_the_binomial_distribution():
    # Mean 1425, standard deviation 8.44; 3.29 of them on either side, and the lower tail is the longer one.
    low, high = limits(REPEATS)
    assert low == pytest.approx(1425 - 3.29 * 8.44, abs=2.0)
    assert high == pytest.approx(1425 + 3.29 * 8.44, abs=2.0)


def test_the_table_shows_every_case(capsys):
    shown = table(FOUND)
    assert all(case.name in shown for case in CASES)
    with capsys.disabled():
        print("\n" + shown)
