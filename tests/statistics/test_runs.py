"""The runs test against every order of the signs."""

from itertools import pairwise, permutations

import numpy as np
import pytest
from statsmodels.sandbox.stats.runs import runstest_1samp

from rheokit.statistics.runs import runs_probability


def runs(signs):
    return 1 + sum(one != other for one, other in pairwise(signs))


@pytest.mark.parametrize(("above", "below"), [(1, 1), (2, 3), (4, 3), (1, 5), (4, 4)])
def test_it_is_the_share_of_orders_with_so_few_runs(above, below):
    orders = sorted(set(permutations([1] * above + [-1] * below)))
    counts = [runs(order) for order in orders]
    for order in orders:
        share = sum(count <= runs(order) for count in counts) / len(orders)
        assert runs_probability(order) == pytest.approx(share, rel=1e-12)


def test_zeros_are_left_out_and_one_sign_says_nothing():
    assert runs_probability([1.0, 0.0, 1.0, -1.0, -1.0]) == runs_probability([1.0, 1.0, -1.0, -1.0]) == pytest.approx(1.0 / 3.0)
    assert runs_probability([1.0, 2.0, 3.0]) == 1.0


def test_with_many_points_it_is_the_normal_approximation():
    residuals = np.sin(np.arange(400.0) / 1.9) + np.random.default_rng(2).standard_normal(400)
    # statsmodels gives z and a two-sided probability; half of that for few runs. Without a
    # correction it is off by half a run, a twentieth of their spread here, which is a sixth of a probability so far out.
    z, both = runstest_1samp(residuals, cutoff=0.0, correction=False)
    assert z < 0.0
    assert runs_probability(residuals) == pytest.approx(0.5 * both, rel=0.2)
