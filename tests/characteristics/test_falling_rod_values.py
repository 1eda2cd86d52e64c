"""The falling rod's four numbers, against the power law and an independent regression."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from rheokit.base.curve import FlowCurve
from rheokit.base.errors import FitError
from rheokit.characteristics.falling_rod_values import falling_rod_values
from rheokit.geometry import FallingRod

ROD = FallingRod(rod_radius=0.006, ring_radius=0.00605, ring_length=0.03, fall=0.1)


@pytest.mark.parametrize("index", [1.0, 0.7, 0.4])
def test_a_power_law_gives_its_identities(index):
    rates = np.geomspace(100.0, 4000.0, 6)
    values = falling_rod_values(FlowCurve(rates, 30.0 * rates**index))
    assert values["viscosity_at_rate"].value == pytest.approx(30.0 * 2500.0 ** (index - 1.0), rel=1e-12)
    assert values["stress_at_rate"].value == pytest.approx(30.0 * 2.5**index, rel=1e-12)
    assert values["flow_index"].value == pytest.approx(index, rel=1e-12)
    # Exact: stress(2.5)/stress(2500) = 10^(-3 n), and stress(2500) = 2500 · viscosity(2500).
    assert values["stress_over_viscosity"].value / 2500.0 == pytest.approx(10.0 ** (-3.0 * index), rel=1e-12)


def test_the_errors_are_those_of_the_regression_line():
    rng = np.random.default_rng(20261125)
    rates = np.geomspace(200.0, 3000.0, 8)
    stresses = 30.0 * rates**0.6 * np.exp(0.02 * rng.standard_normal(8))
    values = falling_rod_values(FlowCurve(rates, stresses))
    line = stats.linregress(np.log(rates), np.log(stresses))
    assert values["flow_index"].standard_error == pytest.approx(line.stderr, rel=1e-10)
    at = np.log(2.5)
    spread = np.sqrt(line.intercept_stderr**2 + (at * line.stderr) ** 2 + 2 * at * -np.log(rates).mean() * line.stderr**2)
    assert values["stress_at_rate"].relative_standard_error == pytest.approx(spread, rel=1e-9)
    assert values["stress_at_rate"].degrees_of_freedom == 6
    assert "2.500 1/s lies 1.9 decades outside the falls" in values["stress_at_rate"].method
    assert "extrapolation" not in values["viscosity_at_rate"].method


def test_the_falls_of_a_rod_are_read_from_weights_and_times():
    # A Newtonian oil of 12 Pa·s: time = fall · 2 π R L viscosity/(m g film).
    mass = np.array([0.2, 0.5, 1.0])
    time = ROD.fall * 2.0 * np.pi * ROD.rod_radius * ROD.ring_length * 12.0 / (mass * 9.80665 * ROD.film)
    values = falling_rod_values(ROD.flow(mass, time))
    assert values["viscosity_at_rate"].value == pytest.approx(12.0, rel=1e-9)
    assert values["viscosity_at_rate"].standard_error is None or values["viscosity_at_rate"].relative_standard_error < 1e-9


@pytest.mark.parametrize(
    ("rates", "message"),
    [([100.0, 200.0], r"^a falling rod needs at least three falls"), ([100.0] * 3, r"^all falls have one rate; use weights that differ$")],
)
def test_too_few_falls_are_refused(rates, message):
    with pytest.raises(FitError, match=message):
        falling_rod_values(FlowCurve(rates, rates))
