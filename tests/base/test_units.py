"""Units: defined factors against their definitions, every usual spelling, and nothing guessed.

Definitions: BIPM, The International System of Units (SI Brochure), 9th ed. 2019; 3rd CGPM 1901 (standard gravity 9.80665 m/s²);
the international yard and pound agreement of 1959 (inch 25.4 mm, pound 0.45359237 kg); NIST Special Publication 811 (2008), App. B.
"""

from __future__ import annotations

import math
import unicodedata
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rheokit.base.errors import UnitError
from rheokit.base.units import DIMENSIONLESS, OTHER_SPELLINGS, PREFIXES, Dimension, parse_unit

SYMBOLS = sorted(prefix + symbol for symbol, prefixes in PREFIXES.items() for prefix in ("", *prefixes))


@pytest.mark.parametrize(
    ("text", "factor", "why"),
    [
        ("P", "0.1", "1 P = 0.1 Pa·s, SI Brochure 8th ed. table 9; NIST SP 811 App. B"),
        ("cP", "0.001", "1 cP = 1 mPa·s"),
        ("dyn", "1e-5", "1 dyn = 1e-5 N, NIST SP 811 App. B"),
        ("dyn/cm²", "0.1", "1e-5 N over 1e-4 m²"),
        ("bar", "1e5", "SI Brochure 9th ed., as 0.1 MPa"),
        ("kgf", "9.80665", "the pound-force's sister: 1 kg in standard gravity, CGPM 1901"),
        ("gf·cm", "9.80665e-5", "1e-3 kg · 9.80665 m/s² · 1e-2 m"),
        ("kgf/cm²", "98066.5", "9.80665 N over 1e-4 m²"),
        ("min", "60", "SI Brochure 9th ed., table 8"),
        ("h", "3600", "SI Brochure 9th ed., table 8"),
        ("d", "86400", "SI Brochure 9th ed., table 8"),
        ("year", "31557600", "Julian year of 365.25 d, IAU"),
        ("L", "1e-3", "SI Brochure 9th ed., table 8: 1 dm³"),
        ("in", "0.0254", "1959 agreement"),
        ("%", "0.01", "SI Brochure 9th ed., 5.4.7"),
        ("g", "1e-3", "the kilogram is the base unit"),
        ("mg/100 m", "1e-8", "1e-6 kg over 100 m"),
        ("g/cm³", "1000", "1e-3 kg over 1e-6 m³"),
        ("kJ/mol", "1000", "prefix"),
        ("dPa·s", "0.1", "prefix deci, not a day"),
        ("1/min", "1/60", "SI Brochure 9th ed., table 8"),
    ],
)
def test_a_defined_factor_is_exact(text, factor, why):
    assert parse_unit(text).factor == Fraction(factor), why


def test_the_pound_force_per_square_inch_follows_from_its_definition():
    # 0.45359237 kg · 9.80665 m/s² / (0.0254 m)², a fraction.
    assert parse_unit("psi").factor == Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2
    # NIST SP 811 App. B prints 6.894 757 E+03; its seven digits bound the difference.
    assert parse_unit("psi").to_si(1.0) == pytest.approx(6894.757, abs=0.0005)


def test_a_gas_pressure_in_three_units():
    pressure = parse_unit("kgf/cm²").to_si(2.5)
    assert parse_unit("kPa").from_si(pressure) == 245.16625  # 2.5 · 98.0665, exact in decimals and in this float
    assert parse_unit("psi").from_si(pressure) == pytest.approx(35.56, abs=0.005)  # four digits printed


@pytest.mark.parametrize(
    ("text", "number", "kelvin"),
    [("°C", 0.0, 273.15), ("°F", 212.0, 373.15), ("°F", 32.0, 273.15), ("°F", -40.0, 233.15), ("°C", -40.0, 233.15), ("K", 4.0, 4.0)],
)
def test_temperatures_meet_at_the_known_points(text, number, kelvin):
    # The Celsius scale is defined by 273.15 K (SI Brochure 2.3.1); a few roundings at 300 K are 1e-13.
    assert parse_unit(text).to_si(number) == pytest.approx(kelvin, abs=2e-13)
    assert parse_unit(text).from_si(kelvin) == pytest.approx(number, abs=3e-13)


