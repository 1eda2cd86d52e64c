"""The temperature laws against certified regressions, published liquids and each other."""

from __future__ import annotations

import math

import numpy as np
import pytest
from reference_data import reference

from rheokit import fit_law
from rheokit.temperature import (
    ARRHENIUS,
    EXPONENTIAL_DECAY,
    TEMPERATURE_LAWS,
    VOGEL,
    WILLIAMS_LANDEL_FERRY,
    arrhenius,
    williams_landel_ferry,
)

LIQUIDS = reference("liquids_over_temperature")
KELVIN = np.linspace(243.15, 393.15, 31)
POINTS = {
    "arrhenius": (3.8, 50e3),
    "vogel": (1e-3, 900.0, 180.0),
    "williams_landel_ferry": (3.8, 9.0, 160.0),
    "exponential_decay": (120.0, 1.0 / 60.0),
}


@pytest.mark.parametrize("law", TEMPERATURE_LAWS, ids=lambda law: law.name)
def test_derivatives_basis_and_guess(law):
    values = POINTS[law.name]
    jacobian = law.jacobian(KELVIN, *values)
    np.testing.assert_allclose(jacobian, law.complex_step_jacobian(KELVIN, *values), rtol=1e-12, atol=1e-14 * np.abs(jacobian).max())
    if law.linear:
        np.testing.assert_allclose(law.basis(KELVIN, *values[1:])[:, 0] * values[0], law.value(KELVIN, *values), rtol=1e-13)
    fit = fit_law(KELVIN, law.value(KELVIN, *values), law, weighting="relative")
    # Exact data: the fit from the law's own guess is the truth; WLF and Vogel are ill-conditioned, their parameters hold 1e-6.
    np.testing.assert_allclose(fit.values, values, rtol=1e-6)


@pytest.mark.parametrize("start", ["start_1", "start_2", None])
def test_the_certified_regression_of_a_resistance_over_temperature(start):
    # NIST StRD MGH10: y = b1 exp(b2/(x + b3)) is the Vogel law with T_0 = -b3. Six certified digits.
    held = reference("nist_nonlinear")["sets"]["MGH10"]
    begin = None if start is None else dict(zip(VOGEL.names, np.multiply(held[start], [1.0, 1.0, -1.0]), strict=True))
    fit = fit_law(held["x"], held["y"], VOGEL, start=begin)
    np.testing.assert_allclose(fit.values, np.multiply(held["certified"], [1.0, 1.0, -1.0]), rtol=1e-6)
    errors = [estimate.standard_error for estimate in fit.parameters.values()]
    np.testing.assert_allclose(errors, held["certified_sd"], rtol=1e-6)


@pytest.mark.parametrize("liquid", LIQUIDS["pen_solvents"], ids=lambda liquid: liquid["name"])
def test_pen_solvents_by_the_vogel_law(liquid):
    # log10(mPa s) = A + B/(C - T); the sign of B and the unit are as published.
    values = (1e-3 * 10.0 ** liquid["A"], -math.log(10.0) * liquid["B"], liquid["C"])
    assert 1e3 * VOGEL.value(np.array([298.15]), *values)[0] == pytest.approx(liquid["mPa_s_at_25"], rel=1e-4)  # five printed digits
    kelvin = np.linspace(280.0, 400.0, 25)
    fit = fit_law(kelvin, VOGEL.value(kelvin, *values), VOGEL, weighting="relative")
    np.testing.assert_allclose(fit.values, values, rtol=1e-6)  # six digits


def test_water_from_freezing_to_boiling_is_a_vogel_liquid_and_no_arrhenius_liquid():
    water = LIQUIDS["water_iapws"]
    kelvin, viscosity = np.array(water["celsius"]) + 273.15, np.array(water["mPa_s"])
    vogel, straight = (fit_law(kelvin, viscosity, law, weighting="relative") for law in (VOGEL, ARRHENIUS))
    # The Vogel law follows water within 1 % from 0 to 90 °C (three parameters, eight points); one activation energy misses by > 5 %.
    assert np.abs(vogel.residuals / viscosity).max() < 0.01
    assert np.abs(straight.residuals / viscosity).max() > 0.05


def test_the_old_table_of_water_gives_the_vogel_line_that_goes_with_it():
    table = LIQUIDS["water_ict"]
    kelvin, viscosity = np.array(table["celsius"]) + 273.15, np.array(table["mPa_s"])
    fit = fit_law(kelvin, viscosity, VOGEL, weighting="relative")
    assert np.abs(fit.residuals / viscosity).max() < 0.0040  # the least-squares line of logarithms leaves 0.38 %
    assert fit.parameters["vogel_temperature"].value == pytest.approx(150.464, abs=1.0)  # logarithms against relative deviations


def test_glycerol_over_forty_kelvin():
    # Cheng's formula, from memory; a Vogel line through it from 0 to 40 °C keeps within 2 % of it.
    kelvin, viscosity = np.array(LIQUIDS["glycerol"]["celsius"]) + 273.15, np.array(LIQUIDS["glycerol"]["mPa_s"])
    fit = fit_law(kelvin, viscosity, VOGEL, weighting="relative")
    assert np.abs(fit.residuals / viscosity).max() < 0.02
    assert np.interp(20.0, LIQUIDS["glycerol"]["celsius"], viscosity) == pytest.approx(1412.0, rel=0.005)  # Segur & Oberstar 1951


def test_the_universal_shift_and_its_twin_in_the_vogel_law():
    known = LIQUIDS["universal_shift"]
    law = williams_landel_ferry(known["reference"])
    above = np.array(known["above"])
    shifts = np.log10(law.value(known["reference"] + above, 1.0, known["C1"], known["C2"]))
    np.testing.assert_allclose(shifts, known["log10_shift"], atol=5e-7)  # the printed digits
    constant = math.log(10.0) * known["C1"] * known["C2"]
    assert constant == pytest.approx(known["vogel_constant"], abs=5e-5)
    twin = VOGEL.value(known["reference"] + above, 1.0, constant, known["reference"] - known["C2"])
    np.testing.assert_allclose(twin / VOGEL.value(np.array([known["reference"]]), 1.0, constant, known["reference"] - known["C2"]),
                               10.0**shifts, rtol=1e-12)  # fmt: skip


def test_one_activation_energy_over_the_pen_s_range():
    law = arrhenius(293.15)
    cold, hot = law.value(np.array([243.15, 393.15]), 1.0, 50e3)
    assert (cold, hot) == (pytest.approx(68.0, abs=0.5), pytest.approx(0.0054, abs=5e-5))  # exp(E/R (1/T - 1/T_r)), exact, as printed
    near = law.value(np.array([292.65, 293.65]), 1.0, 50e3)
    assert near[0] / near[1] - 1.0 == pytest.approx(0.07, abs=0.003)  # 7 % a kelvin


def test_a_yield_stress_falls_by_e_in_its_scale():
    values = EXPONENTIAL_DECAY.value(np.array([296.15, 356.15]), 120.0, 1.0 / 60.0)
    assert values.tolist() == pytest.approx([120.0, 120.0 / math.e], rel=1e-14)


def test_the_reference_temperature_moves_no_prediction():
    rng = np.random.default_rng(11)
    noisy = WILLIAMS_LANDEL_FERRY.value(KELVIN, *POINTS["williams_landel_ferry"]) * np.exp(0.02 * rng.standard_normal(KELVIN.size))
    one, other = (fit_law(KELVIN, noisy, arrhenius(kelvin), weighting="relative") for kelvin in (273.15, 323.15))
    np.testing.assert_allclose(one.value(KELVIN), other.value(KELVIN), rtol=1e-9)
