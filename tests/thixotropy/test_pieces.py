"""Power-law pieces."""

import numpy as np
import pytest
from scipy.integrate import quad

from rheokit.thixotropy.pieces import areas, crossings, stress_at


@pytest.mark.parametrize("exponent", [-2.0, -1.0, -1.0 + 1e-9, 0.0, 0.4, 3.0])
def test_a_power_law_is_exact(exponent):
    rate = np.array([0.1, 0.3, 2.0, 50.0])
    stress = 7.0 * rate**exponent
    whole = 7.0 * (np.log(500.0) if exponent == -1.0 else (50.0 ** (exponent + 1.0) - 0.1 ** (exponent + 1.0)) / (exponent + 1.0))
    # At -1 + 1e-9 the closed form on this side loses nine of its sixteen digits; the pieces do not.
    assert areas(rate, stress).sum() == pytest.approx(whole, rel=1e-13 if abs(exponent + 1.0) > 1e-3 or exponent == -1.0 else 1e-6)
    between = np.array([0.1, 0.2, 1.0, 7.0, 50.0])
    assert stress_at(rate, stress, between) == pytest.approx(7.0 * between**exponent, rel=1e-13)


def test_straight_where_a_rate_or_stress_is_not_positive():
    rate, stress = np.array([0.0, 1.0, 2.0, 3.0]), np.array([4.0, 6.0, -2.0, -4.0])
    assert areas(rate, stress) == pytest.approx([5.0, 2.0, -3.0], rel=1e-15)
    assert stress_at(rate, stress, np.array([0.0, 0.5, 1.5, 2.5, 3.0])) == pytest.approx([4.0, 5.0, 2.0, -3.0, -4.0], rel=1e-15)


def test_area_and_stress_belong_together():
    rate, stress = np.array([0.0, 0.5, 1.0, 4.0]), np.array([1.0, 3.0, 2.0, 9.0])
    for piece, area in enumerate(areas(rate, stress)):
        ends = rate[piece], rate[piece + 1]
        assert area == pytest.approx(quad(lambda at: stress_at(rate, stress, np.array([at]))[0], *ends, epsabs=0.0)[0], rel=1e-10)


def test_crossings_lie_where_the_pieces_meet():
    rate = np.array([0.0, 1.0, 10.0, 100.0])
    one, other = np.array([2.0, 1.0, 10.0, 10.0]), np.array([1.0, 2.0, 5.0, 20.0])
    found = crossings(rate, one, other)
    assert found.size == 3
    assert found[0] == pytest.approx(0.5, rel=1e-15)  # straight lines
    assert stress_at(rate, one, found) == pytest.approx(stress_at(rate, other, found), rel=1e-14)
    assert crossings(rate, one, one).size == 0
