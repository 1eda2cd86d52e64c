"""Coverage of fitted parameters: short runs of the study, with the negative control."""

import numpy as np
import pytest

import rheokit as rk
from studies.fit_coverage import BENCH, CASES, NOISE, study, table, table_apart

REPEATS = 2000
BOUNDED = "Cross, plateau at high rates out of sight"
EASY = tuple(case for case in CASES if case.name != BOUNDED)
FOUND = study(REPEATS, 5, EASY)
# Where a plateau is often zero many curves are fitted by themselves, which takes its time.
AT_BOUNDS = study(300, 6, tuple(case for case in CASES if case.name == BOUNDED), (0.05,))


def test_the_intervals_of_determined_parameters_cover_as_they_say():
    rows = [one for one in FOUND if one.by_truth]
    assert len(rows) == 3 * (3 + 3 + 2 + 2 + 4) - 1
    assert [one for one in rows if not one.limits[0] <= one.held <= one.limits[1]] == []
    assert [one for one in rows if one.determined < 0.99 * REPEATS] == []


def test_intervals_divided_by_1_3_do_not():
    # They cover 87 % and are to fall below 93.3 %: eight standard deviations of a count of 2000.
    assert [one for one in FOUND if one.by_truth and one.control >= one.limits[0]] == []


def test_beside_a_parameter_at_its_bound_they_cover_at_least():
    rows = [one for one in AT_BOUNDS if one.by_truth]
    assert [one.parameter for one in rows] == ["zero_shear_viscosity", "time_constant", "rate_index"]
    assert [one for one in rows if one.held < one.limits[0]] == []


def test_standard_errors_alone_do_not_where_another_parameter_is_often_at_its_bound():
    rows = [one for one in FOUND if one.by_truth and one.case.endswith("hardly reached") and one.noise == NOISE[-1]]
    assert [one.parameter for one in rows] == ["consistency", "flow_index"]
    assert all(one.plain < one.limits[0] for one in rows)


def test_what_the_truth_does_not_determine_is_counted_apart():
    apart = [(one.case, one.parameter, one.noise) for one in (*FOUND, *AT_BOUNDS) if not one.by_truth]
    hardly = (CASES[1].name, "yield_stress", 0.05)
    assert apart == [hardly, (BOUNDED, "infinite_shear_viscosity", 0.05)]
    assert table_apart(AT_BOUNDS).count("\n") == 2


def test_a_plateau_out_of_sight_is_hardly_ever_called_determined():
    # Two standard errors to one side: 2.3 % of normal estimates; of 300, at most 16 in all but one case of a thousand (binomial).
    (plateau,) = (one for one in AT_BOUNDS if not one.by_truth)
    assert plateau.determined <= 16


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_truth_is_what_the_library_calls_by_that_name(case):
    # Formulas written out twice: a few roundings.
    assert case.stress(case.rates, *case.truth.values()) == pytest.approx(rk.MODELS[case.model].value(case.rates, **case.truth), rel=1e-13)


def test_what_the_truth_determines_is_told_by_the_expected_error():
    # A power law is a line in logarithms: the error of its slope is the noise over the root of the spread of ln rate.
    law = next(case for case in CASES if case.model == "power_law")
    spread = np.sqrt(((np.log(BENCH) - np.log(BENCH).mean()) ** 2).sum())
    limit = 0.5 * 0.38 * spread
    assert law.determined(0.99 * limit)["flow_index"]
    assert not law.determined(1.01 * limit)["flow_index"]


def test_the_table_has_a_line_for_every_parameter_that_is_determined():
    assert table(FOUND).count("\n") == 1 + sum(one.by_truth for one in FOUND)
