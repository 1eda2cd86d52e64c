"""Quantities and amounts as people write them: the unit is always checked, the digits kept, and a missing word is asked for."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.base.errors import UnitError
from rheokit.base.quantities import QUANTITIES, STANDARD_ATMOSPHERE, parse_amount, parse_pressure, quantity, unit_of
from rheokit.base.units import parse_unit

WITH_UNIT = sorted(set(QUANTITIES) - {"consistency"})


@pytest.mark.parametrize("name", WITH_UNIT)
def test_a_quantity_is_in_si_and_shown_in_a_unit_of_the_same_dimension(name):
    listed = quantity(name)
    inside = parse_unit(listed.unit)
    assert (inside.factor, inside.pi_power, inside.offset) == (1, 0, 0)
    assert unit_of(listed.display_unit, name).dimension == inside.dimension
    assert listed.name == name
    assert name.isidentifier()
    assert name == name.lower()
    assert listed.meaning
    assert listed.symbol
    assert listed.latex


def test_the_list_cannot_be_changed():
    with pytest.raises(TypeError, match="does not support item assignment"):
        QUANTITIES["speed"] = quantity("time")


def test_an_axis_label_has_name_symbol_and_unit():
    assert quantity("shear_rate").label == "shear rate γ̇ [1/s]"
    assert quantity("temperature").label == "temperature T [°C]"
    assert quantity("flow_index").label == "flow index n"


def test_an_unknown_quantity_is_refused():
    with pytest.raises(UnitError, match=r"unknown quantity 'speed'; the names are listed in docs/nomenclature\.md"):
        quantity("speed")


# --- turns, radians and plain inverse times --------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["rpm", "1/min", "min⁻¹", "min^-1", "rev/min"])
def test_an_angular_velocity_by_the_minute_counts_turns(text):
    # One turn is 2π rad; common practice, no source: the trade writes its speeds in 1/min and means rpm.
    assert unit_of(text, "angular_velocity").to_si(1.0) == pytest.approx(2 * math.pi / 60, rel=4e-16)


def test_a_shear_rate_by_the_minute_is_a_sixtieth_a_second():
    assert unit_of("1/min", "shear_rate").to_si(60.0) == 1.0


@pytest.mark.parametrize(
    ("text", "name"),
    [("1/s", "angular_velocity"), ("s⁻¹", "angular_frequency"), ("1/min", "angular_frequency"), ("1/h", "angular_velocity")],
)
def test_an_angular_quantity_that_may_be_turns_or_radians_is_refused(text, name):
    with pytest.raises(UnitError, match=f"does not say whether {name} counts turns or radians; write 'rad/s' or 'rpm'"):
        unit_of(text, name)


@pytest.mark.parametrize(
    ("text", "name", "message"),
    [
        ("rpm", "shear_rate", "'rpm' is not a unit of shear rate; write one such as '1/s'"),
        ("rad/s", "shear_rate", "'rad/s' is not a unit of shear rate"),
        ("Hz", "angular_velocity", "'Hz' is not a unit of angular velocity; write one such as 'rad/s'"),
        ("Pa", "viscosity", "'Pa' is not a unit of viscosity; write one such as 'Pa·s'"),
        ("Pa", "torque", "write one such as 'mN·m' or 'N·m'"),
        ("%", "consistency", r"'%' is not a unit of consistency; write 'Pa·s\^n'"),
        ("Pa·s", "consistency", r"write 'Pa·s\^n'"),
        ("1", "consistency", r"write 'Pa·s\^n'"),
        ("pa", "shear_stress", r"did you mean Pa\?"),
    ],
)
def test_a_unit_of_another_quantity_is_refused(text, name, message):
    with pytest.raises(UnitError, match=message):
        unit_of(text, name)


@pytest.mark.parametrize("text", ["Pa·s^n", "Pa·sⁿ", "Pa s^n", "Pa.s^n", "Pa*s^n"])
def test_a_consistency_takes_its_own_unit_alone(text):
    assert unit_of(text, "consistency").to_si(3.0) == 3.0


# --- amounts ---------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "name", "value", "number", "tolerance"),
    [
        ("3.4 Pa·s", "viscosity", 3.4, "3.4", None),
        ("3.40 Pa·s", "viscosity", 3.4, "3.40", None),
        ("3400mPas", "viscosity", 3.4, "3400", None),
        ("23.0 °C ± 0.2", "temperature", 296.15, "23.0", 0.2),
        ("23.0°C±0.2", "temperature", 296.15, "23.0", 0.2),
        ("23.0 °C ± 0.2 K", "temperature", 296.15, "23.0", 0.2),
        ("57 mg/100 m", "laydown", 0.57e-6, "57", None),
        ("57 mg/100 m ± 15 %", "laydown", 0.57e-6, "57", 0.0855e-6),
        ("57 mg/100 m ± 0.1 mg/m", "laydown", 0.57e-6, "57", 0.1e-6),
        ("50 % ± 5 %", "structural_recovery", 0.5, "50", 0.05),
        ("0.5 ± 10 %", "structural_recovery", 0.5, "0.5", 0.05),
        ("0.5", "structural_recovery", 0.5, "0.5", None),
        ("−3.4e−1 Pa", "shear_stress", -0.34, "-0.34", None),
        ("-.5 Pa", "shear_stress", -0.5, "-0.5", None),
        ("+5. Pa ± 0", "shear_stress", 5.0, "5", 0.0),
        ("1.20e2 1/s", "shear_rate", 120.0, "120", None),
        ("-100 Pa ± 10 %", "shear_stress", -100.0, "-100", 10.0),
        ("12 Pa·s^n ± 5 %", "consistency", 12.0, "12", 0.6),
        ("1.2 g/cm³", "density", 1200.0, "1.2", None),
        ("8 µm", "fineness_of_grind", 8e-6, "8", None),
    ],
)
def test_an_amount_is_read_with_its_digits(text, name, value, number, tolerance):
    amount = parse_amount(text, name)
    # A few roundings of the conversion.
    assert amount.value == pytest.approx(value, rel=5e-16)
    assert amount.number == Decimal(number)
    assert amount.tolerance == (None if tolerance is None else pytest.approx(tolerance, rel=5e-16))
    assert amount.text == text


def test_the_decimal_digits_written_are_kept_for_rounding_rules():
    assert parse_amount("3.40 Pa·s", "viscosity").number.as_tuple().exponent == -2
    assert parse_amount("3.4 Pa·s", "viscosity").number.as_tuple().exponent == -1


def test_a_laydown_by_a_hundred_metres_in_milligrams_a_metre():
    assert parse_unit("mg/m").from_si(parse_amount("57 mg/100 m", "laydown").value) == pytest.approx(0.57, rel=5e-16)


@pytest.mark.parametrize(
    ("text", "name", "message"),
    [
        ("", "viscosity", "'' is not a number with a unit; write for example '1.5 Pa·s'"),
        ("Pa·s", "viscosity", "is not a number with a unit"),
        ("about 3 Pa·s", "viscosity", "is not a number with a unit"),
        ("x", "structural_recovery", "write for example '1.5 %'"),
        ("x", "flow_index", "write for example '0.5'"),
        ("nan Pa", "shear_stress", "is not a number with a unit"),
        ("3.4", "viscosity", "no unit is given"),
        ("3,4 Pa·s", "viscosity", "the part ',4' is not known"),
        ("1.234,5 Pa", "shear_stress", "the part ',5' is not known"),
        ("10² Pa", "shear_stress", "unknown unit '² Pa'"),
        ("3.4 Pa", "viscosity", "'Pa' is not a unit of viscosity"),
        ("3.4 Pa·s ±", "viscosity", "is not a number with a unit"),
        ("3.4 Pa·s ± 0.1 Pa", "viscosity", "'Pa' is not a unit of viscosity"),
        ("3.4 Pa·s ± −0.1", "viscosity", "its tolerance is negative"),
        ("23 °C ± 1 %", "temperature", "a tolerance in % of a temperature in °C says nothing; write it in °C"),
        ("1e999 Pa", "shear_stress", "is beyond what a number can hold"),
        ("1 Pa ± 1e999", "shear_stress", "is beyond what a number can hold"),
        ("1e99999999999999999999 Pa", "shear_stress", "does not begin with a number"),
        ("-300 °C", "temperature", "'-300 °C' is below absolute zero"),
        ("1 Pa", "speed", "unknown quantity 'speed'"),
    ],
)
def test_what_is_not_an_amount_is_refused(text, name, message):
    with pytest.raises(UnitError, match=message):
        parse_amount(text, name)


@given(
    st.decimals(min_value=-1_000_000, max_value=1_000_000, places=4),
    st.sampled_from([("viscosity", "mPa·s"), ("shear_stress", "dyn/cm²"), ("torque", "gf·cm"), ("length", "in"), ("pressure", "psi")]),
)
def test_a_written_amount_comes_back_with_all_its_digits(number, kind):
    name, unit = kind
    amount = parse_amount(f"{number} {unit}", name)
    assert amount.number == number
    assert amount.number.as_tuple().exponent == -4
    # Two roundings there and two back.
    assert amount.unit.from_si(amount.value) == pytest.approx(float(number), rel=1e-15)


# --- pressures -------------------------------------------------------------------------------------------------------------------


def test_a_gauge_pressure_gains_the_atmosphere():
    assert STANDARD_ATMOSPHERE == 101_325.0  # 10th CGPM, 1954, resolution 4
    # 2.5 · 9.80665 N / 1e-4 m² = 245 166.25 Pa, exact.
    assert parse_pressure("2.5 kgf/cm² gauge") == (245_166.25, 346_491.25)
    assert parse_pressure("245 kPa gauge", ambient=90_000.0) == (245_000.0, 335_000.0)


def test_an_absolute_pressure_loses_it():
    assert parse_pressure("3 bar absolute") == (198_675.0, 300_000.0)
    assert parse_pressure("0 Pa Absolute") == (-101_325.0, 0.0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("245 kPa", "does not say which pressure it is; write 'gauge' or 'absolute' after the unit"),
        ("", "does not say which pressure it is"),
        ("245 kPag", "does not say which pressure it is"),
        ("gauge", "is not a number with a unit"),
        ("245 gauge", "no unit is given"),
        ("245 Pa·s gauge", "'Pa·s' is not a unit of pressure; write one such as 'kPa' or 'Pa'"),
        ("-2 bar gauge", "is below zero absolute pressure"),
        ("245 kPa ± 5 gauge", "has a tolerance; give the pressure alone"),
    ],
)
def test_a_pressure_must_say_which_it_is(text, message):
    with pytest.raises(UnitError, match=message):
        parse_pressure(text)
