"""The gas against common-practice figures and the gas law."""

from __future__ import annotations

import numpy as np
import pytest

from rheokit.refill.gas import LIQUID_FULL, absolute_pressure, ambient_pressure, gas_share_taken, water_vapour_pressure

AIR = 101_325.0


def gauge(celsius, left=1.0, *, gas=1.0e-6, ink=1.48e-6, expansion=0.0, filled=245e3):
    pressure = absolute_pressure(
        celsius + 273.15, left, filled_pressure=filled + AIR, filled_temperature=293.15, gas_volume=gas, ink_volume=ink, expansion=expansion
    )
    return (pressure - AIR) / 1e3


def test_heat_and_cold_by_the_gas_law_alone():
    # Common practice, no source: 245 kPa gauge at 20 °C is 363 at 120 °C and 186 at -30 °C.
    assert gauge(120.0) == pytest.approx(363.0, abs=0.5)
    assert gauge(-30.0) == pytest.approx(186.0, abs=0.5)


@pytest.mark.parametrize(("gas", "expected", "within"), [(0.5e-6, 485.0, 1.0), (1.0e-6, 417.0, 0.5), (0.15e-6, 1400.0, 1.0)])
def test_the_expanding_ink_squeezes_the_gas(gas, expected, within):
    # Common practice, no source: 1.48 cm³ of ink with 7e-4 1/K at 120 °C.
    assert gauge(120.0, gas=gas, expansion=7e-4) == pytest.approx(expected, abs=within)


@pytest.mark.parametrize(("gas", "expected"), [(1.0e-6, 38.0), (1.5e-6, 73.0)])
def test_an_emptied_refill_keeps_so_much(gas, expected):
    assert gauge(20.0, 0.0, gas=gas) == pytest.approx(expected, abs=0.7)  # common practice, no source; two digits


def test_half_a_cubic_centimetre_is_exhausted_before_the_ink():
    left = np.linspace(1.0, 0.0, 101)
    pressures = gauge(20.0, left, gas=0.5e-6)
    assert pressures[0] > 0.0 > pressures[-1]


def test_the_pressure_for_each_length_of_column_is_least_part_way():
    # Common practice, no source: with 1.0 cm³ of gas, 0.79 of the full value at 58 % left.
    left = np.linspace(0.05, 1.0, 951)
    per_length = gauge(20.0, left) / left
    lowest = int(np.argmin(per_length))
    assert left[lowest] == pytest.approx(0.58, abs=0.01)
    assert per_length[lowest] / per_length[-1] == pytest.approx(0.79, abs=0.005)


def test_a_liquid_full_refill_has_no_finite_pressure():
    assert np.isinf(gauge(400.0, gas=0.1e-6, expansion=7e-4))
    share = gas_share_taken(393.15, filled_temperature=293.15, gas_volume=0.1e-6, ink_volume=1.48e-6, expansion=7e-4)
    assert share == pytest.approx(1.036, abs=1e-3)
    assert share > LIQUID_FULL


def test_vapour_and_altitude():
    assert water_vapour_pressure(393.15) == pytest.approx(199e3, rel=0.005)  # steam tables, three digits, from memory
    assert water_vapour_pressure(373.124) == pytest.approx(101_325.0, rel=2e-4)  # boiling point 99.974 °C of IAPWS
    assert water_vapour_pressure(700.0) == water_vapour_pressure(647.096) == pytest.approx(22.064e6, rel=1e-9)  # no liquid above it
    assert ambient_pressure(0.0) == AIR
    assert ambient_pressure(11_000.0) == pytest.approx(22_632.0, rel=1e-3)  # ISO 2533 tropopause, from memory


def test_water_in_the_ink_adds_its_vapour_and_takes_it_from_the_gas_at_filling():
    # By hand, pure water: 346.325 kPa at 20 °C hold 2.339 kPa of vapour (steam tables, from memory); the dry part grows with the
    # temperature to 461.3 kPa, and 198.7 kPa of vapour are added.
    wet = absolute_pressure(
        393.15, 1.0, filled_pressure=346_325.0, filled_temperature=293.15, gas_volume=1e-6, ink_volume=1.48e-6, expansion=0.0,
        water_activity=1.0,
    )  # fmt: skip
    assert wet / 1e3 == pytest.approx((346.325 - 2.339) * 393.15 / 293.15 + 198.7, rel=1e-4)
    as_filled = absolute_pressure(
        293.15, 1.0, filled_pressure=346_325.0, filled_temperature=293.15, gas_volume=1e-6, ink_volume=1.48e-6, expansion=0.0,
        water_activity=np.array([0.0, 0.5, 1.0]),
    )  # fmt: skip
    assert as_filled == pytest.approx([346_325.0] * 3, rel=1e-12)  # what was filled is what is there
