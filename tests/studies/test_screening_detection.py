"""The checks find their faults and leave good runs alone, within exact binomial limits; a fault that is switched off is not found."""

import pytest

from rheokit.screening import ALL_CHECKS
from studies.screening_detection import ALLOWED, blame, detection, most
from studies.screening_faults import cases

REPEATS, SEED, GOOD_RUNS = 40, 5_000_000, 600
CASES = {case.check: case for case in cases()}
RARE = 0.01
"""How often a check may speak where its fault is switched off."""


def test_every_check_has_a_case():
    assert set(CASES) == {check.name for check in ALL_CHECKS}


@pytest.mark.parametrize("name", CASES)
def test_a_large_fault_is_found_and_none_is_not(name):
    rows = detection(CASES[name], REPEATS, SEED)
    assert rows[0].size == 0.0
    assert rows[0].found <= most(REPEATS, RARE)
    # The largest size is found in nine of ten draws or more: of 40 at least 30 are, in all but one study of a thousand.
    assert rows[-1].found >= REPEATS - most(REPEATS, 0.1)


@pytest.mark.parametrize("name", CASES)
def test_the_control_without_its_fault_fails_that_test(name):
    rows = detection(CASES[name], REPEATS, SEED)
    assert rows[0].found < REPEATS - most(REPEATS, 0.1)


def test_good_runs_are_not_blamed():
    rows = blame(GOOD_RUNS, SEED)
    assert sum(row.runs for row in rows) == GOOD_RUNS
    assert sum(row.invalid for row in rows) <= most(GOOD_RUNS, ALLOWED)
    assert sum(row.caution for row in rows) <= most(GOOD_RUNS, 0.05)