def test_a_temperature_difference_has_no_offset():
    assert parse_unit("°C").scale_to_si(0.2) == 0.2
    assert parse_unit("°F").scale_to_si(9.0) == pytest.approx(5.0, rel=1e-15)
    assert parse_unit("°C/min").to_si(6.0) == pytest.approx(0.1, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "radians"),
    [("rpm", 2 * math.pi / 60), ("rev/min", 2 * math.pi / 60), ("U/min", 2 * math.pi / 60), ("°", math.pi / 180), ("°/s", math.pi / 180)],
)
def test_turns_and_degrees_are_radians(text, radians):
    assert parse_unit(text).to_si(1.0) == pytest.approx(radians, rel=4e-16)
    assert parse_unit(text).dimension.angle == 1


@pytest.mark.parametrize(
    ("one", "spellings"),
    [
        ("µPa", ["\u00b5Pa", "\u03bcPa", "uPa"]),
        ("1/s", ["s^-1", "s⁻¹", "s-1", "s**-1", "s^(-1)", "s\u22121", "/s", "1 / s", "1/sec", "1/(s)"]),
        ("Pa·s", ["Pa.s", "Pa*s", "Pa s", "Pa⋅s", "Pa×s", "Pas", "Pa∙s", "Pa•s", " Pa·s ", "Pa·sec"]),
        ("mPa·s", ["mPas", "mPa.s", "mPa s", "cP", "cps", "centipoise"]),
        ("Pa", ["N/m²", "N/m^2", "N/m2", "N/m**2", "N·m^-2", "N m⁻²", "kg/(m·s²)", "J/m³"]),
        ("dyn/cm²", ["dyn/cm^2", "dyn/cm2", "dyne/cm²", "dyn cm⁻²"]),
        ("N·m", ["Nm", "N.m", "N m", "J"]),
        ("mN·m", ["mN.m", "mNm", "mN m"]),
        ("µN·m", ["uNm", "μN·m", "µNm", "uN.m"]),
        ("gf·cm", ["gfcm", "gf.cm", "gf cm"]),
        ("°C", ["degC", "deg C", "° C", "℃", "C", "celsius", "deg. C"]),
        ("°F", ["degF", "℉", "F", "deg F"]),
        ("rpm", ["RPM", "rev/min", "r/min", "U/min", "rev·min⁻¹"]),
        ("min", ["mins", "minute", "minutes"]),
        ("psi", ["lbf/in²", "lbf/in^2", "lbf/in2", "lbf in⁻²"]),
        ("cm³", ["cc", "mL", "ml", "cm^3", "cm3"]),
        ("1", ["-", "–", "dimensionless", "m/m", "1/1"]),
        ("%", ["percent", "pct"]),
        ("J/(mol·K)", ["J/mol/K", "J/mol·K", "J mol⁻¹ K⁻¹"]),
    ],
)
def test_every_usual_spelling_names_the_same_unit(one, spellings):
    wanted = parse_unit(one)
    for spelling in spellings:
        found = parse_unit(spelling)
        # Superscripts of `dyn/cm^2` fold; the number and the dimension are what counts.
        assert (found.dimension, found.factor, found.pi_power, found.offset) == (
            wanted.dimension,
            wanted.factor,
            wanted.pi_power,
            wanted.offset,
        ), spelling


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("pa", r"unknown unit 'pa' \(the part 'pa' is not known\); did you mean Pa\?"),
        ("PA", r"did you mean Pa\?"),
        ("Mpa", r"did you mean MPa or mPa\?"),
        ("PA·s", r"unknown unit 'PA·s' \(the part 'PA' is not known\); did you mean Pa\?"),
        ("", "no unit is given; write one, for example 'Pa'"),
        ("   ", "no unit is given"),
        ("Pa/", "nothing stands after '/'"),
        ("Pa//s", "nothing stands after '/'"),
        ("/", "nothing stands after '/'"),
        ("furlong", "the part 'furlong' is not known"),
        ("Pa·s^n", r"the part 's\^n' is not known"),
        ("s^2^3", "is not known"),
        ("mmin", "the part 'mmin' is not known"),
        ("Nms", "the part 'Nms' is not known"),  # newton·metre·second or newton·millisecond
        ("gcm", "the part 'gcm' is not known"),  # gram or gram-force
        ("Pamin", "the part 'Pamin' is not known"),
        ("gr", "the part 'gr' is not known"),  # gram or grain
        ("hW", "the part 'hW' is not known"),  # no hour·watt from a prefix that is not taken
        ("Pa\x1b[31m", r"unknown unit 'Pa\\x1b\[31m'|unknown unit 'Pa\\\\x1b\[31m'"),
    ],
)
def test_what_is_not_a_unit_is_refused_with_a_hint(text, message):
    with pytest.raises(UnitError, match=message):
        parse_unit(text)


