"""The ink's own uncertainty going through: decay, activation energy, the error of a law; and how far a temperature is followed."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from refill.inks import CASSON, HERSCHEL_BULKLEY, INK

from rheokit.base.errors import RangeError
from rheokit.refill.description import read_refill
from rheokit.refill.holding import holding_index
from rheokit.refill.ink import Scores, bounds
from rheokit.refill.writing import writing

SCORES = Scores.drawn(seed=3)


@pytest.fixture
def refill(demo_file):
    return read_refill(demo_file)


def test_scores_are_standard_normal_numbers_by_seed():
    for held in (SCORES.yield_decay, SCORES.viscous_energy, SCORES.law):
        # A net of 1024 points in one dimension: mean to about 1/1024 of a deviation, the deviation a little short in the tails.
        assert held.mean() == pytest.approx(0.0, abs=2e-3)
        assert held.std() == pytest.approx(1.0, abs=0.01)
    np.testing.assert_array_equal(SCORES.law, Scores.drawn(seed=3).law)
    assert abs(np.corrcoef(SCORES.law, SCORES.yield_decay)[0, 1]) < 0.05


def test_the_uncertainty_of_the_decay_widens_with_the_distance():
    # ln of the factor is normal with standard deviation u |T - T_r|, by construction.
    for away in (-50.0, 20.0, 100.0):
        logs = np.log(INK.yield_factor(INK.reference_temperature + away, SCORES))
        assert logs.mean() == pytest.approx(-away / 60.0, abs=1e-3 * abs(away))
        assert logs.std() == pytest.approx(0.002 * abs(away), rel=0.02)


def test_the_uncertainty_of_the_activation_energy_goes_through():
    # 50 kJ/mol from 20 to 30 °C by hand: 50e3/8.314 (1/303.15 - 1/293.15) = -0.6767; u 3 kJ/mol is 6 % of it.
    logs = np.log(INK.viscous_factor(303.15, SCORES))
    assert logs.mean() == pytest.approx(-0.6767, abs=1e-3)
    assert logs.std() == pytest.approx(0.06 * 0.6767, rel=0.02)


def test_arrhenius_by_the_published_factors():
    # Computed beside the program: 50 kJ/mol relative to 20 °C is 68 times at -30 °C and 0.0054 at 120 °C, two digits.
    assert INK.viscous_factor(243.15) == pytest.approx(68.0, abs=0.5)
    assert INK.viscous_factor(393.15) == pytest.approx(0.0054, abs=5e-5)


def test_an_exact_ink_gives_exactly_its_law():
    exact = replace(INK, yield_decay=(0.01, 0.0), viscous_energy=(50e3, 0.0))
    np.testing.assert_allclose(exact.viscosity("casson", 3e4, 293.15, SCORES), CASSON.viscosity(3e4), rtol=1e-13)
    warm = exact.viscosity("herschel_bulkley", 10.0, 303.15, SCORES)
    by_hand = 200.0 * exp(-0.1) / 10.0 + 100.0 * exp(50e3 / 8.314462618 * (1 / 303.15 - 1 / 293.15)) * 10.0 ** (0.4 - 1.0)
    np.testing.assert_allclose(warm, by_hand, rtol=1e-12)


def test_the_error_of_a_law_spreads_its_viscosity():
    known = replace(INK, law_errors={"casson": np.array([[1.0, 1e2, 1e6], [0.01, 0.01, 0.41]])})
    # Even in the logarithm of the rate: 0.01 + 0.4 · 2/4 at 1e4.
    assert known.relative_error("casson", 1e4) == pytest.approx(0.21, rel=1e-12)
    assert known.relative_error("herschel_bulkley", 1e4) == 0.0
    logs = np.log(known.viscosity("casson", 1e4, 293.15, SCORES))
    assert logs.std() == pytest.approx(0.21, rel=0.01)
    assert logs.mean() == pytest.approx(log(CASSON.viscosity(1e4)), abs=1e-3)


def test_it_reaches_the_answers(refill):
    sure, unsure = replace(INK, yield_decay=(1.0 / 60.0, 1e-9)), replace(INK, yield_decay=(1.0 / 60.0, 0.01))
    widths = []
    for ink in (sure, unsure):
        low, high = holding_index(refill, ink).index[-1].interval()
        widths.append(log(high / low))
    # At 120 °C the second adds a standard deviation of 1.0 in the logarithm to that of gaps and lengths.
    assert widths[1] > widths[0] + 0.5
    assert holding_index(refill, unsure).worst[0] == holding_index(refill, sure).worst[0] == 393.15


def test_one_activation_energy_is_not_followed_far(refill):
    with pytest.raises(RangeError, match=r"^-30 °C lies 50 K beyond the runs \(20 °C\): one activation energy is followed 10 K at most; "):
        writing(refill, INK, temperature=243.15)
    measured = replace(INK, temperature_range=(248.15, 323.15))
    found = writing(refill, measured, temperature=243.15)
    assert found.viscosity["casson"].middle > 10.0 * writing(refill, measured).viscosity["casson"].middle
    assert measured.beyond(243.15) == pytest.approx(5.0, abs=1e-9)
    with pytest.raises(RangeError, match=r"^120 °C lies 70 K beyond the runs \(-25 to 50 °C\)"):
        writing(refill, measured, temperature=393.15)


def test_the_ends_are_by_students_t():
    few = replace(INK.dynamic_yield_stress, degrees_of_freedom=1.0)
    # t(0.975, 1) = 12.706 (tables).
    assert bounds(few) == pytest.approx((200.0 - 12.706 * 5.0, 200.0 + 12.706 * 5.0), abs=0.01)
    none = replace(few, standard_error=None, degrees_of_freedom=None, components={}, reason="one load")
    assert bounds(none) == (200.0, 200.0)
    assert HERSCHEL_BULKLEY.yield_stress == 200.0
