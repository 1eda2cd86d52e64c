"""Coverage of combined loads: a short run of the study, with its negative controls."""

import pytest

from studies.loads_coverage import limits, study, table

REPEATS = 1000
FOUND = study(REPEATS, 7)
LOW, HIGH = limits(REPEATS)


def test_the_interval_never_covers_less_than_it_says():
    assert [one for one in FOUND if one.held < LOW] == []


def test_where_the_scatter_between_loads_rules_it_covers_no_more_either():
    ruled = [one for one in FOUND if one.between == 30.0]
    assert len(ruled) == 6
    assert [one for one in ruled if one.held > HIGH] == []


def test_an_interval_divided_by_1_3_covers_too_little():
    # The four lines together: one of a thousand repeats tells 92 % from 95 % only four times in five. Two loads have one degree of freedom
    # and a long tail: a third less of the interval costs them one batch in a hundred only.
    ruled = [one for one in FOUND if one.between == 30.0 and one.loads > 2]
    assert sum(one.held for one in ruled) >= limits(4 * REPEATS)[0]
    assert sum(one.held_shrunk for one in ruled) < limits(4 * REPEATS)[0]


def test_the_scatter_inside_the_loads_alone_covers_almost_nothing():
    assert max(one.held_inside for one in FOUND if one.between == 30.0) < 0.1 * REPEATS
    assert max(one.held_inside for one in FOUND if one.between == 1.0) < 0.75 * REPEATS


def test_the_limits_are_those_of_a_binomial():
    # 950 ± 3.09 times sqrt(1000 · 0.95 · 0.05) = 6.9, by the normal approximation to a count or two.
    assert limits(1000) == (pytest.approx(950 - 21, abs=2), pytest.approx(950 + 21, abs=2))


def test_the_table_has_a_line_for_every_case():
    assert table(FOUND).count("\n") == 1 + len(FOUND)