@pytest.mark.parametrize("text", ["°C·1", "°C/1", "1·°C", "°F·m/m"])
def test_a_product_that_is_a_temperature_with_offset_is_refused(text):
    with pytest.raises(UnitError, match="write a temperature in '°C', '°F' or 'K' alone"):
        parse_unit(text)


@pytest.mark.parametrize("text", ["°C.", "°C^1"])
def test_a_lone_celsius_keeps_its_offset_however_written(text):
    assert parse_unit(text).to_si(23.0) == 296.15


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("s" * 100_000, "unknown unit 's+…'"),
        ("mPa^999999999", "is not known"),
        ("GPa^99·Pa^-98", "its factor is beyond any use"),
        ("psi^35/kPa^35", "its factor is beyond any use"),
    ],
)
def test_text_that_would_tie_up_the_machine_is_refused_at_once(text, message):
    with pytest.raises(UnitError, match=message):
        parse_unit(text)


@pytest.mark.parametrize("symbol", SYMBOLS)
def test_a_symbol_names_itself(symbol):
    unit = parse_unit(symbol)
    assert unit.symbol == symbol
    assert unit.factor > 0


def test_no_two_spellings_disagree():
    for spelling, symbol in OTHER_SPELLINGS.items():
        # A spelling may be a symbol of its own only when it means the same.
        assert spelling not in SYMBOLS, spelling
        assert parse_unit(spelling).factor == parse_unit(symbol).factor


def test_prefixes_are_the_powers_of_ten_of_the_brochure():
    # SI Brochure 9th ed., table 7.
    powers = {"G": 9, "M": 6, "k": 3, "h": 2, "d": -1, "c": -2, "m": -3, "\u03bc": -6, "u": -6, "n": -9}
    for symbol, prefixes in PREFIXES.items():
        for prefix in prefixes:
            assert parse_unit(prefix + symbol).factor == parse_unit(symbol).factor * Fraction(10) ** powers[prefix]


def test_the_dimension_of_a_product():
    assert parse_unit("Pa·s").dimension == Dimension(mass=Fraction(1), length=Fraction(-1), time=Fraction(-1))
    assert parse_unit("%").dimension == DIMENSIONLESS
    assert parse_unit("Hz").dimension == parse_unit("1/s").dimension != parse_unit("rad/s").dimension


finite = st.floats(min_value=-1e12, max_value=1e12, allow_subnormal=False)


@given(finite, st.sampled_from([*SYMBOLS, "kgf/cm²", "mg/100 m", "1/min", "mN·m", "g/cm³", "°C/min"]))
def test_to_si_and_back_gives_the_number(number, symbol):
    unit = parse_unit(symbol)
    # Four roundings of 1.1e-16 each, of the number and of the offset beside it; near 1e-308 floats lose digits.
    assert unit.from_si(unit.to_si(number)) == pytest.approx(number, rel=1e-15, abs=1e-15 * float(unit.offset) + 1e-290)


@given(st.lists(finite, min_size=1, max_size=5), st.sampled_from(SYMBOLS))
def test_an_array_is_converted_as_its_numbers_are(numbers, symbol):
    unit = parse_unit(symbol)
    turned = unit.to_si(np.array(numbers))
    assert turned.dtype == np.float64
    assert turned.tolist() == [unit.to_si(number) for number in numbers]


def test_an_array_keeps_its_type_under_a_factor_beyond_64_bits():
    unit = parse_unit("psi^2")
    assert unit.factor.numerator > 2**63
    assert unit.to_si(np.ones(2)).dtype == np.float64


@given(st.text(max_size=12))
def test_any_text_is_a_unit_or_a_unit_error(text):
    try:
        unit = parse_unit(text)
    except UnitError as error:
        said = str(error)
    else:
        said = f"a unit of factor {unit.factor}"
        assert unit.factor > 0
    assert "unit" in said
    assert not any(unicodedata.category(character) in {"Cc", "Cf"} for character in said)


@pytest.mark.parametrize("text", ["µNµm", "µNum", "Nkm"])
def test_a_misprinted_sign_between_newton_and_metre_is_no_unit(text):
    with pytest.raises(UnitError, match=f"unknown unit '{text}'"):
        parse_unit(text)
