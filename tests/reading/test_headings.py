"""Words, symbols and units of a heading."""

from __future__ import annotations

import pytest

from rheokit.base.quantities import QUANTITIES
from rheokit.reading.headings import read_heading
from rheokit.reading.words import _SYMBOLS, _WORDS, STEP, fold, meaning_of

# Written from the trade's own use of the symbols (ISO 3219-1, DIN 1342), not from the table under test.
CELLS = {
    "Time": ("time", None),
    "t [s]": ("time", "s"),
    "T [°C]": ("temperature", "°C"),
    "Temp. (degC)": ("temperature", "degC"),
    "step_time / s": ("step_time", "s"),
    "tₛ [s]": ("step_time", "s"),
    "Shear-rate [1/s]": ("shear_rate", "1/s"),
    "γ̇/s⁻¹": ("shear_rate", "s⁻¹"),
    "γ̇/(1/s)": ("shear_rate", "1/s"),
    "γ [%]": ("shear_strain", "%"),
    "τ in Pa": ("shear_stress", "Pa"),
    "Viscosity (Pa s)": ("viscosity", "Pa s"),
    "η (N·s/(m^2))": ("viscosity", "N·s/(m^2)"),
    "Speed [rpm]": ("angular_velocity", "rpm"),
    "n in 1/min": ("angular_velocity", "1/min"),
    "ω [rad/s]": ("angular_frequency", "rad/s"),
    "Ω [rad/s]": ("angular_velocity", "rad/s"),
    "M [mN.m]": ("torque", "mN.m"),
    "G' [Pa]": ("storage_modulus", "Pa"),
    "G″ [Pa]": ("loss_modulus", "Pa"),
    'G" [Pa]': ("loss_modulus", "Pa"),
    "tan(δ)": ("loss_factor", None),
    "tan δ [1]": ("loss_factor", "1"),
    "J(t) (1/Pa)": ("creep_compliance", "1/Pa"),
    "|η*| [Pa·s]": ("complex_viscosity", "Pa·s"),
    "Schubspannung [Pa]": ("shear_stress", "Pa"),
    "Schubspannung tau [Pa]": ("shear_stress", "Pa"),
    "tau, Schubspannung [Pa]": ("shear_stress", "Pa"),
    "Shear stress (tau) [Pa]": ("shear_stress", "Pa"),
    "Schergeschwindigkeit D [s^-1]": ("shear_rate", "s^-1"),
    "Shear rate gamma dot [1/s]": ("shear_rate", "1/s"),
    "D [1/s]": (None, None),
    "Schubspannung D [Pa]": (None, None),
    "Schubspannung eta [Pa]": (None, None),
    "dyn. Viskosität [mPa·s]": ("viscosity", "mPa·s"),
    "dynamische Viskosität in Pa·s": ("viscosity", "Pa·s"),
    "sigma (Pa)": ("shear_stress", "Pa"),
    "Step": (STEP, None),
    "Segment number": (STEP, None),
    "Status": (None, None),
    "stress in the department": ("shear_stress", "the department"),
    "m": (None, None),
    "": (None, None),
    "τ" * 5000: (None, None),
}


@pytest.mark.parametrize("cell", CELLS)
def test_a_heading_says_its_quantity_and_unit(cell):
    heading = read_heading(cell)
    assert (heading.quantity, heading.unit) == CELLS[cell]


def test_no_word_or_symbol_means_two_things_and_all_are_quantities():
    for table, divider in ((_WORDS, ","), (_SYMBOLS, None)):
        assert set(table) - {STEP} <= set(QUANTITIES)
        entries = [fold(word) if divider else word for words in table.values() for word in words.split(divider)]
        assert len(entries) == len(set(entries))
    assert all(meaning_of(name) == name for name in _WORDS)


def test_every_measured_quantity_is_known_by_its_own_name_and_symbol():
    for name in _SYMBOLS:
        assert meaning_of(name) == name
        assert meaning_of(QUANTITIES[name].symbol) == name


def test_a_word_for_a_missing_number_is_no_heading():
    assert read_heading("n/a").quantity is None
    assert read_heading("n/(1/min)").quantity == "angular_velocity"
