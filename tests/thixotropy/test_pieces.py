"""Power-law pieces."""

import numpy as np
import pytest
from scipy.integrate import quad

from rheokit.thixotropy.pieces import areas, areas_between, crossings, cut_areas, stress_at


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
    found = crossings((rate, one), (rate, other), rate)
    assert found.size == 3
    assert found[0] == pytest.approx(0.5, rel=1e-15)  # straight lines
    assert stress_at(rate, one, found) == pytest.approx(stress_at(rate, other, found), rel=1e-14)
    assert crossings((rate, one), (rate, one), rate).size == 0


def test_a_power_law_and_a_straight_line_cross_where_they_meet():
    # Straight from 0 because there is no logarithm of it, a power law from 0.5: 9 - 8 g meets 4 g² at (sqrt(52) - 4)/4.
    line = np.array([0.0, 1.0]), np.array([9.0, 1.0])
    power = np.array([0.0, 0.5, 1.0]), np.array([0.0, 1.0, 4.0])
    common = np.array([0.0, 0.5, 1.0])
    (found,) = crossings(line, power, common)
    assert found == pytest.approx((52.0**0.5 - 4.0) / 4.0, rel=1e-14)


def test_parts_of_a_piece_are_of_its_kind_and_add_up():
    rate, stress = np.array([0.0, 2.0, 8.0, 9.0]), np.array([4.0, 6.0, 3.0, -1.0])
    whole = areas(rate, stress)
    cuts = np.array([0.0, 0.5, 1.0, 2.0, 3.0, 8.0, 8.5, 9.0])
    parts = cut_areas(rate, stress, cuts)
    # The part from 1 to 2 is straight as the piece from 0 to 2 is: 5 to 6 over a width of 1.
    assert parts[2] == pytest.approx(5.5, rel=1e-15)
    assert [parts[:3].sum(), parts[3:5].sum(), parts[5:].sum()] == pytest.approx(whole, rel=1e-14)
    assert areas_between(rate, stress, 1.0, 3.0) == pytest.approx([parts[2], parts[3], 0.0], rel=1e-15, abs=0.0)
    assert areas_between(rate, stress, 0.0, 9.0) == pytest.approx(whole, rel=1e-15)


def test_many_legs_go_the_same_way_as_one():
    generator = np.random.default_rng(6)
    rates = np.sort(generator.uniform(0.0, 10.0, (7, 12)), axis=-1)
    stresses = generator.normal(3.0, 3.0, (7, 12))
    lowest, highest = rates[:, 2:3] + 0.01, rates[:, 9:10] - 0.01
    many = areas_between(rates, stresses, lowest, highest)
    for row in range(7):
        assert many[row] == pytest.approx(areas_between(rates[row], stresses[row], lowest[row, 0], highest[row, 0]), rel=1e-14, abs=1e-14)
